"""The look of each coverage, each answer and each kind of layer: ground, hatch, sign and word.

Grounds are tints of the eight colours of Okabe and Ito ("Color Universal Design", 2008), chosen
so that the dark ink reaches WCAG AA on each. No meaning rests on colour: the hatches and the
words differ as well. Section hatches follow common drawing practice.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from portfolio.drawings.hatches import HATCHES, Hatch

BLACK, ORANGE, SKY_BLUE, GREEN = "#000000", "#e69f00", "#56b4e9", "#009e73"
YELLOW, BLUE, VERMILION, PURPLE = "#f0e442", "#0072b2", "#d55e00", "#cc79a7"
PAPER = "#ffffff"
INK = "#1a1a1a"
FAINT_INK = "#595959"


def tint(colour: str, share: float) -> str:
    """Mix a colour with white; `share` is the part of the colour, 0 to 1.

    >>> tint("#000000", 0.2)
    '#cccccc'
    """
    channels = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return "#" + "".join(f"{round(255 - (255 - value) * share):02x}" for value in channels)


@dataclass(frozen=True, slots=True)
class Mark:
    """How one value is shown.

    `label` is the full wording for legends, `short` a word for tight places, and `sign` one or
    two characters for places where no word fits.
    """

    family: str
    value: str
    label: str
    short: str
    sign: str
    ground: str
    hatch_name: str

    @property
    def css_class(self) -> str:
        """The class by which a page's own style sheet finds the shapes of this mark."""
        return f"{self.family}-{self.value}"

    @property
    def hatch(self) -> Hatch:
        """The tile that is repeated over the ground."""
        return HATCHES[self.hatch_name]


def _by_value(*marks: Mark) -> Mapping[str, Mark]:
    return {mark.value: mark for mark in marks}


def _answer(value: str, label: str, sign: str, ground: str, hatch: str) -> Mark:
    return Mark("answer", value, label, label, sign, ground, hatch)


def _kind(value: str, ground: str, hatch: str) -> Mark:
    words = value.replace("-", " ")
    return Mark("kind", value, words, words, "", ground, hatch)


COVERAGES = _by_value(
    Mark(
        "coverage", "covered", "Covered by a test", "covered", "C", tint(BLUE, 0.4), "level-lines"
    ),
    Mark(
        "coverage",
        "contradicted",
        "Contradicted by a failing test",
        "contradicted",
        "X",
        tint(PURPLE, 0.75),
        "crossed-diagonals",
    ),
    Mark(
        "coverage",
        "contradicted-by-inference",
        "Contradicted by inference",
        "inferred against",
        "Xi",
        tint(PURPLE, 0.35),
        "falling-dashes",
    ),
    Mark(
        "coverage",
        "to-assess",
        "To be assessed",
        "to assess",
        "A",
        tint(YELLOW, 0.55),
        "upright-lines",
    ),
    Mark(
        "coverage",
        "too-little-known",
        "Too little known",
        "little known",
        "?",
        tint(BLACK, 0.06),
        "question-marks",
    ),
    Mark(
        "coverage",
        "no-matching-evidence",
        "No matching evidence",
        "no evidence",
        "N",
        tint(ORANGE, 0.6),
        "rings",
    ),
)

ANSWERS = _by_value(
    _answer("same", "same", "=", tint(BLUE, 0.3), "level-lines"),
    _answer("allowed", "allowed by rule", "≈", tint(YELLOW, 0.5), "upright-lines"),
    _answer("differs", "differs", "≠", tint(PURPLE, 0.65), "crossed-diagonals"),
    _answer("unknown", "unknown", "?", tint(BLACK, 0.06), "question-marks"),
)

KINDS = _by_value(
    _kind("masonry", tint(VERMILION, 0.2), "rising-diagonals"),
    _kind("concrete", tint(BLACK, 0.12), "aggregate"),
    _kind("metal", tint(SKY_BLUE, 0.35), "paired-diagonals"),
    _kind("timber", tint(ORANGE, 0.3), "grain"),
    _kind("board", tint(BLACK, 0.04), "fine-stipple"),
    _kind("foam", tint(YELLOW, 0.45), "zigzag"),
    _kind("mineral-wool", tint(YELLOW, 0.15), "loops"),
    _kind("membrane", PAPER, "dashes"),
    _kind("cavity", PAPER, "plain"),
    _kind("render", tint(ORANGE, 0.12), "sand"),
    _kind("composite", tint(PURPLE, 0.25), "laminate"),
    _kind("glass", tint(SKY_BLUE, 0.15), "sparse-strokes"),
    _kind("other", PAPER, "crosses"),
    _kind("unknown", tint(BLACK, 0.06), "question-marks"),
)


def _found(marks: Mapping[str, Mark], value: str, what: str) -> Mark:
    try:
        return marks[value]
    except KeyError:
        known = ", ".join(marks)
        raise ValueError(f'"{value}" is no {what} that can be drawn; expected: {known}') from None


def coverage_mark(value: str) -> Mark:
    """Give the mark of a coverage, or raise ValueError naming the ones there are."""
    return _found(COVERAGES, value, "coverage")


def answer_mark(value: str) -> Mark:
    """Give the mark of an answer, or raise ValueError naming the ones there are."""
    return _found(ANSWERS, value, "answer")


def kind_mark(value: str) -> Mark:
    """Give the section mark of a kind of layer, or raise ValueError naming the ones there are."""
    return _found(KINDS, value, "kind of layer")

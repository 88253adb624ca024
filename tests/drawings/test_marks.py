"""Marks can be read by anyone: contrast, and never colour alone."""

import pytest

from portfolio.drawings import marks
from portfolio.drawings.hatches import HATCHES

EVERY_MARK = [*marks.COVERAGES.values(), *marks.ANSWERS.values(), *marks.KINDS.values()]


def _relative_luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.1 defines it, for an sRGB colour "#rrggbb"."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [
        value / 12.92 if value <= 0.03928 else ((value + 0.055) / 1.055) ** 2.4
        for value in channels
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(one: str, other: str) -> float:
    """Contrast ratio as WCAG 2.1 defines it, 1 to 21."""
    darker, lighter = sorted([_relative_luminance(one), _relative_luminance(other)])
    return (lighter + 0.05) / (darker + 0.05)


def test_black_on_white_has_the_contrast_the_standard_states() -> None:
    assert _contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("mark", EVERY_MARK, ids=lambda mark: mark.css_class)
def test_ink_on_every_ground_reaches_aa_for_text(mark: marks.Mark) -> None:
    assert _contrast(marks.INK, mark.ground) >= 4.5


@pytest.mark.parametrize("mark", EVERY_MARK, ids=lambda mark: mark.css_class)
def test_hatch_on_every_ground_reaches_the_ratio_for_graphics(mark: marks.Mark) -> None:
    assert _contrast(marks.FAINT_INK, mark.ground) >= 3


def test_faint_words_on_paper_reach_aa() -> None:
    assert _contrast(marks.FAINT_INK, marks.PAPER) >= 4.5


def test_exact_values_are_those_that_coverage_and_answers_use() -> None:
    assert set(marks.COVERAGES) == {
        "covered",
        "contradicted",
        "contradicted-by-inference",
        "to-assess",
        "too-little-known",
        "no-matching-evidence",
    }
    assert set(marks.ANSWERS) == {"same", "allowed", "differs", "unknown"}


@pytest.mark.parametrize("family", [marks.COVERAGES, marks.ANSWERS], ids=["coverage", "answer"])
@pytest.mark.parametrize("part", ["label", "short", "sign", "hatch_name", "ground"])
def test_no_two_marks_of_a_family_look_or_read_alike(
    family: dict[str, marks.Mark], part: str
) -> None:
    assert len({getattr(mark, part) for mark in family.values()}) == len(family)


def test_no_two_kinds_of_layer_have_the_same_hatch() -> None:
    assert len({mark.hatch_name for mark in marks.KINDS.values()}) == len(marks.KINDS)


def test_cavity_is_left_empty() -> None:
    hatch = marks.kind_mark("cavity").hatch
    assert (hatch.strokes, hatch.dots) == ((), ())


def test_every_hatch_is_used_by_some_mark() -> None:
    assert {mark.hatch_name for mark in EVERY_MARK} == set(HATCHES)


@pytest.mark.parametrize("find", [marks.coverage_mark, marks.answer_mark, marks.kind_mark])
def test_value_without_a_mark_is_refused_and_the_choices_are_named(find: object) -> None:
    assert callable(find)
    with pytest.raises(ValueError, match=r'"fine" is no .* expected: '):
        find("fine")

"""The list beneath or beside a wall section, a row for each tag, and the remarks on its scale."""

from collections.abc import Sequence
from dataclasses import dataclass

from portfolio.drawings.captions import MARGIN
from portfolio.drawings.legend import SWATCH_HEIGHT, SWATCH_WIDTH, add_swatch
from portfolio.drawings.marks import FAINT_INK, INK, answer_mark, kind_mark
from portfolio.drawings.section_layout import Scale, Strip
from portfolio.drawings.section_wall import TAG_HEIGHT, Tag, add_tag
from portfolio.drawings.svg import Canvas, add_text, line_height
from portfolio.drawings.text import wrap

_SIZE = 12.0
_TAG_COLUMN = 46.0
_ROW_GAP = 5.0


@dataclass(frozen=True, slots=True)
class KeyLine:
    """One line of the list: the kind to show as a swatch (or none) and the text."""

    text: str
    kind: str | None = None
    is_bold: bool = False
    is_note: bool = False


@dataclass(frozen=True, slots=True)
class KeyRow:
    """Everything listed beside one tag."""

    tag: Tag
    lines: tuple[KeyLine, ...]

    @property
    def words(self) -> str:
        """The row as a sentence for the description."""
        told = "; ".join(line.text for line in self.lines)
        return f"{self.tag.text} {told}."


def with_answer(text: str, answer: str | None) -> str:
    """Add the word for an answer to a text.

    >>> with_answer("plasterboard lining, 12.5 mm", "same")
    'plasterboard lining, 12.5 mm — same'
    """
    return text if answer is None else f"{text} — {answer_mark(answer).label}"


def add_key(canvas: Canvas, rows: Sequence[KeyRow], y: float, left: float = 0.0) -> float:
    """Draw the list from `y` down and from `left` to the drawing's right edge; give the new y."""
    for row in rows:
        add_tag(canvas, left + MARGIN + _TAG_COLUMN / 2, y, row.tag)
        bottom = y
        for line in row.lines:
            bottom = _add_line(canvas, line, bottom, left)
        y = max(bottom, y + TAG_HEIGHT) + _ROW_GAP
    return y


def _add_line(canvas: Canvas, line: KeyLine, y: float, left: float) -> float:
    x = left + MARGIN + _TAG_COLUMN + 4
    if line.kind is not None:
        add_swatch(canvas, canvas.body, x, y, kind_mark(line.kind))
        x += SWATCH_WIDTH + 6
    size = _SIZE - 1 if line.is_note else _SIZE
    wrapped = wrap(line.text, canvas.width - MARGIN - x, size, max_lines=3, bold=line.is_bold)
    add_text(
        canvas.body,
        x,
        y + size + 1,
        wrapped.lines,
        size=size,
        bold=line.is_bold,
        colour=FAINT_INK if line.is_note else INK,
        class_="drawing-note" if line.is_note else "drawing-text",
        full=line.text if wrapped.is_shortened else None,
    )
    text_height = line_height(size) * len(wrapped.lines) + 2
    return y + max(text_height, SWATCH_HEIGHT + 3 if line.kind is not None else 0.0)


def scale_remarks(strips: Sequence[Strip], scale: Scale) -> list[str]:
    """Say which layers of one wall are not drawn to scale, and how they are drawn instead."""
    remarks = []
    thin = [str(strip.tag) for strip in strips if scale.is_widened(strip.layer)]
    if thin:
        remarks.append(f"Too thin to draw, so drawn wider than to scale: {', '.join(thin)}.")
    unknown = [str(strip.tag) for strip in strips if strip.layer.thickness_mm is None]
    if unknown:
        remarks.append(
            "Thickness unknown, so drawn at a fixed width with a dashed outline: "
            f"{', '.join(unknown)}."
        )
    return remarks

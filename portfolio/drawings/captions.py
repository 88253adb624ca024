"""The words around a drawing: its heading above, and remarks below."""

from collections.abc import Sequence

from portfolio.drawings.marks import FAINT_INK
from portfolio.drawings.svg import Canvas, add_text, line_height
from portfolio.drawings.text import wrap

MARGIN = 10.0
_HEADING_SIZE, _NOTE_SIZE = 13.0, 11.0


def add_heading(canvas: Canvas, text: str, y: float, *, width: float | None = None) -> float:
    """Write a heading from `y` down, over at most three lines; give the new y.

    It takes the drawing's width, or the `width` that something beside it leaves.
    """
    room = (width or canvas.width) - 2 * MARGIN
    wrapped = wrap(text, room, _HEADING_SIZE, max_lines=3, bold=True)
    full = text if wrapped.is_shortened else None
    baseline = y + _HEADING_SIZE
    add_text(canvas.body, MARGIN, baseline, wrapped.lines, size=_HEADING_SIZE, bold=True, full=full)
    return y + line_height(_HEADING_SIZE) * len(wrapped.lines) + 6


def add_notes(canvas: Canvas, y: float, notes: Sequence[str]) -> float:
    """Write remarks from `y` down, each wrapped to the drawing's width; give the new y."""
    for note in notes:
        wrapped = wrap(note, canvas.width - 2 * MARGIN, _NOTE_SIZE, max_lines=6)
        add_text(
            canvas.body,
            MARGIN,
            y + _NOTE_SIZE,
            wrapped.lines,
            size=_NOTE_SIZE,
            colour=FAINT_INK,
            class_="drawing-note",
            full=note if wrapped.is_shortened else None,
        )
        y += line_height(_NOTE_SIZE) * len(wrapped.lines) + 3
    return y

"""The key to the marks that occur in a drawing, and the small boxes it shares with drawings."""

from collections.abc import Iterable
from xml.etree.ElementTree import Element

from portfolio.drawings.captions import MARGIN
from portfolio.drawings.marks import Mark
from portfolio.drawings.svg import Box, Canvas, add, add_box, add_text
from portfolio.drawings.text import shorten, text_width

SIZE = 11.0
SWATCH_WIDTH, SWATCH_HEIGHT = 26.0, 16.0
_ROW, _GAP, _SPACE = 22.0, 14.0, 5.0


def add_swatch(canvas: Canvas, parent: Element, x: float, y: float, mark: Mark) -> None:
    """Draw a small hatched box with its top left corner at (x, y)."""
    canvas.add_hatched(parent, Box(x, y, SWATCH_WIDTH, SWATCH_HEIGHT), mark, "swatch")


def add_plate(parent: Element, box: Box, mark: Mark) -> None:
    """Draw an unhatched ground in the mark's colour, for words to stand on."""
    add_box(parent, box, class_=f"plate {mark.css_class}", rx=2, fill=mark.ground)


def _sign_width(mark: Mark) -> float:
    return max(text_width(mark.sign, SIZE, bold=True) + 5, SIZE + 3)


def _entry_width(mark: Mark, label: str) -> float:
    return SWATCH_WIDTH + _sign_width(mark) + text_width(label, SIZE) + 2 * _SPACE


def _add_entry(canvas: Canvas, parent: Element, at: tuple[float, float], entry: Mark) -> float:
    """Draw swatch, sign and wording from a top left corner; give the width they take."""
    x, y = at
    room = canvas.width - 2 * MARGIN - _entry_width(entry, "")
    label = shorten(entry.label, room, SIZE)
    add_swatch(canvas, parent, x, y, entry)
    plate = Box(x + SWATCH_WIDTH + _SPACE, y + 1, _sign_width(entry), SWATCH_HEIGHT - 2)
    baseline = plate.middle + SIZE * 0.36
    add_plate(parent, plate, entry)
    add_text(parent, plate.centre, baseline, [entry.sign], size=SIZE, anchor="middle", bold=True)
    add_text(parent, plate.x + plate.width + _SPACE, baseline, [label], size=SIZE)
    return _entry_width(entry, label)


def add_legend(canvas: Canvas, y: float, used: Iterable[Mark]) -> float:
    """Draw the marks used, as many to a row as there is room for; give the new y."""
    entries = list(used)
    if not entries:
        return y
    group = add(canvas.body, "g", class_="legend")
    x = MARGIN
    for entry in entries:
        if x > MARGIN and x + _entry_width(entry, entry.label) > canvas.width - MARGIN:
            x, y = MARGIN, y + _ROW
        x += _add_entry(canvas, group, (x, y), entry) + _GAP
    return y + _ROW

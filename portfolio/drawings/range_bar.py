"""A bar of the places that a gap could take among all: a line, a band on it, and its place."""

from dataclasses import dataclass

from portfolio.drawings.captions import MARGIN
from portfolio.drawings.marks import FAINT_INK, INK, SKY_BLUE, tint
from portfolio.drawings.svg import Box, Canvas, add, add_outlined, add_text

_SIZE = 11.0
_LINE, _HALF, _POINT = 30.0, 7.0, 5.0
_SLIVER = 4.0
_HEIGHT = 58.0


@dataclass(frozen=True, slots=True)
class RangeBar:
    """Places count from 1 to `gaps`."""

    title: str
    place: int
    first: int
    last: int
    gaps: int


def range_bar(bar: RangeBar, *, id_prefix: str, width: float = 360) -> str:
    """Draw the bar as SVG text `width` units wide: the first place on the left."""
    canvas = Canvas(id_prefix=id_prefix, width=width)
    left, room = MARGIN, width - 2 * MARGIN
    steps = max(bar.gaps - 1, 1)

    def across(place: int) -> float:
        return left + room * (min(max(place, 1), bar.gaps or 1) - 1) / steps

    line = f"M{left:.2f} {_LINE:.2f}H{left + room:.2f}"
    add(canvas.body, "path", class_="axis", d=line, fill="none", stroke=FAINT_INK, stroke_width=1)
    start, end = across(bar.first), across(bar.last)
    wide = max(end - start, _SLIVER)
    box = Box(min(start, left + room - wide), _LINE - _HALF, wide, 2 * _HALF)
    add_outlined(canvas.body, box, tint(SKY_BLUE, 0.55), "bar")
    at = across(bar.place)
    mark = f"M{at:.2f} {_LINE - _HALF:.2f}l{-_POINT} {-2 * _POINT}h{2 * _POINT}z"
    add(canvas.body, "path", class_="place", d=mark, fill=INK)
    baseline = _LINE + _HALF + _SIZE + 4
    add_text(canvas.body, left, baseline, ["1"], size=_SIZE, colour=FAINT_INK)
    end_text = f"{bar.gaps:,}"
    right = left + room
    add_text(canvas.body, right, baseline, [end_text], size=_SIZE, anchor="end", colour=FAINT_INK)
    told = (
        f"Place {bar.place:,} of {bar.gaps:,}, which could be any from {bar.first:,} to "
        f"{bar.last:,}."
    )
    return canvas.finish(title=bar.title, desc=told, height=_HEIGHT, kind="range")

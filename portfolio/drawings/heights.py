"""Claims of a height on one scale in metres, with the thresholds across them."""

from collections.abc import Sequence
from dataclasses import dataclass

from portfolio.drawings.amounts import amount_text
from portfolio.drawings.captions import MARGIN, add_heading, add_notes
from portfolio.drawings.layout import spread
from portfolio.drawings.marks import INK, SKY_BLUE, tint
from portfolio.drawings.svg import Box, Canvas, add, add_outlined, add_text, line_height
from portfolio.drawings.text import wrap

_SIZE, _BAR_HEIGHT, _ROW_GAP = 12.0, 14.0, 10.0
_SLIVER, _LABEL_GAP, _EDGE, _OVERLAP = 3.0, 44.0, 30.0, 4.0
_ROOM_ABOVE = 1.15
_GROUND = tint(SKY_BLUE, 0.55)
_DASH = "5 3"


@dataclass(frozen=True, slots=True)
class DrawnClaim:
    """What one source says: from `low_m` to `high_m`, dashed where it is only an estimate."""

    label: str
    low_m: float
    high_m: float
    is_estimate: bool = False


@dataclass(frozen=True, slots=True)
class HeightsDrawing:
    """The claims of one building's height, and the thresholds in metres that they are asked of."""

    title: str
    claims: tuple[DrawnClaim, ...]
    thresholds_m: tuple[float, ...]


def heights_chart(drawing: HeightsDrawing, *, id_prefix: str, width: float = 360) -> str:
    """Draw the claims as bars from least to most, to scale, `width` units wide, as SVG text."""
    canvas = Canvas(id_prefix=id_prefix, width=width)
    y = add_heading(canvas, drawing.title, MARGIN)
    limits = sorted(set(drawing.thresholds_m))
    most = max([*limits, *(claim.high_m for claim in drawing.claims), 1.0]) * _ROOM_ABOVE
    left, room = MARGIN, width - 2 * MARGIN
    metre = room / most
    across = [left + metre * limit for limit in limits]
    y = _add_limit_labels(canvas, limits, across, y)
    for claim in drawing.claims:
        y = _add_claim(canvas, claim, metre, y)
        # across the bars only, so that no line runs through words
        for x in across:
            _add_line(canvas, x, (y - _BAR_HEIGHT - _OVERLAP, y + _OVERLAP))
        y += _ROW_GAP
    _add_axis(canvas, y)
    y = add_notes(canvas, y + 6, [_told_scale(most)])
    return canvas.finish(
        title=drawing.title, desc=_told(drawing, limits), height=y + MARGIN, kind="heights"
    )


def _add_limit_labels(
    canvas: Canvas, limits: Sequence[float], places: Sequence[float], y: float
) -> float:
    if not limits:
        return y
    placed = spread(places, gap=_LABEL_GAP, low=_EDGE, high=canvas.width - _EDGE)
    base = y + _SIZE
    for limit, place, x in zip(limits, placed, places, strict=True):
        text = [amount_text(limit, "m")]
        add_text(canvas.body, place, base, text, size=_SIZE, anchor="middle", bold=True)
        d = f"M{place:.2f} {base + 3:.2f}L{x:.2f} {base + 10:.2f}"
        add(canvas.body, "path", class_="leader", d=d, fill="none", stroke=INK, stroke_width=0.8)
    return base + 10


def _add_claim(canvas: Canvas, claim: DrawnClaim, metre: float, y: float) -> float:
    room = canvas.width - 2 * MARGIN
    wrapped = wrap(claim.label, room, _SIZE, max_lines=3)
    full = claim.label if wrapped.is_shortened else None
    add_text(canvas.body, MARGIN, y + _SIZE + 2, wrapped.lines, size=_SIZE, full=full)
    y += line_height(_SIZE) * max(len(wrapped.lines), 1) + 4
    low, high = max(claim.low_m, 0.0) * metre, max(claim.high_m, 0.0) * metre
    long = max(high - low, _SLIVER)
    start = MARGIN + max(min(low, room - long), 0.0)
    box = Box(start, y, min(long, room), _BAR_HEIGHT)
    add_outlined(canvas.body, box, _GROUND, "bar", is_dashed=claim.is_estimate)
    return y + _BAR_HEIGHT


def _add_line(canvas: Canvas, x: float, ends: tuple[float, float]) -> None:
    add(
        canvas.body,
        "line",
        class_="height-line",
        x1=x,
        y1=ends[0],
        x2=x,
        y2=ends[1],
        stroke=INK,
        stroke_width=1.2,
        stroke_dasharray=_DASH,
    )


def _add_axis(canvas: Canvas, y: float) -> None:
    d = f"M{MARGIN:.2f} {y:.2f}H{canvas.width - MARGIN:.2f}"
    add(canvas.body, "path", class_="axis", d=d, fill="none", stroke=INK, stroke_width=2)


def _told_scale(most: float) -> str:
    return (
        f"To scale, 0 to {amount_text(most, 'm')} above the lowest ground. Bars reach from the "
        "least to the most that a source allows; a dashed outline is an estimate from storeys."
    )


def _told(drawing: HeightsDrawing, limits: Sequence[float]) -> str:
    told = [
        f"{claim.label}: {amount_text(claim.low_m, 'm')} to {amount_text(claim.high_m, 'm')}."
        for claim in drawing.claims
    ]
    if limits:
        told.append("Thresholds: " + ", ".join(amount_text(limit, "m") for limit in limits) + ".")
    return " ".join(told) or "Nothing is claimed."

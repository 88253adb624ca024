"""Horizontal bars of counts or areas: stacked by coverage, or one plain amount to a row.

Labels stand above their bars, so that a row reads the same on a phone and on paper. The numbers
belong in a table beside the chart as well; the chart only compares.
"""

from collections.abc import Sequence

from portfolio.drawings.amounts import amount_text
from portfolio.drawings.captions import MARGIN, add_heading
from portfolio.drawings.charts import BarRow, BarSegment, PlainBar, PlainBars, StackedBars
from portfolio.drawings.layout import share_out
from portfolio.drawings.legend import add_legend, add_plate
from portfolio.drawings.marks import COVERAGES, FAINT_INK, INK, SKY_BLUE, coverage_mark, tint
from portfolio.drawings.svg import Box, Canvas, add, add_outlined, add_text, line_height
from portfolio.drawings.text import shorten, text_width, wrap

__all__ = [
    "BarRow",
    "BarSegment",
    "PlainBar",
    "PlainBars",
    "StackedBars",
    "plain_bars",
    "stacked_bars",
]

PLAIN_GROUND = tint(SKY_BLUE, 0.55)
_SIZE = 12.0
_BAR_HEIGHT, _ROW_GAP, _NUMBER_SIZE = 22.0, 10.0, 11.0
_SLIVER = 3.0
_NO_ROWS = "Nothing to show."


def stacked_bars(chart: StackedBars, *, id_prefix: str, width: float = 360) -> str:
    """Draw stacked bars as SVG text `width` units wide, all rows to one scale.

    A number that does not fit into its segment stands beside the bar with the segment's sign.
    """
    canvas = Canvas(id_prefix=id_prefix, width=width)
    longest = max((row.total for row in chart.rows), default=0.0)
    y = _add_title(canvas, chart.title, has_rows=bool(chart.rows))
    for row in chart.rows:
        y = _add_row_label(canvas, row.label, amount_text(row.total, chart.unit), row.href, y)
        y = _add_stack(canvas, row, chart.unit, longest, y) + _ROW_GAP
    occurring = {part.coverage for row in chart.rows for part in row.segments if part.amount > 0}
    used = [mark for value, mark in COVERAGES.items() if value in occurring]
    height = add_legend(canvas, y + 2, used) + MARGIN / 2
    told = " ".join(_row_words(row, chart.unit) for row in chart.rows)
    return canvas.finish(title=chart.title, desc=told or _NO_ROWS, height=height, kind="bars")


def plain_bars(chart: PlainBars, *, id_prefix: str, width: float = 360) -> str:
    """Draw bars of one series as SVG text `width` units wide, all rows to one scale."""
    canvas = Canvas(id_prefix=id_prefix, width=width)
    longest = max((row.amount for row in chart.rows), default=0.0)
    y = _add_title(canvas, chart.title, has_rows=bool(chart.rows))
    for row in chart.rows:
        shown = amount_text(row.amount, chart.unit)
        y = _add_row_label(canvas, row.label, shown, row.href, y)
        box = Box(MARGIN, y, _bar_width(row.amount, longest, width), _BAR_HEIGHT * 0.6)
        add_outlined(canvas.body, box, PLAIN_GROUND, "bar")
        y += _BAR_HEIGHT * 0.6 + _ROW_GAP
    told = " ".join(f"{row.label}: {amount_text(row.amount, chart.unit)}." for row in chart.rows)
    return canvas.finish(title=chart.title, desc=told or _NO_ROWS, height=y, kind="bars")


def _add_title(canvas: Canvas, title: str, *, has_rows: bool) -> float:
    y = add_heading(canvas, title, MARGIN) + 2
    if not has_rows:
        add_text(canvas.body, MARGIN, y + _SIZE, [_NO_ROWS], size=_SIZE, colour=FAINT_INK)
        y += line_height(_SIZE) + 6
    return y


def _add_row_label(canvas: Canvas, label: str, total: str, href: str | None, y: float) -> float:
    room = canvas.width - 2 * MARGIN
    total = shorten(total, room / 2, _SIZE, bold=True)
    wrapped = wrap(label, room - text_width(total, _SIZE, bold=True) - 12, _SIZE, max_lines=2)
    link = canvas.link(canvas.body, href, f"{label}: {total}")
    full = label if wrapped.is_shortened else None
    add_text(link, MARGIN, y + _SIZE, wrapped.lines, size=_SIZE, full=full)
    right = canvas.width - MARGIN
    add_text(canvas.body, right, y + _SIZE, [total], size=_SIZE, anchor="end", bold=True)
    return y + line_height(_SIZE) * max(len(wrapped.lines), 1) + 2


def _bar_width(amount: float, longest: float, width: float) -> float:
    """The drawn length of a bar; an amount above 0 is always seen."""
    if amount <= 0:
        return 0.0
    return max((width - 2 * MARGIN) * (amount / longest), _SLIVER)


def _add_stack(canvas: Canvas, row: BarRow, unit: str, longest: float, y: float) -> float:
    """Draw one stacked bar and the numbers that do not fit into it; give the new y."""
    parts = [segment for segment in row.segments if segment.amount > 0]
    whole = _bar_width(row.total, longest, canvas.width)
    widths = share_out([part.amount for part in parts], whole, minimum=_SLIVER)
    x = MARGIN
    _add_baseline(canvas, y)
    beside = []
    for part, part_width in zip(parts, widths, strict=True):
        if not _add_segment(canvas, part, unit, Box(x, y, part_width, _BAR_HEIGHT)):
            beside.append(f"{coverage_mark(part.coverage).sign} {amount_text(part.amount, unit)}")
        x += part_width
    return _add_beside(canvas, beside, x + 6, y)


def _add_baseline(canvas: Canvas, y: float) -> None:
    """Draw the line that bars start from, so that a row of nothing is seen as such."""
    path = f"M{MARGIN} {y - 2:.2f}V{y + _BAR_HEIGHT + 2:.2f}"
    add(canvas.body, "path", class_="baseline", d=path, fill="none", stroke=INK, stroke_width=1)


def _add_segment(canvas: Canvas, part: BarSegment, unit: str, box: Box) -> bool:
    """Draw a segment; say whether its number fitted into it."""
    mark = coverage_mark(part.coverage)
    number = amount_text(part.amount, unit)
    words = f"{mark.label}: {number}"
    link = canvas.link(canvas.body, part.href, words)
    add(canvas.add_hatched(link, box, mark, "segment"), "title", text=words)
    # The sign goes with the number wherever there is room, so that no segment rests on its hatch.
    for text in (f"{mark.sign} {number}", number):
        room = text_width(text, _NUMBER_SIZE, bold=True) + 6
        if room + 4 <= box.width:
            plate = Box(box.centre - room / 2, box.y + 3, room, box.height - 6)
            baseline = box.middle + _NUMBER_SIZE * 0.36
            add_plate(link, plate, mark)
            add_text(
                link, box.centre, baseline, [text], size=_NUMBER_SIZE, anchor="middle", bold=True
            )
            return True
    return False


def _add_beside(canvas: Canvas, texts: Sequence[str], x: float, y: float) -> float:
    """Write the numbers that did not fit after the bar, or below it where there is no room."""
    bottom = y + _BAR_HEIGHT
    if not texts:
        return bottom
    line = ", ".join(texts)
    if x + text_width(line, _NUMBER_SIZE) <= canvas.width - MARGIN:
        baseline = y + _BAR_HEIGHT / 2 + _NUMBER_SIZE * 0.36
        add_text(canvas.body, x, baseline, [line], size=_NUMBER_SIZE)
        return bottom
    wrapped = wrap(line, canvas.width - 2 * MARGIN, _NUMBER_SIZE, max_lines=6)
    full = line if wrapped.is_shortened else None
    baseline = bottom + _NUMBER_SIZE + 3
    add_text(canvas.body, MARGIN, baseline, wrapped.lines, size=_NUMBER_SIZE, full=full)
    return bottom + line_height(_NUMBER_SIZE) * len(wrapped.lines) + 4


def _row_words(row: BarRow, unit: str) -> str:
    parts = [
        f"{coverage_mark(part.coverage).label} {amount_text(part.amount, unit)}"
        for part in row.segments
        if part.amount > 0
    ]
    return f"{row.label}: {', '.join(parts) or 'nothing'}."

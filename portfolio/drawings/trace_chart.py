"""A temperature-time chart with its limits drawn in.

No meaning rests on colour: traces have dashes of their own and numbers at their ends, which a key
below the chart explains. The numbers themselves belong in a table beside the chart.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree.ElementTree import Element

from portfolio.drawings.captions import MARGIN, add_heading, add_notes
from portfolio.drawings.layout import spread
from portfolio.drawings.marks import (
    BLACK,
    BLUE,
    FAINT_INK,
    GREEN,
    INK,
    ORANGE,
    PAPER,
    PURPLE,
    SKY_BLUE,
    VERMILION,
    tint,
)
from portfolio.drawings.svg import Box, Canvas, add, add_box, add_outlined, add_text, line_height
from portfolio.drawings.text import shorten, text_width, wrap
from portfolio.drawings.trace_lines import path_text, stretches, thinned
from portfolio.drawings.traces import DrawnLimit, DrawnMoment, DrawnTrace, TraceChart

__all__ = ["DrawnLimit", "DrawnMoment", "DrawnTrace", "TraceChart", "trace_chart"]

_SIZE = 11.0
_LEFT, _RIGHT, _HEIGHT = 46.0, 36.0, 240.0
_LEADER = 12.0
_A_MINUTE = 60.0
_TIME_STEPS = (1, 2, 5, 10, 15, 30, 60, 120, 240, 480, 1440)
_DEGREE_STEPS = (20, 50, 100, 200, 250, 500)
_MOST_TICKS = 7
_COLOURS = (BLUE, VERMILION, GREEN, PURPLE, ORANGE, SKY_BLUE, BLACK)
_DASHES = (None, "7 3", "2 3", "9 3 2 3", "4 2", "12 4")
_KEY_LINE = 30.0
_MOST_KEY_LINES = 4
_LIMIT_DASH = "8 4"


@dataclass(frozen=True, slots=True)
class _Plot:
    """The rectangle that traces are drawn in, and what its edges mean."""

    box: Box
    first_s: float
    last_s: float
    lowest_c: float
    highest_c: float

    def x(self, seconds: float) -> float:
        share = (seconds - self.first_s) / (self.last_s - self.first_s)
        return self.box.x + self.box.width * min(max(share, 0.0), 1.0)

    def y(self, celsius: float) -> float:
        share = (celsius - self.lowest_c) / (self.highest_c - self.lowest_c)
        return self.box.y + self.box.height * (1 - min(max(share, 0.0), 1.0))


def trace_chart(chart: TraceChart, *, id_prefix: str, width: float = 360) -> str:
    """Draw the chart as SVG text `width` units wide.

    Every id in the SVG begins with `id_prefix`, so that several drawings can share a page.
    """
    canvas = Canvas(id_prefix=id_prefix, width=width)
    y = add_heading(canvas, chart.title, MARGIN)
    top = y + len(chart.moments) * line_height(_SIZE)
    add_text(canvas.body, MARGIN, top + _SIZE, ["°C"], size=_SIZE)
    plot = _plot(chart, Box(_LEFT, top + 20, width - _LEFT - _RIGHT, _HEIGHT))
    _add_axes(canvas, plot)
    for limit in chart.limits:
        _add_window(canvas, plot, limit)
    _add_moments(canvas, plot, chart.moments, y)
    lines = add(canvas.body, "g", class_="traces")
    for number, trace in enumerate(chart.traces):
        _add_trace(lines, plot, trace, number, chart.gap_s)
    _add_numbers(canvas, plot, chart)
    for limit in chart.limits:
        _add_limit(canvas, plot, limit)
    bottom = plot.box.y + plot.box.height
    middle = plot.box.centre
    add_text(canvas.body, middle, bottom + 31, [chart.clock], size=_SIZE, anchor="middle")
    y = _add_key(canvas, chart, bottom + 42)
    height = add_notes(canvas, y + 2, _notes(chart)) + MARGIN
    return canvas.finish(
        title=f"Temperatures: {chart.title}",
        desc=_described(chart),
        height=height,
        kind="traces",
    )


def _plot(chart: TraceChart, box: Box) -> _Plot:
    times = [time for trace in chart.traces for time in trace.times_s]
    times += [moment.at_s for moment in chart.moments]
    readings = [one for trace in chart.traces for one in trace.readings_c if one is not None]
    readings += [limit.celsius for limit in chart.limits]
    first, last = min(times, default=0.0), max(times, default=_A_MINUTE)
    lowest, highest = min([0.0, *readings]), max([100.0, *readings])
    room = (highest - lowest) * 0.08
    return _Plot(box, first, max(last, first + 1.0), lowest, highest + room)


def _ticks(low: float, high: float, steps: Sequence[float]) -> list[float]:
    step = next((s for s in steps if (high - low) / s <= _MOST_TICKS), (high - low) / _MOST_TICKS)
    first = -(-low // step) * step
    return [first + number * step for number in range(int((high - first) // step) + 1)]


def _add_axes(canvas: Canvas, plot: _Plot) -> None:
    box = plot.box
    add_outlined(canvas.body, box, PAPER, "plot")
    for celsius in _ticks(plot.lowest_c, plot.highest_c, _DEGREE_STEPS):
        y = plot.y(celsius)
        _add_line(canvas.body, (box.x, y), (box.x + box.width, y), "grid-line")
        label = f"{celsius:g}"
        add_text(canvas.body, box.x - 5, y + 4, [label], size=_SIZE, anchor="end")
    for minutes in _ticks(plot.first_s / _A_MINUTE, plot.last_s / _A_MINUTE, _TIME_STEPS):
        x = plot.x(minutes * _A_MINUTE)
        bottom = box.y + box.height
        _add_line(canvas.body, (x, bottom), (x, bottom + 4), "tick", colour=INK)
        label = shorten(f"{minutes:g}", 40, _SIZE)
        add_text(canvas.body, x, bottom + 16, [label], size=_SIZE, anchor="middle")


def _add_line(
    parent: Element,
    start: tuple[float, float],
    end: tuple[float, float],
    class_: str,
    *,
    colour: str = tint(BLACK, 0.15),
    width: float = 1.0,
    dash: str | None = None,
) -> None:
    add(
        parent,
        "line",
        class_=class_,
        x1=start[0],
        y1=start[1],
        x2=end[0],
        y2=end[1],
        stroke=colour,
        stroke_width=width,
        stroke_dasharray=dash,
    )


def _add_window(canvas: Canvas, plot: _Plot, limit: DrawnLimit) -> None:
    """The time in which a limit counts, as a tinted ground behind the traces."""
    if limit.until_s is None:
        return
    left, right = plot.x(limit.from_s), plot.x(limit.until_s)
    if right > left:
        box = Box(left, plot.box.y, right - left, plot.box.height)
        add_box(canvas.body, box, class_="window", fill=tint(SKY_BLUE, 0.18))


def _add_limit(canvas: Canvas, plot: _Plot, limit: DrawnLimit) -> None:
    y = plot.y(limit.celsius)
    end = plot.last_s if limit.until_s is None else limit.until_s
    ends = (plot.x(limit.from_s), y), (plot.x(end), y)
    _add_line(canvas.body, *ends, "limit-line", colour=INK, width=2.5, dash=_LIMIT_DASH)


def _add_moments(canvas: Canvas, plot: _Plot, moments: Sequence[DrawnMoment], top: float) -> None:
    """Their words stand above the plot, a line each, where no trace runs through them."""
    box = plot.box
    for row, moment in enumerate(sorted(moments, key=lambda one: one.at_s)):
        x, baseline = plot.x(moment.at_s), top + _SIZE + row * line_height(_SIZE)
        words = shorten(moment.words, box.width - 8, _SIZE)
        left = min(x + 3, box.x + box.width - text_width(words, _SIZE))
        ends = (x, baseline + 3), (x, box.y + box.height)
        _add_line(canvas.body, *ends, "moment-line", colour=FAINT_INK, dash="2 3")
        add_text(canvas.body, left, baseline, [words], size=_SIZE, colour=FAINT_INK)


def _colour(number: int) -> str:
    return _COLOURS[number % len(_COLOURS)]


def _dash(number: int) -> str | None:
    return _DASHES[number % len(_DASHES)]


def _add_trace(parent: Element, plot: _Plot, trace: DrawnTrace, number: int, gap_s: float) -> None:
    group = add(parent, "g", class_=f"trace trace-{number + 1}")
    add(group, "title", text=trace.label)
    step = (plot.last_s - plot.first_s) / plot.box.width
    for points in stretches(trace, gap_s):
        placed = [(plot.x(time), plot.y(reading)) for time, reading in thinned(points, step)]
        add(
            group,
            "path",
            class_="trace-line",
            d=path_text(placed),
            fill="none",
            stroke=_colour(number),
            stroke_width=1.8,
            stroke_dasharray=_dash(number),
            stroke_linejoin="round",
            stroke_linecap="round",
        )


def _add_numbers(canvas: Canvas, plot: _Plot, chart: TraceChart) -> None:
    """The number of each trace beside its last reading; where they would overlap they are moved
    apart, and a line leads from the reading to its number."""
    ends = []
    for number, trace in enumerate(chart.traces, start=1):
        read = [one for one in trace.readings_c if one is not None]
        if read:
            ends.append((plot.y(read[-1]), number))
    ends.sort()
    box = plot.box
    placed = spread([y for y, _ in ends], gap=_SIZE + 1, low=box.y + 4, high=box.y + box.height)
    edge = box.x + box.width
    for y, (read_y, number) in zip(placed, ends, strict=True):
        x = edge + _LEADER + 3
        ends_of_line = (edge, read_y), (edge + _LEADER, y)
        _add_line(canvas.body, *ends_of_line, "leader", colour=_colour(number - 1))
        add_text(canvas.body, x, y + 4, [str(number)], size=_SIZE, bold=True)


def _add_key(canvas: Canvas, chart: TraceChart, y: float) -> float:
    """What each limit and each number means, a row each; gives the new y."""
    for limit in chart.limits:
        y = _add_key_row(canvas, y, "", (INK, _LIMIT_DASH), f"limit: {limit.words}")
    for number, trace in enumerate(chart.traces):
        look = _colour(number), _dash(number)
        y = _add_key_row(canvas, y, str(number + 1), look, trace.label)
    return y


def _add_key_row(
    canvas: Canvas, y: float, sign: str, look: tuple[str, str | None], words: str
) -> float:
    baseline = y + _SIZE
    if sign:
        add_text(canvas.body, MARGIN, baseline, [sign], size=_SIZE, bold=True)
    left = MARGIN + 20
    ends = (left, baseline - 4), (left + _KEY_LINE, baseline - 4)
    _add_line(canvas.body, *ends, "key-line", colour=look[0], width=2, dash=look[1])
    x = left + _KEY_LINE + 6
    shown = wrap(words, canvas.width - MARGIN - x, _SIZE, max_lines=_MOST_KEY_LINES)
    full = words if shown.is_shortened else None
    add_text(canvas.body, x, baseline, shown.lines, size=_SIZE, full=full)
    return y + line_height(_SIZE) * len(shown.lines) + 2


def _notes(chart: TraceChart) -> list[str]:
    if not chart.traces:
        return ["No channel to show."]
    if any(limit.until_s is not None for limit in chart.limits):
        return ["The tinted ground is the time in which an exceedance has to begin to count."]
    return []


def _described(chart: TraceChart) -> str:
    """Every trace in words: its highest reading, and when."""
    parts = [f"{chart.title}. Times in {chart.clock}."]
    for number, trace in enumerate(chart.traces, start=1):
        read = [
            (reading, time)
            for time, reading in zip(trace.times_s, trace.readings_c, strict=True)
            if reading is not None
        ]
        if read:
            reading, time = max(read, key=lambda pair: (pair[0], -pair[1]))
            told = f"highest {reading:.0f} °C at {time / _A_MINUTE:.1f}"
        else:
            told = "nothing was read"
        parts.append(f"{number}: {trace.label}, {told}.")
    parts += [f"Limit: {limit.words}." for limit in chart.limits]
    parts += [f"{moment.words}." for moment in chart.moments]
    return " ".join(parts)

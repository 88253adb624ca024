"""The line of one trace: broken at gaps, and thinned to what a drawing can show."""

from collections.abc import Iterator, Sequence

from portfolio.drawings.svg import number_text
from portfolio.drawings.traces import DrawnTrace

Point = tuple[float, float]


def stretches(trace: DrawnTrace, gap_s: float) -> list[list[Point]]:
    """Times and readings without a gap between them; a lone reading is a stretch of one."""
    found: list[list[Point]] = []
    before: float | None = None
    for time, reading in zip(trace.times_s, trace.readings_c, strict=True):
        if reading is None:
            before = None
            continue
        if before is None or not 0 < time - before <= gap_s:
            found.append([])
        found[-1].append((time, reading))
        before = time
    return found


def thinned(points: Sequence[Point], step: float) -> list[Point]:
    """At most four points for each `step` of x: first, lowest, highest and last, so that no peak
    is lost."""
    found: list[Point] = []
    for column in _columns(points, step):
        lowest = min(column, key=lambda point: point[1])
        highest = max(column, key=lambda point: point[1])
        found += sorted({column[0], lowest, highest, column[-1]})
    return found


def thinned_trace(trace: DrawnTrace, gap_s: float, step_s: float) -> DrawnTrace:
    """The trace with at most four readings for each `step_s` of a stretch without a gap; gaps stay
    gaps."""
    times: list[float] = []
    readings: list[float | None] = []
    for stretch in stretches(trace, gap_s):
        points = thinned(stretch, step_s)
        if times:
            times.append((times[-1] + points[0][0]) / 2)
            readings.append(None)
        times += [time for time, _ in points]
        readings += [reading for _, reading in points]
    return DrawnTrace(trace.label, tuple(times), tuple(readings))


def _columns(points: Sequence[Point], step: float) -> Iterator[list[Point]]:
    column: list[Point] = []
    for point in points:
        if column and point[0] // step != column[0][0] // step:
            yield column
            column = []
        column.append(point)
    if column:
        yield column


def path_text(points: Sequence[Point]) -> str:
    """The points as an SVG path; a single one as a dot that a round cap makes visible."""
    first, *others = points
    rest = others or [first]
    moves = " ".join(f"L{number_text(x)} {number_text(y)}" for x, y in rest)
    return f"M{number_text(first[0])} {number_text(first[1])} {moves}"

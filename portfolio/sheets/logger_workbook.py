"""The workbook of a classified log: results, every reading, and charts that stay with the data."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import xlsxwriter

from portfolio.sheets.line_charts import ROWS_A_CHART, Cells, PlottedLine, line_chart
from portfolio.sheets.number_rows import with_number_rows
from portfolio.sheets.writing import (
    MADE_ON,
    SAFE_OPTIONS,
    Table,
    write_caution,
    write_headers,
    write_table,
)

CHARTS_TITLE, LIMITS_TITLE = "Charts", "Limits"


@dataclass(frozen=True, slots=True)
class Line:
    """A level line to compare readings with: its words, its height in °C, and from when to when
    it counts on the clock of the readings (None: to their end)."""

    words: str
    celsius: float
    from_s: float
    until_s: float | None = None


@dataclass(frozen=True, slots=True)
class PlottedGroup:
    """One chart: which columns of the readings it shows (the times being column 0), and lines."""

    title: str
    columns: tuple[int, ...]
    lines: tuple[Line, ...] = ()


@dataclass(frozen=True, slots=True)
class Readings:
    """What a log read: each row a time and a reading in each further column, None for none.

    Numbers are finite.
    """

    title: str
    headers: Sequence[str]
    rows: Sequence[Sequence[float | None]]


def logger_workbook(
    tables: Sequence[Table], readings: Readings, groups: Sequence[PlottedGroup], caution: str
) -> bytes:
    """The tables, a chart for each group, and the readings, as the bytes of a workbook.

    The charts are the spreadsheet program's own, drawn from the readings in the same workbook.
    """
    stream = io.BytesIO()
    with xlsxwriter.Workbook(stream, SAFE_OPTIONS) as workbook:
        workbook.set_properties({"created": MADE_ON})
        write_caution(workbook, caution)
        for table in tables:
            write_table(workbook, workbook.add_worksheet(table.title), table)
        charts = workbook.add_worksheet(CHARTS_TITLE)
        sheet = workbook.add_worksheet(readings.title)
        write_headers(workbook, sheet, readings.headers)
        if readings.rows:
            sheet.autofilter(0, 0, len(readings.rows), len(readings.headers) - 1)
        at = len(workbook.worksheets())
        limits = _limits(groups, readings)
        write_table(workbook, workbook.add_worksheet(limits.title), limits)
        first_row = 1
        for number, group in enumerate(groups):
            lines = list(_lines(group, readings, first_row))
            chart = line_chart(workbook, group.title, readings.headers[0], lines, holds_copy=False)
            charts.insert_chart(number * ROWS_A_CHART, 0, chart)
            first_row += 2 * len(group.lines)
    return with_number_rows(stream.getvalue(), at, readings.rows)


def _limits(groups: Sequence[PlottedGroup], readings: Readings) -> Table:
    """Each line by its two ends, which the charts draw."""
    times = [row[0] for row in readings.rows if row[0] is not None]
    rows = [
        (group.title, line.words, end, line.celsius)
        for group in groups
        for line in group.lines
        for end in _ends(line, times)
    ]
    return Table(LIMITS_TITLE, ("Chart", "Line", readings.headers[0], "°C"), rows)


def _ends(line: Line, times: Sequence[float]) -> tuple[float, ...]:
    """Where a line begins and ends, as far as there are readings; nothing for none."""
    if not times:
        return ()
    first, last = min(times), max(times)
    until = last if line.until_s is None else line.until_s
    return tuple(min(max(end, first), last) for end in (line.from_s, until))


def _lines(group: PlottedGroup, readings: Readings, first_row: int) -> Iterator[PlottedLine]:
    """What one chart shows; its limits stand in the sheet of limits from `first_row` on."""
    last = len(readings.rows)
    times = Cells(readings.title, 0, 1, last)
    for column in group.columns:
        name = Cells(readings.title, column, 0, 0)
        yield PlottedLine(name, times, Cells(readings.title, column, 1, last))
    for number, line in enumerate(group.lines):
        at = first_row + 2 * number
        ends, heights = (Cells(LIMITS_TITLE, column, at, at + 1) for column in (2, 3))
        yield PlottedLine(line.words, ends, heights, is_limit=True)

"""The workbook of a classified log: results, every reading, and charts that stay with the data."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import cast

import xlsxwriter
from xlsxwriter.chart import Chart
from xlsxwriter.workbook import Workbook

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
_ROWS_A_CHART = 27
_SIZE = {"width": 1000, "height": 500}
_COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9", "#595959")
"""Six of the eight colours of Okabe and Ito ("Color Universal Design", 2008), and a grey."""
_DASHES = ("solid", "dash", "round_dot", "dash_dot")


@dataclass(frozen=True, slots=True)
class Line:
    """A level line to compare readings with: its words, and its height in °C."""

    words: str
    celsius: float


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
            chart = _chart(workbook, group, readings, first_row)
            charts.insert_chart(number * _ROWS_A_CHART, 0, chart)
            first_row += 2 * len(group.lines)
    return with_number_rows(stream.getvalue(), at, readings.rows)


def _limits(groups: Sequence[PlottedGroup], readings: Readings) -> Table:
    """Each line by its two ends, which the charts draw."""
    times = [row[0] for row in readings.rows]
    ends = (times[0], times[-1]) if times else ()
    rows = [
        (group.title, line.words, end, line.celsius)
        for group in groups
        for line in group.lines
        for end in ends
    ]
    return Table(LIMITS_TITLE, ("Chart", "Line", readings.headers[0], "°C"), rows)


def _chart(workbook: Workbook, group: PlottedGroup, readings: Readings, first_row: int) -> Chart:
    chart = cast("Chart", workbook.add_chart({"type": "scatter", "subtype": "straight"}))
    last = len(readings.rows)
    for number, column in enumerate(group.columns):
        colour = _COLOURS[number % len(_COLOURS)]
        dash = _DASHES[number // len(_COLOURS) % len(_DASHES)]
        chart.add_series(
            {
                "name": [readings.title, 0, column],
                "categories": [readings.title, 1, 0, last, 0],
                "values": [readings.title, 1, column, last, column],
                "line": {"color": colour, "width": 1.5, "dash_type": dash},
                "marker": {"type": "none"},
                # a copy of every reading in every chart would take most of the time and space
                "categories_data": [],
                "values_data": [],
            }
        )
    for series in _line_series(group, first_row):
        chart.add_series(series)
    chart.set_title({"name": group.title, "name_font": {"size": 12}})
    chart.set_x_axis({"name": readings.headers[0], "label_position": "low"})
    chart.set_y_axis({"name": "Temperature (°C)"})
    chart.set_legend({"position": "bottom"})
    # a gap in the record stays a gap in the chart
    chart.show_blanks_as("gap")
    chart.set_size(_SIZE)
    return chart


def _line_series(group: PlottedGroup, first_row: int) -> Iterator[dict[str, object]]:
    for row, line in enumerate(group.lines):
        at = first_row + 2 * row
        yield {
            "name": line.words,
            "categories": [LIMITS_TITLE, at, 2, at + 1, 2],
            "values": [LIMITS_TITLE, at, 3, at + 1, 3],
            "line": {"color": "#1A1A1A", "width": 2, "dash_type": "long_dash"},
            "marker": {"type": "none"},
        }

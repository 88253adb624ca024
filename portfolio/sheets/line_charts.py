"""A spreadsheet program's own line chart over cells of the same workbook."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

from xlsxwriter.chart import Chart
from xlsxwriter.workbook import Workbook

ROWS_A_CHART = 27
"""So many rows of ordinary height lie under a chart, and one to spare."""
_SIZE = {"width": 1000, "height": 500}
_COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9", "#595959")
"""Six of the eight colours of Okabe and Ito ("Color Universal Design", 2008), and a grey."""
_DASHES = ("solid", "dash", "round_dot", "dash_dot")


@dataclass(frozen=True, slots=True)
class Cells:
    """Cells of one column of a sheet, its first and last row included; all counted from 0."""

    sheet: str
    column: int
    first: int
    last: int

    @property
    def told(self) -> list[str | int]:
        """As the library asks for it."""
        return [self.sheet, self.first, self.column, self.last, self.column]


@dataclass(frozen=True, slots=True)
class PlottedLine:
    """One line: its words, or the cell that holds them, and where its times and values stand."""

    name: str | Cells
    times: Cells
    values: Cells
    is_limit: bool = False


def line_chart(
    workbook: Workbook,
    title: str,
    time_header: str,
    lines: Sequence[PlottedLine],
    *,
    holds_copy: bool,
) -> Chart:
    """The chart, to be put on a sheet. It `holds_copy` of what it shows where it is to be seen by
    programs that do not calculate; of an hour of readings that takes most of the time and space.
    """
    chart = cast("Chart", workbook.add_chart({"type": "scatter", "subtype": "straight"}))
    number = 0
    for line in lines:
        name = line.name if isinstance(line.name, str) else _cell(line.name)
        told: dict[str, object] = {
            "name": name,
            "categories": line.times.told,
            "values": line.values.told,
            "marker": {"type": "none"},
        }
        if line.is_limit:
            told["line"] = {"color": "#1A1A1A", "width": 2, "dash_type": "long_dash"}
        else:
            dash = _DASHES[number // len(_COLOURS) % len(_DASHES)]
            colour = _COLOURS[number % len(_COLOURS)]
            told["line"] = {"color": colour, "width": 1.5, "dash_type": dash}
            number += 1
        if not holds_copy:
            told |= {"categories_data": [], "values_data": []}
        chart.add_series(told)
    chart.set_title({"name": title, "name_font": {"size": 12}})
    chart.set_x_axis({"name": time_header, "label_position": "low"})
    chart.set_y_axis({"name": "Temperature (°C)"})
    chart.set_legend({"position": "bottom"})
    # a gap in the record stays a gap in the chart
    chart.show_blanks_as("gap")
    chart.set_size(_SIZE)
    return chart


def _cell(cells: Cells) -> list[str | int]:
    return [cells.sheet, cells.first, cells.column]

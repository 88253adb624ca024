"""A sheet that is read from above: facts, a table, charts, and below them what these show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from xlsxwriter.format import Format
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from portfolio.sheets.line_charts import ROWS_A_CHART, Cells, PlottedLine, line_chart
from portfolio.sheets.writing import Table, write_cell

_WIDTHS = (26, 60, 14, 34, 24, 12, 12, 12, 40, 14)
_A4 = 9


@dataclass(frozen=True, slots=True)
class Course:
    """One line of a chart: times in s and values in °C, as many of each, None for a gap."""

    name: str
    times: Sequence[float]
    values: Sequence[float | None]
    is_limit: bool = False


@dataclass(frozen=True, slots=True)
class CourseChart:
    """One chart, its times counted as `time_header` says."""

    title: str
    time_header: str
    courses: Sequence[Course]


@dataclass(frozen=True, slots=True)
class ChartedSheet:
    """One sheet. `facts` are what and its value; the second column is the wide one, also of the
    table. `below` says what the numbers under the charts are."""

    title: str
    facts: Sequence[tuple[str, str]]
    table: Table | None = None
    charts: Sequence[CourseChart] = ()
    below: str = ""

    def write_on(self, workbook: Workbook, sheet: Worksheet) -> None:
        """Fill the sheet, which has its name already."""
        bold = workbook.add_format({"bold": True, "text_wrap": True, "valign": "top"})
        wrapped = workbook.add_format({"text_wrap": True, "valign": "top"})
        dates = workbook.add_format({"num_format": "yyyy-mm-dd", "valign": "top"})
        for place, width in enumerate(_WIDTHS):
            sheet.set_column(place, place, width, wrapped)
        for row, (what, value) in enumerate(self.facts):
            sheet.write_string(row, 0, what, bold)
            write_cell(sheet, (row, 1), value, dates)
        row = len(self.facts) + 1
        if self.table is not None:
            for place, header in enumerate(self.table.headers):
                sheet.write_string(row, place, header, bold)
            for number, cells in enumerate(self.table.rows, start=row + 1):
                for place, cell in enumerate(cells):
                    write_cell(sheet, (number, place), cell, dates)
            row += len(self.table.rows) + 2
        end = self._write_charts(workbook, sheet, row, bold)
        sheet.set_landscape()
        sheet.set_paper(_A4)
        sheet.fit_to_pages(1, 0)
        sheet.print_area(0, 0, end, len(_WIDTHS) - 1)

    def _write_charts(self, workbook: Workbook, sheet: Worksheet, row: int, bold: Format) -> int:
        """The charts from a row on, their numbers below; gives the last row of the charts."""
        if not self.charts:
            return row
        title = sheet.get_name()
        under = row + ROWS_A_CHART * len(self.charts)
        # not wrapped: it runs on over the empty cells beside it
        sheet.write_string(under, 0, self.below, workbook.add_format({"bold": True}))
        column = 0
        for number, chart in enumerate(self.charts):
            lines = []
            sheet.write_string(under + 1, column, chart.title, bold)
            for course in chart.courses:
                sheet.write_string(under + 2, column, chart.time_header, bold)
                name = course.name if course.is_limit else f"{course.name} (°C)"
                sheet.write_string(under + 2, column + 1, name, bold)
                first, last = under + 3, under + 2 + len(course.times)
                sheet.write_column(first, column, course.times)
                for at, value in enumerate(course.values):
                    if value is not None:
                        sheet.write_number(first + at, column + 1, value)
                times = Cells(title, column, first, last)
                values = Cells(title, column + 1, first, last)
                # a name out of a file, given as text, could be taken for a formula
                head = Cells(title, column + 1, under + 2, under + 2)
                lines.append(PlottedLine(head, times, values, course.is_limit))
                column += 2
            drawn = line_chart(workbook, chart.title, chart.time_header, lines, holds_copy=True)
            sheet.insert_chart(row + ROWS_A_CHART * number, 0, drawn)
        return under - 1

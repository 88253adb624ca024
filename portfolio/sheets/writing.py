"""Tables as XLSX and CSV: text stays text, numbers stay numbers, the same bytes each time."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from enum import StrEnum
from typing import Protocol

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from portfolio.sheets.delimited import guarded
from portfolio.sheets.layout import CAUTION_TITLE
from portfolio.sheets.raw import MOST_ROWS

Cell = str | int | float | bool | date | None
MADE_ON = datetime(2000, 1, 1)  # noqa: DTZ001  (stands in every file, so that bytes do not change)
SAFE_OPTIONS = {
    "in_memory": True,
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
}
LONGEST_CELL = 32_767
"""As many characters as a spreadsheet program takes in one cell."""
_CUT = " … [cut; see the CSV for the whole]"
_LONGEST_TITLE = 31
_NOT_IN_TITLES = str.maketrans(dict.fromkeys("[]:*?/\\", " "))
_NARROWEST, _WIDEST = 8, 60


@dataclass(frozen=True, slots=True)
class Table:
    """A titled table. What a cell is follows from its value: text, number, date, yes or no."""

    title: str
    headers: Sequence[str]
    rows: Sequence[Sequence[Cell]]


def table_to_csv(table: Table) -> bytes:
    """The table as CSV in UTF-8, as spreadsheet programs expect it.

    Text that a program might calculate gets an apostrophe, which our importer takes off again.
    """
    stream = io.StringIO(newline="")
    writer = csv.writer(stream)
    writer.writerow([guarded(header) for header in table.headers])
    for row in table.rows:
        writer.writerow([_csv_cell(cell) for cell in row])
    return stream.getvalue().encode("utf-8-sig")


def _csv_cell(cell: Cell) -> str:
    if isinstance(cell, bool | date):
        return str(_plain(cell))
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    if isinstance(cell, int | float):
        return str(cell)
    return guarded(_text(cell))


class WrittenSheet(Protocol):
    """A sheet that knows how it is filled."""

    @property
    def title(self) -> str:
        """What it would be called."""

    def write_on(self, workbook: Workbook, sheet: Worksheet) -> None:
        """Fill the sheet, which has its name already."""


def table_to_xlsx(
    tables: Sequence[Table], caution: str, *, further: Sequence[WrittenSheet] = ()
) -> bytes:
    """The tables as the sheets of a workbook, after a sheet with the caution; `further` sheets
    come last."""
    stream = io.BytesIO()
    with xlsxwriter.Workbook(stream, SAFE_OPTIONS) as workbook:
        workbook.set_properties({"created": MADE_ON})
        write_caution(workbook, caution)
        titles = {CAUTION_TITLE.casefold()}
        for part in _parts(tables):
            sheet = workbook.add_worksheet(_unused_title(part.title, titles))
            write_table(workbook, sheet, part)
        for one in further:
            one.write_on(workbook, workbook.add_worksheet(_unused_title(one.title, titles)))
    return stream.getvalue()


def write_caution(workbook: Workbook, caution: str) -> None:
    """A sheet of its own for the caution, on which the workbook opens."""
    sheet = workbook.add_worksheet(CAUTION_TITLE)
    sheet.set_column(0, 0, 100)
    sheet.write_string(0, 0, CAUTION_TITLE, workbook.add_format({"bold": True}))
    sheet.write_string(1, 0, caution, workbook.add_format({"text_wrap": True, "valign": "top"}))


def _parts(tables: Sequence[Table]) -> Iterator[Table]:
    """A table that is too long for one sheet goes on in further ones, which the importer knows."""
    for table in tables:
        yield Table(table.title, table.headers, table.rows[:MOST_ROWS])
        for part, start in enumerate(range(MOST_ROWS, len(table.rows), MOST_ROWS), start=2):
            rows = table.rows[start : start + MOST_ROWS]
            yield Table(f"{table.title} {part}", table.headers, rows)


def _unused_title(title: str, used: set[str]) -> str:
    """A title that a spreadsheet program accepts, different from those before."""
    plain = " ".join(title.translate(_NOT_IN_TITLES).split()).strip("'") or "Table"
    candidate, number = plain[:_LONGEST_TITLE], 1
    while candidate.casefold() in used:
        number += 1
        candidate = f"{plain[: _LONGEST_TITLE - len(str(number)) - 1]} {number}"
    used.add(candidate.casefold())
    return candidate


def write_table(workbook: Workbook, sheet: Worksheet, table: Table) -> None:
    """The table on one sheet, its headers in sight and its columns to be filtered."""
    dates = workbook.add_format({"num_format": "yyyy-mm-dd"})
    write_headers(workbook, sheet, table.headers)
    for number, row in enumerate(table.rows, start=1):
        for place, cell in enumerate(row):
            write_cell(sheet, (number, place), cell, dates)
    if table.rows and table.headers:
        sheet.autofilter(0, 0, len(table.rows), len(table.headers) - 1)


def write_headers(workbook: Workbook, sheet: Worksheet, headers: Sequence[str]) -> None:
    """The header row, which stays in sight, and columns wide enough for it."""
    bold = workbook.add_format({"bold": True, "text_wrap": True, "valign": "top"})
    for place, header in enumerate(headers):
        sheet.write_string(0, place, header, bold)
        width = min(max(len(header) + 2, _NARROWEST), _WIDEST)
        sheet.set_column(place, place, width)
    sheet.freeze_panes(1, 0)


def write_cell(sheet: Worksheet, at: tuple[int, int], cell: Cell, dates: Format) -> None:
    """One cell at its row and column, as what it is; `dates` is how dates look."""
    value = _plain(cell) if isinstance(cell, bool) else cell
    if value is None or value == "":
        return
    if isinstance(value, datetime):
        sheet.write_string(*at, value.isoformat(" "))
    elif isinstance(value, date):
        sheet.write_datetime(*at, datetime.combine(value, time()), dates)
    elif isinstance(value, int | float) and math.isfinite(value):
        sheet.write_number(*at, value)
    else:
        text = _text(value)
        if len(text) > LONGEST_CELL:
            text = text[: LONGEST_CELL - len(_CUT)] + _CUT
        sheet.write_string(*at, text)


def _plain(cell: bool | date) -> str:
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    return cell.isoformat(" ") if isinstance(cell, datetime) else cell.isoformat()


def _text(cell: object) -> str:
    """Text as it is kept; of a word from a closed list, the word."""
    if cell is None:
        return ""
    return cell.value if isinstance(cell, StrEnum) else str(cell)

"""Opens an .xlsx workbook safely and hands out its tabs as grids of text."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from datetime import date, datetime, time, timedelta
from xml.etree import ElementTree

from python_calamine import CalamineError, CalamineSheet, CalamineWorkbook

from portfolio.domain.errors import Problem
from portfolio.sheets.archives import EXPECTED, NOT_A_WORKBOOK, checked_archive
from portfolio.sheets.broken_cells import broken_cells
from portfolio.sheets.layout import SHEETS, is_ignored, sheet_named
from portfolio.sheets.raw import MOST_COLUMNS, MOST_ROWS, GivenFile, Grid, refuse

_WHOLE_NUMBERS_BELOW = 1e15
_MILLISECONDS = 3


def grids_of(given: GivenFile) -> tuple[list[Grid], list[Problem]]:
    """The tabs that the layout knows, and a problem for every other one."""
    archive = checked_archive(given)
    grids: list[Grid] = []
    problems: list[Problem] = []
    try:
        with CalamineWorkbook.from_filelike(archive) as workbook:
            for tab in workbook.sheet_names:
                sheet = sheet_named(tab)
                if sheet is not None:
                    rows = _rows(given.name, tab, workbook.get_sheet_by_name(tab), _text)
                    grids.append(Grid(given.name, tab, sheet, rows))
                    problems += _broken(given.name, tab, rows, archive)
                elif not is_ignored(tab):
                    problems.append(unknown_sheet(given.name, tab))
    except (CalamineError, ElementTree.ParseError) as error:
        raise refuse(given.name, NOT_A_WORKBOOK, EXPECTED) from error
    return grids, problems


def _broken(file: str, tab: str, rows: list[list[str]], archive: io.BytesIO) -> Iterator[Problem]:
    """A problem for each cell that would be taken for empty and is not."""
    for row, column, message, value in broken_cells(archive, tab):
        headers = rows[0] if rows else []
        header = headers[column] if column < len(headers) else ""
        yield Problem(message, "a value", file, tab, row + 1, header, value)


def tabs_of(given: GivenFile) -> dict[str, list[list[str]]]:
    """Every tab but those that explain, whatever its name, with the time of day kept in its cells.

    Raises InputError for a file that is no workbook or asks too much.
    """
    archive = checked_archive(given)
    try:
        with CalamineWorkbook.from_filelike(archive) as workbook:
            return {
                tab: _rows(given.name, tab, workbook.get_sheet_by_name(tab), _text_with_time)
                for tab in workbook.sheet_names
                if not is_ignored(tab)
            }
    except CalamineError as error:
        raise refuse(given.name, NOT_A_WORKBOOK, EXPECTED) from error


def unknown_sheet(file: str, tab: str) -> Problem:
    """Says which names would have been understood."""
    titles = ", ".join(sheet.title for sheet in SHEETS)
    return Problem("There is no sheet of this name.", f"one of: {titles}", file, tab)


def _rows(
    file: str, tab: str, sheet: CalamineSheet, text: Callable[[object], str]
) -> list[list[str]]:
    last_row, last_column = sheet.end or (0, 0)  # both counted from 0
    if last_row > MOST_ROWS:
        raise refuse(
            file,
            f"The sheet has {last_row + 1:,} rows.",
            f'at most {MOST_ROWS:,} and a header; let the rest go on in a further sheet, "{tab} 2"',
            tab,
        )
    if last_column >= MOST_COLUMNS:
        raise refuse(
            file, f"The sheet has {last_column + 1:,} columns.", f"at most {MOST_COLUMNS}", tab
        )
    # without the empty area above it, the first filled row would be taken for row 1
    return [[text(cell) for cell in row] for row in sheet.to_python(skip_empty_area=False)]


def _text(cell: object) -> str:
    """A cell as a person would type it."""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return _number(cell)
    if isinstance(cell, datetime):
        return cell.date().isoformat()
    return cell.isoformat() if isinstance(cell, date) else str(cell)


def _text_with_time(cell: object) -> str:
    """A cell of a log as a person would type it: a clock time is one, and so is a duration."""
    if isinstance(cell, datetime):
        return f"{cell.date().isoformat()} {_clock(cell.time())}"
    if isinstance(cell, time):
        return _clock(cell)
    if isinstance(cell, timedelta):
        seconds = round(cell.total_seconds(), _MILLISECONDS)
        minutes, rest = divmod(seconds, 60)
        return f"{int(minutes // 60)}:{int(minutes % 60):02d}:{rest:06.3f}"
    return _text(cell)


def _clock(moment: time) -> str:
    """Spreadsheets keep times as shares of a day; what is finer than a millisecond is noise."""
    day = datetime.combine(date.min, moment) + timedelta(microseconds=500)
    return day.time().isoformat("milliseconds")


def _number(number: float) -> str:
    """Spreadsheets keep every number as a float of 15 digits; a reference 7 must not become 7.0."""
    if number.is_integer() and abs(number) < _WHOLE_NUMBERS_BELOW:
        return str(int(number))
    text = f"{number:.15g}"
    return text if "e" not in text else f"{number:.15f}".rstrip("0").rstrip(".")

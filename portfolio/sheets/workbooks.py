"""Opens an .xlsx workbook safely and hands out its tabs as grids of text."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime, time, timedelta
from xml.etree import ElementTree

from python_calamine import CalamineError, CalamineSheet, CalamineWorkbook, SheetVisibleEnum

from portfolio.domain.errors import Problem
from portfolio.sheets.archives import EXPECTED, NOT_A_WORKBOOK, checked_archive
from portfolio.sheets.broken_cells import broken_cells
from portfolio.sheets.headers import letter
from portfolio.sheets.layout import SHEETS, is_ignored, sheet_named
from portfolio.sheets.raw import MOST_COLUMNS, MOST_ROWS, GivenFile, Grid, Tab, refuse

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
                    problems += _broken(given.name, tab, rows[0] if rows else (), archive)
                elif not is_ignored(tab):
                    problems.append(unknown_sheet(given.name, tab))
    except (CalamineError, ElementTree.ParseError) as error:
        raise refuse(given.name, NOT_A_WORKBOOK, EXPECTED) from error
    return grids, problems


def _broken(file: str, tab: str, headers: Sequence[str], archive: io.BytesIO) -> Iterator[Problem]:
    """A problem for each cell that would be taken for empty and is not."""
    for row, column, message, value in broken_cells(archive, tab):
        header = headers[column].strip() if column < len(headers) else ""
        yield Problem(message, "a value", file, tab, row + 1, header or letter(column), value)


def tabs_of_log(given: GivenFile) -> dict[str, Tab]:
    """Every tab but those that explain, whatever its name; dates have the time of day beside them,
    as a logger writes them.

    Raises InputError for a file that is no workbook or asks too much.
    """
    return _tabs(given, _text_of_log)


def tabs_of_list(given: GivenFile) -> dict[str, Tab]:
    """The same of a list that a person wrote; which cells hold dates or times is told.

    Raises InputError for a file that is no workbook or asks too much.
    """
    return _tabs(given, _text_with_time, tells_times=True)


def _tabs(
    given: GivenFile, text: Callable[[object], str], *, tells_times: bool = False
) -> dict[str, Tab]:
    archive = checked_archive(given)
    found = {}
    try:
        with CalamineWorkbook.from_filelike(archive) as workbook:
            for about in workbook.sheets_metadata:
                tab = about.name
                if is_ignored(tab):
                    continue
                sheet = workbook.get_sheet_by_name(tab)
                found[tab] = Tab(
                    _rows(given.name, tab, sheet, text),
                    about.visible is not SheetVisibleEnum.Visible,
                    _times(sheet) if tells_times else frozenset(),
                    tuple(_broken(given.name, tab, (), archive)),
                )
    except (CalamineError, ElementTree.ParseError) as error:
        raise refuse(given.name, NOT_A_WORKBOOK, EXPECTED) from error
    return found


def _times(sheet: CalamineSheet) -> frozenset[tuple[int, int]]:
    """Which cells hold a date, a time or a duration; a datetime is a date as well."""
    return frozenset(
        (at, place)
        for at, row in enumerate(sheet.to_python(skip_empty_area=False))
        for place, cell in enumerate(row)
        if isinstance(cell, date | time | timedelta)
    )


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


def _text_of_log(cell: object) -> str:
    """A cell as a logger would write it: the reader hands out midnight as a date without a time."""
    if isinstance(cell, date) and not isinstance(cell, datetime):
        return f"{cell.isoformat()} {_clock(time.min)}"
    return _text_with_time(cell)


def _text_with_time(cell: object) -> str:
    """A cell with its time as a person would type it: a clock time is one, and so is a duration."""
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

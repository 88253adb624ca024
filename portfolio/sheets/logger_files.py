"""Opens the files of a logger and what lies beside them: CSV, XLSX, and TOML for lists."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from datetime import date, time
from pathlib import Path

from portfolio.domain.errors import InputError, Problem
from portfolio.sheets import delimited, headers, workbooks
from portfolio.sheets.columns import Sheet
from portfolio.sheets.layout import folded
from portfolio.sheets.layout_logs import LOG_SHEETS
from portfolio.sheets.logger_times import is_time_header
from portfolio.sheets.raw import MOST_BYTES, GivenFile, Grid, RawRow, Tab, refuse

Tabs = Mapping[str, Tab]
_HEADER_WITHIN = 100
_LOG_HEADER_STARTS = "time"


def opened(path: Path) -> GivenFile:
    """A file from the shell. Raises InputError for one that cannot be opened."""
    try:
        # reading one byte more than is allowed tells a file that is too large
        with path.open("rb") as stream:
            return GivenFile(path.name, stream.read(MOST_BYTES + 1))
    except OSError as error:
        reason = error.strerror or "unknown reason"
        raise refuse(path.name, f"The file cannot be opened: {reason}.") from error


def log_tabs(given: GivenFile) -> Tabs:
    """The tables of a CSV file (one, without a name) or of a workbook with a log in it, as text.

    Raises InputError for any other kind of file, and for one that is damaged or asks too much.
    """
    _check_size(given)
    if _is_workbook(given):
        return workbooks.tabs_of_log(given)
    # lines may stand above the headers, by which the delimiter is told
    return {"": Tab(delimited.rows_of(given, header_starts=_LOG_HEADER_STARTS))}


def rows_beside(given: GivenFile, sheet: Sheet) -> list[RawRow]:
    """The rows of a list: a CSV file, a workbook with a tab of its title or one tab, or TOML.

    Raises InputError with every problem of its headers, for cells without a value, and for
    further tabs that may belong to the list.
    """
    _check_size(given)
    if _kind(given) == ".toml":
        return _from_toml(given, sheet)
    if not _is_workbook(given):
        return rows_of_list(given, "", sheet, Tab(delimited.rows_of(given)))
    tabs = workbooks.tabs_of_list(given)
    filled = {name: tab for name, tab in tabs.items() if not tab.is_empty}
    titled = [name for name in filled if folded(name) == folded(sheet.title)]
    if not titled and len(filled) != 1:
        raise refuse(given.name, f'There is no sheet "{sheet.title}".', "a sheet of this name")
    name = titled[0] if titled else next(iter(filled))
    _check_alone(given, name, filled)
    return rows_of_list(given, name, sheet, filled[name])


def rows_of_list(given: GivenFile, name: str, sheet: Sheet, tab: Tab) -> list[RawRow]:
    """The filled rows of a list in one tab.

    Raises InputError with every problem of its headers, and every cell without a value.
    """
    if tab.broken:
        raise InputError(tab.broken)
    rows, problems = headers.rows_of(Grid(given.name, name, sheet, tab.rows, tab.times))
    if problems:
        raise InputError(problems)
    return rows


def _check_alone(given: GivenFile, read: str, filled: Tabs) -> None:
    """What is hidden, or stands in a tab of another name, might say the opposite."""
    known = {folded(other.title) for other in LOG_SHEETS}
    problems = []
    for name, tab in filled.items():
        if tab.is_hidden:
            message = "This sheet is hidden, and what is hidden is not read."
            expected = "a workbook without hidden sheets"
            problems.append(Problem(message, expected, given.name, name))
        elif name != read and folded(name) not in known and not holds_log(tab):
            message = f'Whether this sheet belongs to "{read}" cannot be told.'
            problems.append(Problem(message, "one sheet with the list", given.name, name))
    if problems:
        raise InputError(problems)


def holds_log(tab: Tab) -> bool:
    """Whether a row near its top begins with a header over times."""
    return header_row(tab) is not None


def header_row(tab: Tab) -> int | None:
    """The row from 0 that begins with a header over times, None where none near the top does."""
    near = enumerate(tab.rows[:_HEADER_WITHIN])
    return next((at for at, row in near if row and is_time_header(row[0])), None)


def _is_workbook(given: GivenFile) -> bool:
    kind = _kind(given)
    if kind not in (".csv", ".xlsx"):
        raise refuse(given.name, "Files of this kind are not read.", "a .csv or .xlsx file")
    return kind == ".xlsx"


def _check_size(given: GivenFile) -> None:
    if len(given.content) > MOST_BYTES:
        raise refuse(given.name, "The file is too large.", f"at most {MOST_BYTES // 1_000_000} MB")


def _kind(given: GivenFile) -> str:
    return Path(given.name).suffix.casefold()


def _from_toml(given: GivenFile, sheet: Sheet) -> list[RawRow]:
    """Tables [[channels]] with the keys of the sheet's columns; rows are counted from 1."""
    expected = f"tables [[{sheet.key}]]"
    try:
        read = tomllib.loads(given.content.decode("utf-8"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise refuse(given.name, f"This is no TOML file that can be read: {error}.") from error
    except RecursionError as error:
        message = "This holds lists within lists without end."
        raise refuse(given.name, message, expected) from error
    tables = read.get(sheet.key)
    if read.keys() != {sheet.key} or not isinstance(tables, list):
        raise refuse(given.name, f"There is nothing but {expected} to be read.", expected)
    return [_toml_row(given, sheet, number, table) for number, table in enumerate(tables, start=1)]


def _toml_row(given: GivenFile, sheet: Sheet, number: int, table: object) -> RawRow:
    known = {column.key for column in sheet.columns}
    if not isinstance(table, Mapping) or not table.keys() <= known:
        raise refuse(
            given.name,
            f"Table {number} of [[{sheet.key}]] holds a key that is not known.",
            f"keys out of: {', '.join(sorted(known))}",
        )
    cells = {key: _toml_text(table.get(key, "")) for key in known}
    times = frozenset(key for key, value in table.items() if isinstance(value, date | time))
    return RawRow(given.name, sheet.key, number, cells, sheet.key, times)


def _toml_text(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value).strip()

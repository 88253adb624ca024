"""Opens the files of a logger and what lies beside them: CSV, XLSX, and TOML for lists."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path

from portfolio.domain.errors import InputError
from portfolio.sheets import delimited, headers, workbooks
from portfolio.sheets.columns import Sheet
from portfolio.sheets.layout import folded
from portfolio.sheets.raw import MOST_BYTES, GivenFile, Grid, RawRow, refuse

Tabs = dict[str, list[list[str]]]


def opened(path: Path) -> GivenFile:
    """A file from the shell. Raises InputError for one that cannot be opened."""
    try:
        # reading one byte more than is allowed tells a file that is too large
        with path.open("rb") as stream:
            return GivenFile(path.name, stream.read(MOST_BYTES + 1))
    except OSError as error:
        reason = error.strerror or "unknown reason"
        raise refuse(path.name, f"The file cannot be opened: {reason}.") from error


def tabs_in(given: GivenFile, header_starts: str = "") -> Tabs:
    """The tables of a CSV file (one, without a name) or of a workbook, as text.

    `header_starts` tells the line of headers of a CSV file from what stands above it.
    Raises InputError for any other kind of file, and for one that is damaged or asks too much.
    """
    _check_size(given)
    kind = _kind(given)
    if kind == ".csv":
        return {"": delimited.rows_of(given, header_starts=header_starts)}
    if kind == ".xlsx":
        return workbooks.tabs_of(given)
    raise refuse(given.name, "Files of this kind are not read.", "a .csv or .xlsx file")


def rows_beside(given: GivenFile, sheet: Sheet) -> list[RawRow]:
    """The rows of a list: a CSV file, a workbook with a tab of its title or one tab, or TOML.

    Raises InputError with every problem of its headers.
    """
    _check_size(given)
    if _kind(given) == ".toml":
        return _from_toml(given, sheet)
    tabs = tabs_in(given)
    titled = [tab for tab in tabs if folded(tab) == folded(sheet.title)]
    if not titled and len(tabs) != 1:
        raise refuse(given.name, f'There is no sheet "{sheet.title}".', "a sheet of this name")
    tab = titled[0] if titled else next(iter(tabs))
    return rows_under_headers(Grid(given.name, tab, sheet, tabs[tab]))


def rows_under_headers(grid: Grid) -> list[RawRow]:
    """The filled rows of a table. Raises InputError with every problem of its headers."""
    rows, problems = headers.rows_of(grid)
    if problems:
        raise InputError(problems)
    return rows


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
    return RawRow(given.name, sheet.key, number, cells, sheet.key)


def _toml_text(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value).strip()

"""Finds the header row of a grid and turns the rows below it into cells by column."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches

from portfolio.domain.errors import Problem
from portfolio.sheets.columns import Column
from portfolio.sheets.layout import column_named, folded
from portfolio.sheets.raw import Grid, RawRow


def rows_of(grid: Grid) -> tuple[list[RawRow], list[Problem]]:
    """The filled rows below the header, or none when the header cannot be used."""
    at = next((i for i, row in enumerate(grid.rows) if any(map(str.strip, row))), None)
    if at is None:
        return [], []
    columns, problems = _columns(grid, at)
    if missing := _missing(grid, at, columns):
        return [], problems + missing
    rows = []
    for number, row in enumerate(grid.rows[at + 1 :], start=at + 2):
        if not any(map(str.strip, row)):
            continue
        problems += _beyond(grid, at, number, row)
        rows.append(_raw_row(grid, number, row, columns))
    return rows, problems


def _columns(grid: Grid, at: int) -> tuple[list[Column | None], list[Problem]]:
    columns: list[Column | None] = []
    problems = []
    for cell in grid.rows[at]:
        column = column_named(grid.sheet, cell)
        if cell.strip() and column is None:
            problems.append(_unknown(grid, at, cell.strip()))
        elif column is not None and column in columns:
            message = "This column stands in the sheet twice."
            problems.append(_problem(grid, at + 1, message, column.header))
        columns.append(column)
    return columns, problems


def _unknown(grid: Grid, at: int, header: str) -> Problem:
    headers = {folded(column.header): column.header for column in grid.sheet.columns}
    close = get_close_matches(folded(header), headers, n=1)
    message = "There is no such column in this sheet."
    if close:
        message += f' Did you mean "{headers[close[0]]}"?'
    expected = "one of: " + ", ".join(headers.values())
    return _problem(grid, at + 1, message, header, expected=expected)


def _missing(grid: Grid, at: int, columns: Sequence[Column | None]) -> list[Problem]:
    return [
        _problem(grid, at + 1, "This column is missing.", column.header, expected=column.help)
        for column in grid.sheet.columns
        if column.required and column not in columns
    ]


def _beyond(grid: Grid, at: int, number: int, row: Sequence[str]) -> list[Problem]:
    """Cells that stand under no header."""
    return [
        _problem(
            grid, number, "There is no header over this cell.", column=letter(place), value=cell
        )
        for place, cell in enumerate(row)
        if cell.strip() and (place >= len(grid.rows[at]) or not grid.rows[at][place].strip())
    ]


def _raw_row(
    grid: Grid, number: int, row: Sequence[str], columns: Sequence[Column | None]
) -> RawRow:
    cells = {
        column.key: cell.strip().replace("\r\n", "\n")
        for column, cell in zip(columns, row, strict=False)
        if column is not None
    }
    for column in columns[len(row) :]:  # a CSV row may end early
        if column is not None:
            cells[column.key] = ""
    times = frozenset(
        column.key
        for place, column in enumerate(columns if grid.times else ())
        if column is not None and (number - 1, place) in grid.times
    )
    return RawRow(grid.file, grid.sheet.key, number, cells, grid.tab, times)


def letter(place: int) -> str:
    """The name that a spreadsheet program gives to a column, counted from 0.

    >>> letter(0), letter(27)
    ('A', 'AB')
    """
    first, last = divmod(place, 26)
    return (letter(first - 1) if first else "") + chr(ord("A") + last)


def _problem(
    grid: Grid, row: int, message: str, column: str, *, expected: str = "", value: str = ""
) -> Problem:
    return Problem(message, expected, grid.file, grid.tab, row, column, value)

"""The table of a log in a file: where its headers are, its times, its numbers."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from portfolio.domain.errors import InputError, Problem
from portfolio.domain.traces import Floats
from portfolio.sheets import logger_channels as places
from portfolio.sheets import logger_times as times
from portfolio.sheets.broken_cells import NEVER_CALCULATED
from portfolio.sheets.headers import letter
from portfolio.sheets.layout import folded
from portfolio.sheets.layout_logs import LOG_CHANNELS
from portfolio.sheets.logger_decimals import Decimals, UnclearNumberError, decimals_shown
from portfolio.sheets.logger_files import Tabs, header_row, holds_log
from portfolio.sheets.logger_times import Notation
from portfolio.sheets.raw import GivenFile, Grid, refuse

Row = tuple[int, Sequence[str]]
"""A row's number as a spreadsheet program shows it, and its cells."""

MOST_CELLS = 4_000_000
"""An hour at ten readings a second on a hundred channels."""
_NO_READING = frozenset(
    {"", "-", "--", "---", "----", "nan", "n/a", "na", "#n/a", "null", "none", "open", "o/c"}
    | {"over", "overrange", "over range", "ol", "o.l.", "error", "err", "fault", "inf", "-inf"}
)
"""What loggers write where there is no reading (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Table:
    """The log's rows, and where its header is, counted from 0."""

    grid: Grid
    header: int

    @property
    def headers(self) -> Sequence[str]:
        """The headers, the one over the times first."""
        return self.grid.rows[self.header]

    def problem(
        self, message: str, place: int, *, row: int = 0, expected: str = "", value: str = ""
    ) -> Problem:
        """A problem in one column; `row` as a spreadsheet program shows it, else the header's."""
        header = self.headers[place].strip() if place < len(self.headers) else ""
        shown = header or letter(place)
        at = row or self.header + 1
        return Problem(message, expected, self.grid.file, self.grid.tab, at, shown, value)


def table_in(given: GivenFile, tabs: Tabs) -> Table:
    """The one visible tab with a row of log headers, from there on.

    Raises InputError where there is none, where several could be meant, and for formulas that
    were never calculated.
    """
    visible = {name: tab for name, tab in tabs.items() if not tab.is_hidden}
    logs = [name for name, tab in visible.items() if holds_log(tab)]
    if len(logs) > 1:
        message = "This sheet holds a log, and so does another one: which is meant cannot be told."
        expected = "one sheet with a log"
        raise InputError([Problem(message, expected, given.name, name) for name in logs])
    if not logs:
        hidden = [name for name, tab in tabs.items() if tab.is_hidden and holds_log(tab)]
        if hidden:
            message = "The sheet with the log is hidden, and what is hidden is not read."
            raise refuse(given.name, message, "a visible sheet with the log", hidden[0])
        expected = f"{times.EXPECTED_HEADER}, the first one"
        tab = next(iter(visible)) if len(visible) == 1 else ""
        raise refuse(given.name, "There is no row of headers.", expected, tab)
    (name,) = logs
    # an error of the spreadsheet is no reading, as it is in a CSV; a formula may be anything
    formulas = [one for one in tabs[name].broken if one.message == NEVER_CALCULATED]
    if formulas:
        raise InputError(formulas)
    return Table(Grid(given.name, name, LOG_CHANNELS, tabs[name].rows), header_row(tabs[name]) or 0)


def sheets_told(read: str, tabs: Tabs) -> list[str]:
    """Which sheet of a workbook the log was read from, and which ones were not read."""
    if len(tabs) == 1:
        return []
    told = [f'The log is read from the sheet "{read}".']
    for name, tab in tabs.items():
        if tab.is_hidden:
            told.append(f'The hidden sheet "{name}" is not read.')
        elif name != read and folded(name) != folded(LOG_CHANNELS.title):
            told.append(f'The sheet "{name}" is not read.')
    return told


def rows_under(table: Table, problems: list[Problem]) -> list[Row]:
    """The filled rows under the headers with their numbers; a row of units is checked and gone.

    Raises InputError for a log of more cells than anybody needs.
    """
    rows = [
        (number, row)
        for number, row in enumerate(table.grid.rows[table.header + 1 :], start=table.header + 2)
        if any(cell.strip() for cell in row)
    ]
    if len(rows) * len(table.headers) > MOST_CELLS:
        message = f"The log has {len(rows):,} rows of {len(table.headers)} columns."
        raise refuse(table.grid.file, message, f"at most {MOST_CELLS:,} cells", table.grid.tab)
    if rows and _are_units(rows[0][1]):
        number, units = rows.pop(0)
        problems += [
            table.problem("This unit is not read.", at, row=number, expected="°C", value=cell)
            for at, cell in enumerate(units[1:], start=1)
            if cell.strip() and not places.is_celsius(cell)
        ]
    if not rows:
        problems.append(table.problem("There is no reading under the headers.", 0))
    problems += _under_no_header(table, rows)
    return rows


def _under_no_header(table: Table, rows: Sequence[Row]) -> list[Problem]:
    """Cells that would be passed over, such as the decimals of 18,4 in a file with commas."""
    bare = [place for place, header in enumerate(table.headers) if not header.strip()]
    width = len(table.headers)
    found = []
    for number, row in rows:
        places_here = [place for place in bare if place < len(row)] + list(range(width, len(row)))
        found += [
            table.problem("There is no header over this cell.", at, row=number, value=row[at])
            for at in places_here
            if row[at].strip()
        ]
    return found


def _are_units(row: Sequence[str]) -> bool:
    filled = [cell.strip() for cell in row if cell.strip()]
    return not any(any(sign.isdigit() for sign in cell) for cell in filled) and any(
        places.is_celsius(cell) or cell.casefold() in ("k", "°f", "f", "mv", "v") for cell in filled
    )


def notation_in(table: Table, rows: Sequence[Row], problems: list[Problem]) -> Notation:
    """How the times are written. Raises InputError where that cannot be told."""
    cells = [row[0] if row else "" for _, row in rows]
    found = times.notation_of(table.headers[0], cells)
    if found is None:
        message = "How these times are written cannot be told."
        problems.append(table.problem(message, 0, expected=times.EXPECTED_HEADER))
        raise InputError(problems)
    return found


def decimals_in(rows: Sequence[Row], places: Collection[int]) -> Decimals:
    """The decimal signs that the times and the readings at `places` show."""
    return decimals_shown(
        (row[0] for _, row in rows if row),
        (row[place] for _, row in rows for place in places if place < len(row)),
    )


def moments_in(
    table: Table,
    rows: Sequence[Row],
    notation: Notation,
    decimals: Decimals,
    problems: list[Problem],
) -> list[float]:
    """The times in s, as they are written; what cannot be read becomes a problem."""
    found = []
    for number, row in rows:
        text = row[0] if row else ""
        try:
            found.append(times.seconds_in(text, notation, decimals))
        except ValueError as error:
            message = "This time cannot be read."
            problems.append(
                table.problem(message, 0, row=number, expected=str(error), value=text.strip())
            )
    dated = [times.has_date(row[0] if row else "") for _, row in rows]
    if any(dated) and not all(dated):
        number = rows[dated.index(not dated[0])][0]
        message = "From this row on the date beside the time comes or goes."
        expected = "a date in every row, or in none"
        problems.append(table.problem(message, 0, row=number, expected=expected))
    return found


def readings_in(
    table: Table,
    rows: Sequence[Row],
    place: int,
    decimals: Decimals,
    problems: list[Problem],
) -> Floats:
    """The readings of one column in °C, shape (rows,), NaN where there is none."""
    found = np.full(len(rows), np.nan)
    for at, (number, row) in enumerate(rows):
        text = row[place].strip() if place < len(row) else ""
        expected = "a number in °C, or an empty cell where there is no reading"
        reading = None
        try:
            reading = decimals.number(text)
        except UnclearNumberError as error:
            expected = str(error)
        if reading is not None:
            found[at] = reading
        elif text.casefold() not in _NO_READING:
            message = "This is no temperature."
            problems.append(
                table.problem(message, place, row=number, expected=expected, value=text)
            )
    return found

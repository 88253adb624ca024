"""Reads the file of a temperature logger into a log; what it cannot read it says, all of it.

Nothing is mended: a cell without a number is no reading, and a clock that goes back stays so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from portfolio.domain.errors import InputError, Problem
from portfolio.domain.plain_text import escaped
from portfolio.domain.traces import Channel, Floats, Log
from portfolio.sheets import logger_channels as places
from portfolio.sheets import logger_times as times
from portfolio.sheets.headers import letter
from portfolio.sheets.layout import folded
from portfolio.sheets.layout_logs import LOG_CHANNELS
from portfolio.sheets.logger_channels import ChannelPlace
from portfolio.sheets.logger_decimals import Decimals
from portfolio.sheets.logger_files import Tabs, log_tabs, rows_beside, rows_of_list
from portfolio.sheets.logger_table import (
    Row,
    Table,
    decimals_in,
    moments_in,
    notation_in,
    readings_in,
    rows_under,
    sheets_told,
    table_in,
)
from portfolio.sheets.logger_times import Notation
from portfolio.sheets.raw import GivenFile, refuse

MOST_PROBLEMS = 200
_LONGEST_HEADER = 120


@dataclass(frozen=True, slots=True, eq=False)
class ReadLog:
    """A log as read, and what was left out or taken in a certain way, for the reader to know."""

    log: Log
    notes: tuple[str, ...]


def read_log(given: GivenFile, channels: GivenFile | None = None, ignition: str = "") -> ReadLog:
    """The log in `given`; `channels` lists where its channels are, `ignition` is on its clock.

    Raises InputError with every problem found, at most 200 of them.
    """
    tabs = log_tabs(given)
    table = table_in(given, tabs)
    listed = _listed(given, tabs, channels)
    problems: list[Problem] = []
    found, notes = _places(table, listed, problems)
    notes = [*sheets_told(table.grid.tab, tabs), *notes]
    rows = rows_under(table, problems)
    notation = notation_in(table, rows, problems)
    used = {place: where for place, where in found.items() if where.use != "no"}
    decimals = decimals_in(rows, used)
    moments = moments_in(table, rows, notation, decimals, problems)
    read = tuple(
        _channel(where, readings_in(table, rows, place, decimals, problems))
        for place, where in used.items()
    )
    if problems:
        raise InputError(_at_most(problems))
    is_dated = any(times.has_date(row[0]) for _, row in rows)
    clock, nights = moments, list[int]()
    if notation is Notation.CLOCK and not is_dated:
        clock, nights = times.past_midnight(moments)
    notes += [f"The clock passes midnight at row {rows[place][0]}." for place in nights]
    # counted from midnight before the first time, seconds stay small enough to be exact
    zero = clock[0] // times.A_DAY * times.A_DAY if is_dated else 0.0
    seconds = np.round(np.array(clock, dtype=float) - zero, 6)
    notes += _clock_notes(seconds, rows)
    lit = None
    if ignition:
        moment = _ignition(ignition, notation, decimals, zero)
        any_day = notation is Notation.CLOCK and not times.has_date(ignition)
        lit = _within(given.name, ignition, moment, seconds, any_day=any_day)
    return ReadLog(Log(seconds, read, lit), tuple(notes))


def _clock_notes(seconds: Floats, rows: Sequence[Row]) -> list[str]:
    """Where the clock of the file does not go forward, by the file's own rows and times."""
    log = Log(seconds, ())
    if not log.clock_faults:
        return []
    first = log.clock_faults[0]
    before, there = (f'row {number} ("{row[0].strip()}")' for number, row in rows[first - 1 :][:2])
    return [
        f"The clock does not go forward at {len(log.clock_faults)} row(s), first at {there}, "
        f"after {before}: nothing from row {rows[log.samples_in_order][0]} on is used."
    ]


def _listed(
    given: GivenFile, tabs: Tabs, channels: GivenFile | None
) -> dict[str, ChannelPlace] | None:
    """The list of channels beside the log, or in a tab of the log's own workbook."""
    if channels is not None:
        return places.listed_places(rows_beside(channels, LOG_CHANNELS))
    for name, tab in tabs.items():
        if folded(name) == folded(LOG_CHANNELS.title) and not tab.is_hidden:
            return places.listed_places(rows_of_list(given, name, LOG_CHANNELS, tab))
    return None


def _channel(where: ChannelPlace, readings: Floats) -> Channel:
    return Channel(
        where.name,
        where.level,
        where.side,
        where.face,
        readings,
        where.position_mm,
        where.layer,
        where.use == "broken",
    )


def _places(
    table: Table, listed: Mapping[str, ChannelPlace] | None, problems: list[Problem]
) -> tuple[dict[int, ChannelPlace], list[str]]:
    """Where the channel of each column is, and which columns are left out."""
    found: dict[int, ChannelPlace] = {}
    notes = [f"The {table.header} row(s) above the headers are not read."] if table.header else []
    by_name = {folded(name): place for name, place in (listed or {}).items()}
    for place, cell in enumerate(table.headers[1:], start=1):
        header, unit = places.without_unit(cell)
        if not header:
            continue
        if len(cell) > _LONGEST_HEADER or not header.isprintable():
            message = "This header is too long, or holds a line break or what cannot be shown."
            expected = f"one line of at most {_LONGEST_HEADER} characters"
            value = escaped(header[:_LONGEST_HEADER])
            problems.append(
                Problem(
                    message,
                    expected,
                    table.grid.file,
                    table.grid.tab,
                    table.header + 1,
                    letter(place),
                    value,
                )
            )
            continue
        where = _place_of(table, place, header, None if listed is None else by_name, problems)
        if where is None:
            if listed is not None:
                notes.append(f"{header} is not in the list of channels: it is left out.")
            continue
        if where.use == "no":
            notes.append(f"{header} is left out by the list of channels.")
        elif unit and not places.is_celsius(unit):
            message = "This unit is not read."
            problems.append(table.problem(message, place, expected="°C", value=unit))
        if folded(where.name) in {folded(other.name) for other in found.values()}:
            problems.append(table.problem("Two channels have this name.", place, value=where.name))
        found[place] = where
    _check_all_found(table, found, listed, problems)
    return found, notes


def _place_of(
    table: Table,
    place: int,
    header: str,
    by_name: Mapping[str, ChannelPlace] | None,
    problems: list[Problem],
) -> ChannelPlace | None:
    if by_name is not None:
        return by_name.get(folded(header)) or by_name.get(folded(table.headers[place]))
    where = places.place_in(header)
    if where is None:
        message = "This header does not say where the channel is."
        problems.append(
            table.problem(message, place, expected=places.EXPECTED_HEADER, value=header)
        )
    return where


def _check_all_found(
    table: Table,
    found: Mapping[int, ChannelPlace],
    listed: Mapping[str, ChannelPlace] | None,
    problems: list[Problem],
) -> None:
    """A listed channel that the log does not have would be missed by nobody."""
    there = {folded(where.name) for where in found.values()}
    for name in listed or {}:
        if folded(name) not in there:
            message = f'The list of channels names "{name}", which is not in the log.'
            problems.append(Problem(message, "a header of this name", table.grid.file))
    if not found and not problems:
        problems.append(table.problem("There is no channel.", 0, expected=places.EXPECTED_HEADER))


def _ignition(text: str, notation: Notation, decimals: Decimals, zero: float) -> float:
    """What a text says of the time of ignition, as the log writes its own times."""
    try:
        if notation is Notation.CLOCK:
            moment = times.seconds_in(text, notation)
            return moment - zero if times.has_date(text) else moment
        return times.duration_in(text, decimals)
    except ValueError as error:
        raise InputError(
            [Problem("The time of ignition cannot be read.", str(error), value=text)]
        ) from error


def _within(file: str, text: str, moment: float, seconds: Floats, *, any_day: bool) -> float:
    """The time of ignition, which must lie within the log; on `any_day` the next one may be it."""
    first, last = float(seconds.min()), float(seconds.max())
    if any_day:
        # a test that began before midnight and was lit after it
        moment += max(0.0, np.ceil((first - moment) / times.A_DAY)) * times.A_DAY
    if not first <= moment <= last:
        raise refuse(
            file, f"The log does not hold the time of ignition, {text}.", "a time on its own clock"
        )
    return moment


def _at_most(problems: list[Problem]) -> list[Problem]:
    if len(problems) <= MOST_PROBLEMS:
        return problems
    more = f"There are {len(problems) - MOST_PROBLEMS:,} more problems like these."
    return [*problems[:MOST_PROBLEMS], Problem(more)]

"""Times as loggers and people write them: seconds, min:s, or the time of day."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from enum import Enum

from portfolio.sheets.logger_decimals import NOT_SHOWN, Decimals, UnclearNumberError

EXPECTED_HEADER = '"Time s", "Time min:s" or "Time clock" over the column of times'
A_DAY, A_MINUTE, AN_HOUR = 86_400.0, 60.0, 3_600.0
_MOST_OVER_MIDNIGHT = 10 * A_MINUTE
_SECONDS = re.compile(r"[+-]?\d{1,9}(?:[.,]\d{1,20})?")
_MINUTES = re.compile(r"(-?)(\d{1,5}):([0-5]?\d(?:[.,]\d+)?)")
_CLOCK = re.compile(
    r"(?:(\d{4}-\d{2}-\d{2})[ T])?(\d{1,3}):([0-5]?\d):([0-5]?\d(?:[.,]\d+)?)(?:\s*Z)?"
)
_HEADER = re.compile(r"time\b[\s(\[]*(.*?)[\s)\]]*")


class Notation(Enum):
    """How times are written; the value is what a message asks for."""

    SECONDS = "a time in s, such as 12.5"
    MINUTES = "a time as min:s, such as 12:30"
    CLOCK = "a time of day as h:min:s, such as 14:05:30, with or without the date before it"


_NAMED = {
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), Notation.SECONDS),
    **dict.fromkeys(("min:s", "mm:ss", "m:ss", "m:s", "min:sec"), Notation.MINUTES),
    **dict.fromkeys(("clock", "hh:mm:ss", "h:min:s", "h:mm:ss", "of day"), Notation.CLOCK),
}


def is_time_header(text: str) -> bool:
    """Whether a header stands over times."""
    return _HEADER.fullmatch(text.strip().casefold()) is not None


def notation_of(header: str, cells: Sequence[str]) -> Notation | None:
    """What the header says, or where it says nothing, what every cell can only be; else None."""
    found = _HEADER.fullmatch(header.strip().casefold())
    named = found[1] if found else ""
    if named:
        return _NAMED.get(named)
    filled = [cell for cell in cells if cell.strip()]
    if filled and all(_SECONDS.fullmatch(cell.strip()) for cell in filled):
        return Notation.SECONDS
    if filled and all(_CLOCK.fullmatch(cell.strip()) for cell in filled):
        return Notation.CLOCK
    return None


def seconds_in(text: str, notation: Notation, decimals: Decimals = NOT_SHOWN) -> float:
    """The seconds that a text means, of a time of day since midnight of the year 1.

    A time of day without a date counts from midnight; `decimals` are those of the file. Raises
    ValueError saying what is expected.

    >>> seconds_in("12:30.5", Notation.MINUTES), seconds_in("0:00:05", Notation.CLOCK)
    (750.5, 5.0)
    """
    text = text.strip()
    if notation is Notation.SECONDS and _SECONDS.fullmatch(text):
        return decimals.number(text) or 0.0
    if notation is Notation.MINUTES and (found := _MINUTES.fullmatch(text)):
        seconds = float(found[2]) * A_MINUTE + _number(found[3])
        return -seconds if found[1] else seconds
    if notation is Notation.CLOCK and (found := _CLOCK.fullmatch(text)):
        day = _days(found[1]) * A_DAY if found[1] else 0.0
        return day + float(found[2]) * AN_HOUR + float(found[3]) * A_MINUTE + _number(found[4])
    raise ValueError(notation.value)


def has_date(text: str) -> bool:
    """Whether a time of day stands with its date."""
    found = _CLOCK.fullmatch(text.strip())
    return found is not None and found[1] is not None


def duration_in(text: str, decimals: Decimals = NOT_SHOWN) -> float:
    """Seconds after ignition, as s, min:s or h:min:s, never as a date.

    Raises ValueError saying what is expected.

    >>> duration_in("43:00"), duration_in("465"), duration_in("0:43:00")
    (2580.0, 465.0, 2580.0)
    """
    for notation in () if has_date(text) else Notation:
        try:
            return seconds_in(text, notation, decimals)
        except UnclearNumberError:
            raise
        except ValueError:
            continue
    raise ValueError("a time as min:s (43:00) or in s (2580)")


def past_midnight(seconds: Sequence[float]) -> tuple[list[float], list[int]]:
    """Times of day made to go on after midnight, and at which places they passed it.

    A clock that goes back to a time that is no more than some minutes later on the next day has
    passed midnight (ours: 10 min); otherwise it is at fault and is left as it is.
    """
    found: list[float] = []
    places = []
    days = 0.0
    for place, moment in enumerate(seconds):
        if found and 0 < moment + days + A_DAY - found[-1] <= _MOST_OVER_MIDNIGHT:
            days += A_DAY
            places.append(place)
        found.append(moment + days)
    return found, places


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _days(text: str) -> int:
    try:
        return date.fromisoformat(text).toordinal()
    except ValueError as error:
        raise ValueError(Notation.CLOCK.value) from error

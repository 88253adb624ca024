"""Dates as people write them: the year first, or the day first; never the month first."""

from __future__ import annotations

import re
from datetime import date

EXPECTED = "a date as 2026-03-31 or, day first, 31/03/2026"
YEARS = range(1900, 2101)
"""The years of a date that is read; others are slips."""
_YEAR_FIRST = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})")
_DAY_FIRST = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4})")


def read_date(text: str) -> date:
    """The date that a text means. Raises ValueError saying what is wrong with it.

    >>> read_date("31/3/2026")
    datetime.date(2026, 3, 31)
    """
    text = text.strip()
    if found := _YEAR_FIRST.fullmatch(text):
        year, month, day = map(int, found.groups())
    elif found := _DAY_FIRST.fullmatch(text):
        day, month, year = map(int, found.groups())
    else:
        raise ValueError("This is not a date that can be read in one way only.")
    if year not in YEARS:
        raise ValueError(f"The year {year} is not between {YEARS[0]} and {YEARS[-1]}.")
    try:
        return date(year, month, day)
    except ValueError as error:
        raise ValueError("There is no such day; the day comes before the month.") from error

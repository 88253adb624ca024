"""Minutes as an address or a form gives them."""

from __future__ import annotations

import math

from portfolio.domain.errors import InputError, Problem

LATEST_MINUTE = 1440.0
"""A day: no log of a test is longer (ours)."""


def minute_in(text: str, *, earliest: float = 0.0) -> float | None:
    """A minute from ignition, None for an empty text.

    Raises InputError for what is no minute, and for one before `earliest` or later than a day.
    """
    if not text.strip():
        return None
    try:
        found = float(text.replace(",", "."))
    except ValueError:
        found = math.nan
    if not earliest <= found <= LATEST_MINUTE:
        expected = f"minutes from ignition, such as 12.5, from {earliest:g} to {LATEST_MINUTE:g}"
        raise InputError([Problem("This is no minute.", expected, value=text[:60])])
    return found

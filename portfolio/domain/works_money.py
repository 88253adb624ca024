"""Money of works in exact minor units (pence, cents), and what interim measures cost so far."""

from __future__ import annotations

import re
from calendar import monthrange
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

MOST_MINOR = 10**13
"""No single amount of works reaches a hundred thousand million; a larger one is a typing error."""
_AMOUNT = re.compile(r"(\d{1,3}(?:,\d{3})+|\d+)(?:\.(\d{1,2}))?")
_MONTHS = 12


@dataclass(frozen=True, slots=True)
class Interim:
    """One interim measure: from when until when (both days included), at what cost a month."""

    started_on: date
    ended_on: date | None = None
    monthly_minor: int | None = None


def read_money(text: str) -> int:
    """An amount as minor units. Raises ValueError saying what was expected.

    >>> read_money("12,500"), read_money("0.10")
    (1250000, 10)
    """
    found = _AMOUNT.fullmatch(text.strip().lstrip("£€").strip())
    if found is None:
        raise ValueError("an amount of money such as 12500 or 12,500.50, with at most two decimals")
    minor = int(found[1].replace(",", "")) * 100 + int((found[2] or "").ljust(2, "0"))
    if minor > MOST_MINOR:
        raise ValueError("an amount below 100,000,000,000")
    return minor


def money_text(minor: int) -> str:
    """An amount as it is written: whole where it is, else with two decimals.

    >>> money_text(1250000), money_text(1250050)
    ('12,500', '12,500.50')
    """
    whole, rest = divmod(minor, 100)
    return f"{whole:,}.{rest:02d}" if rest else f"{whole:,}"


def plain_money(minor: int) -> str:
    """An amount for files, without signs between thousands.

    >>> plain_money(1250050)
    '12500.50'
    """
    return money_text(minor).replace(",", "")


def months_between(first: date, last: date) -> Fraction:
    """How many months the days from `first` to `last`, both included, are: each day counts as its
    share of its own calendar month, so that whole months are whole (ours).

    >>> months_between(date(2026, 1, 1), date(2026, 2, 28))
    Fraction(2, 1)
    """
    if last < first:
        return Fraction(0)
    if (first.year, first.month) == (last.year, last.month):
        return Fraction(last.day - first.day + 1, _days(first))
    whole = (last.year - first.year) * _MONTHS + last.month - first.month - 1
    rest = Fraction(_days(first) - first.day + 1, _days(first)) + Fraction(last.day, _days(last))
    return whole + rest


def cost_so_far(measure: Interim, today: date) -> int | None:
    """What a measure cost until today, or its end, in minor units; None where no cost is told.

    Rounded once, at the end, to the nearest minor unit, half to the even one.
    """
    if measure.monthly_minor is None:
        return None
    last = min(today, measure.ended_on) if measure.ended_on else today
    return round(measure.monthly_minor * months_between(measure.started_on, last))


def _days(day: date) -> int:
    return monthrange(day.year, day.month)[1]

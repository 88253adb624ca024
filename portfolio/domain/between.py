"""Walls that lie between two tests which differ in one number only: candidates for interpolation.

Nothing is covered by that: whoever judges the zone is told that there are two such tests.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import permutations

from portfolio.domain.columns import Answer, answer_table
from portfolio.domain.readings import ALL
from portfolio.domain.rules import RuleSet
from portfolio.domain.values import UNKNOWN, Range, Value

_NO_RULES = RuleSet((), date.min)


@dataclass(frozen=True, slots=True)
class OneApart:
    """A test that a wall differs from in one parameter, everything else being the same or
    allowed, with the tested wall."""

    test: str
    differs: str
    tested: Mapping[str, Value]


@dataclass(frozen=True, slots=True)
class Between:
    """Two tests, between whose numbers a wall's own lies."""

    parameter: str
    lower: str
    upper: str
    low: Range
    value: Range
    high: Range


def between(wall: Mapping[str, Value], tests: Sequence[OneApart]) -> tuple[Between, ...]:
    """Every two tests that a wall lies between, the closest first."""
    found = []
    for one, other in permutations(tests, 2):
        key = one.differs
        low, value, high = one.tested.get(key), wall.get(key), other.tested.get(key)
        if (
            isinstance(low, Range)
            and isinstance(value, Range)
            and isinstance(high, Range)
            and low.high < value.low
            and value.high < high.low
            and differ_in(one.tested, other.tested) == (key,)
        ):
            found.append(Between(key, one.test, other.test, low, value, high))
    return tuple(sorted(found, key=lambda b: (b.parameter, b.high.low - b.low.high, b.lower)))


def differ_in(one: Mapping[str, Value], other: Mapping[str, Value]) -> tuple[str, ...]:
    """The parameters in which two walls are not known to be the same, no rule being asked."""
    return tuple(
        parameter.key
        for parameter in ALL
        if answer_table(
            parameter,
            [one.get(parameter.key, UNKNOWN)],
            [other.get(parameter.key, UNKNOWN)],
            _NO_RULES,
        ).answers[0, 0]
        != Answer.SAME
    )

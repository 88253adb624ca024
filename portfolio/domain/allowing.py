"""What a rule allows of one parameter: distinct values of zones against those of tests."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from portfolio.domain import reaction
from portfolio.domain.arrays import Bools
from portfolio.domain.parameters import Parameter
from portfolio.domain.rules import OF_NUMBERS, ApplicationRule, RuleKind
from portfolio.domain.values import OTHER, OneOf, Range, Value
from portfolio.domain.walls import NONE

SLACK = 1e-9
"""52.1 - 50.1 counts as 2, whatever binary fractions say."""


class Reach(NamedTuple):
    """For each pair of values [zones, tests]: whether the rule allows whatever they could be, and
    whether it allows anything that they could be."""

    whole: Bools
    part: Bools


def reach(
    rule: ApplicationRule, parameter: Parameter, zone: Sequence[Value], test: Sequence[Value]
) -> Reach:
    """How far a rule reaches; nothing unknown or not applicable is ever within it."""
    if rule.kind in OF_NUMBERS:
        return _of_numbers(rule, zone, test)
    allows = _of_words(rule, parameter)
    shape = len(zone), len(test)
    whole, part = np.zeros(shape, dtype=np.bool_), np.zeros(shape, dtype=np.bool_)
    for i, mine in enumerate(zone):
        for j, theirs in enumerate(test):
            if isinstance(mine, OneOf) and isinstance(theirs, OneOf):
                pairs = [(a == b != OTHER) or allows(a, b) for a in mine.keys for b in theirs.keys]
                whole[i, j], part[i, j] = all(pairs), any(pairs)
    return Reach(whole, part)


def _of_words(rule: ApplicationRule, parameter: Parameter) -> Callable[[str, str], bool]:
    if rule.kind is RuleKind.EQUALS:
        return lambda mine, theirs: {mine, theirs} <= rule.equals - {OTHER}
    if rule.kind is RuleKind.PRESENT:
        return lambda mine, theirs: NONE not in (mine, theirs)
    if parameter.attribute.category == "core-category":
        return lambda mine, theirs: mine <= theirs
    return reaction.is_no_worse


def _of_numbers(rule: ApplicationRule, zone: Sequence[Value], test: Sequence[Value]) -> Reach:
    low_z, high_z = (ends[:, None] for ends in ends_of(zone))
    low_t, high_t = (ends[None, :] for ends in ends_of(test))
    # how much more than tested the zone could be at most, and at least; less is negative
    most, least = high_z - low_t, low_z - high_t
    limit = np.full_like(low_t, np.inf if rule.amount is None else rule.amount)
    if rule.share is not None:
        limit = np.minimum(limit, rule.share * low_t)
    above = np.zeros_like(limit) if rule.kind is RuleKind.NOT_MORE else limit
    below = np.zeros_like(limit) if rule.kind is RuleKind.NOT_LESS else limit
    whole = (most <= above + SLACK) & (-least <= below + SLACK)
    part = (least <= above + SLACK) & (-most <= below + SLACK)
    known = _are_ranges(zone)[:, None] & _are_ranges(test)[None, :]
    return Reach(whole & known, part & known)


def ends_of(values: Sequence[Value]) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """The lower and upper ends of measures; 0 for what is none."""
    ends = [(v.low, v.high) if isinstance(v, Range) else (0.0, 0.0) for v in values]
    low, high = np.array(ends, dtype=np.float64).reshape(-1, 2).T
    return low, high


def _are_ranges(values: Sequence[Value]) -> Bools:
    return np.array([isinstance(value, Range) for value in values], dtype=np.bool_)

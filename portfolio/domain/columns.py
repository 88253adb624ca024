"""Columns: the values of many walls for one parameter, and their comparison with many tests.

A column keeps each distinct value once, with a code per wall. Rules are evaluated on distinct
values only; the answers for whole portfolios, and for one zone, are looked up in the same table.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from portfolio.domain.allowing import SLACK, ends_of, reach
from portfolio.domain.arrays import Bools, Codes
from portfolio.domain.parameters import Kind, Parameter
from portfolio.domain.rules import RuleSet
from portfolio.domain.values import NOT_APPLICABLE, OTHER, UNKNOWN, Named, OneOf, Value


class Answer(IntEnum):
    """What the comparison of one parameter says."""

    SAME = 0
    ALLOWED = 1
    DIFFERS = 2
    UNKNOWN = 3

    @property
    def word(self) -> str:
        return self.name.lower()


@dataclass(frozen=True, slots=True)
class Column:
    """`codes` has one entry per wall, an index into `uniques`."""

    codes: Codes
    uniques: tuple[Value, ...]


def column(values: Iterable[Value]) -> Column:
    """The column of a sequence of values."""
    index: dict[Value, int] = {}
    # most values are one and the same object, which is found without comparing it
    kept = list(values)
    seen: dict[int, int] = {}
    for value in kept:
        if id(value) not in seen:
            seen[id(value)] = index.setdefault(value, len(index))
    codes = [seen[id(value)] for value in kept]
    return Column(np.array(codes, dtype=np.int32), tuple(index))


@dataclass(frozen=True, slots=True)
class Table:
    """Answers by (code of the zone's value, code of the test's value).

    `rules` holds the place of the allowing rule in the rule set, -1 where no rule was needed.
    """

    answers: npt.NDArray[np.uint8]
    rules: npt.NDArray[np.int16]


def answer_table(
    parameter: Parameter, zone: Sequence[Value], test: Sequence[Value], rules: RuleSet
) -> Table:
    """Compare every distinct value of the zones with every distinct value of the tests.

    A rule allows when everything that either value could be lies within its reach; what is only
    partly within the reach of some rule is unknown. Of several rules the narrowest is told, a
    shipped one before an organisation's own. Rules that hold for some walls only are not asked
    here.
    """
    answers = _COMPARED[parameter.kind](zone, test)
    used = np.full(answers.shape, -1, dtype=np.int16)
    for place, rule in rules.for_parameter(parameter.key):
        reached = reach(rule, parameter, zone, test)
        used[reached.whole] = place
        answers = np.where(reached.part & (answers == Answer.DIFFERS), Answer.UNKNOWN, answers)
    answers = np.where((used >= 0) & (answers != Answer.SAME), Answer.ALLOWED, answers)
    zone_off, test_off = (_are(side, NOT_APPLICABLE) for side in (zone, test))
    off_both = zone_off[:, None] & test_off[None, :]
    off_one = zone_off[:, None] ^ test_off[None, :]
    unknown = _are(zone, UNKNOWN)[:, None] | _are(test, UNKNOWN)[None, :]
    answers = np.select(
        [unknown, off_both, off_one],
        [np.uint8(Answer.UNKNOWN), np.uint8(Answer.SAME), np.uint8(Answer.DIFFERS)],
        answers,
    ).astype(np.uint8)
    used[answers != Answer.ALLOWED] = -1
    return Table(answers, used)


def _are(values: Sequence[Value], what: Value) -> Bools:
    return np.array([value is what for value in values], dtype=np.bool_)


def _masks(values: Sequence[Value], bits: dict[str, int]) -> npt.NDArray[np.uint64]:
    masks = []
    for value in values:
        keys = value.keys if isinstance(value, OneOf) else ()
        masks.append(sum(1 << bits.setdefault(key, len(bits)) for key in keys))
    return np.array(masks, dtype=np.uint64)


def _compare_sets(zone: Sequence[Value], test: Sequence[Value]) -> npt.NDArray[np.uint8]:
    """Same when both are known and equal; differs when no key is common; else unknown.

    "Other" is no kind of thing: two of them need not be alike.
    """
    bits: dict[str, int] = {}
    left, right = _masks(zone, bits)[:, None], _masks(test, bits)[None, :]
    single_left, single_right = (
        np.array(
            [isinstance(v, OneOf) and v.is_known and OTHER not in v.keys for v in side],
            dtype=np.bool_,
        )
        for side in (zone, test)
    )
    same = (left == right) & single_left[:, None] & single_right[None, :]
    answers = np.where(same, Answer.SAME, Answer.UNKNOWN)
    return np.where((left & right) == 0, Answer.DIFFERS, answers).astype(np.uint8)


def _compare_names(zone: Sequence[Value], test: Sequence[Value]) -> npt.NDArray[np.uint8]:
    index: dict[str, int] = {}
    left, right = (
        np.array(
            [index.setdefault(v.folded if isinstance(v, Named) else "", len(index)) for v in side],
            dtype=np.int64,
        )
        for side in (zone, test)
    )
    return np.where(left[:, None] == right[None, :], Answer.SAME, Answer.DIFFERS).astype(np.uint8)


def _compare_numbers(zone: Sequence[Value], test: Sequence[Value]) -> npt.NDArray[np.uint8]:
    """Same when both are exact and equal; differs when they cannot be; else unknown."""
    low_z, high_z = (ends[:, None] for ends in ends_of(zone))
    low_t, high_t = (ends[None, :] for ends in ends_of(test))
    farthest = np.maximum(high_z - low_t, high_t - low_z)
    nearest = np.maximum(low_z - high_t, low_t - high_z)
    answers = np.where(nearest > SLACK, Answer.DIFFERS, Answer.UNKNOWN)
    return np.where(farthest == 0.0, Answer.SAME, answers).astype(np.uint8)


_COMPARED = {
    Kind.NUMBER: _compare_numbers,
    Kind.CATEGORY: _compare_sets,
    Kind.IDENTITY: _compare_names,
}

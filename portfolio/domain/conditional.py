"""Rules that hold for some walls and tests only: compiled once, asked for pairs.

A condition has to be known of the wall, from a source good enough to lean on, and of the test.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from portfolio.domain.allowing import reach
from portfolio.domain.arrays import Bools, Codes
from portfolio.domain.columns import Column
from portfolio.domain.parameters import PLACE_OF
from portfolio.domain.readings import ALL
from portfolio.domain.rules import ApplicationRule, Condition, RuleSet
from portfolio.domain.values import OneOf


@dataclass(frozen=True, slots=True)
class Conditional:
    """One rule on one parameter. `allowed` is [values of walls, values of tests]; `walls` and
    `tests` say of which walls and tests it holds; `place` is the rule's in its set."""

    place: int
    allowed: Bools
    walls: Bools
    tests: Bools

    def holds(
        self, wall_codes: Codes, test_codes: Codes, wall: Codes | int, test: Codes | int
    ) -> Bools:
        """Whether the rule allows, for pairs given by their values and by their indexes."""
        allowed = self.allowed[wall_codes, test_codes]
        return np.asarray(allowed & self.walls[wall] & self.tests[test], dtype=np.bool_)

    def everywhere(self, wall_codes: Codes, test_codes: Codes) -> Bools:
        """The same for every wall with every test [walls, tests]."""
        allowed = self.allowed[wall_codes][:, test_codes]
        return np.asarray(allowed & self.walls[:, None] & self.tests[None, :], dtype=np.bool_)

    def of(self, start: int, stop: int) -> Conditional:
        """The same, for the walls from `start` up to `stop`."""
        return Conditional(self.place, self.allowed, self.walls[start:stop], self.tests)


def conditional_rules(
    walls: Sequence[Column],
    weak: Bools,
    tests: Sequence[Column],
    rules: RuleSet,
    jurisdictions: Sequence[str],
) -> Mapping[int, tuple[Conditional, ...]]:
    """By parameter, in the order of `ALL`, the rules that hold for some walls and tests only.

    `weak` [walls, parameters] marks what a wall's source is too weak to lean on; `jurisdictions`
    names where each wall stands.
    """
    found: dict[int, tuple[Conditional, ...]] = {}
    for at, parameter in enumerate(ALL):
        asked = rules.for_parameter(parameter.key, conditional=True)
        if asked:
            found[at] = tuple(
                Conditional(
                    place,
                    reach(rule, parameter, walls[at].uniques, tests[at].uniques).whole,
                    _walls_of(rule, walls, weak, jurisdictions),
                    _all_of(_tests_of(rule, tests), len(tests[at].codes)),
                )
                for place, rule in asked
            )
    return found


def _walls_of(
    rule: ApplicationRule, walls: Sequence[Column], weak: Bools, jurisdictions: Sequence[str]
) -> Bools:
    met = [
        _is_met(condition, walls) & ~weak[:, PLACE_OF[condition.parameter]]
        for condition in rule.all_conditions
    ]
    if rule.jurisdictions:
        stands = jurisdictions or [""] * len(weak)
        met.append(np.array([place in rule.jurisdictions for place in stands], dtype=np.bool_))
    return _all_of(iter(met), len(weak))


def _tests_of(rule: ApplicationRule, tests: Sequence[Column]) -> Iterator[Bools]:
    return (_is_met(condition, tests) for condition in rule.all_conditions)


def _is_met(condition: Condition, columns: Sequence[Column]) -> Bools:
    """For which walls the parameter is known to be one of the condition's words."""
    column = columns[PLACE_OF[condition.parameter]]
    known = [isinstance(v, OneOf) and v.keys <= condition.keys for v in column.uniques]
    return np.array(known, dtype=np.bool_)[column.codes]


def _all_of(met: Iterator[Bools], count: int) -> Bools:
    found = np.ones(count, dtype=np.bool_)
    for one in met:
        found &= one
    return found

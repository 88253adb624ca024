"""Rules that hold for some walls and tests only: compiled once, asked for pairs.

A condition has to be known of the wall, from a source good enough to lean on, and of the test.
Where it is not known but could be so, the rule allows nothing, and yet nobody can say that the
difference stands: the answer is unknown.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from portfolio.domain.allowing import Reach, reach
from portfolio.domain.arrays import Bools, Codes
from portfolio.domain.columns import Column
from portfolio.domain.parameters import PLACE_OF
from portfolio.domain.readings import ALL
from portfolio.domain.rules import ApplicationRule, Condition, RuleSet
from portfolio.domain.values import UNKNOWN, OneOf


@dataclass(frozen=True, slots=True)
class Met:
    """For each wall or test: whether every condition is known to be met, and whether it could
    be."""

    known: Bools
    could: Bools

    def of(self, places: Codes) -> Met:
        """The same, for some of them."""
        return Met(self.known[places], self.could[places])


@dataclass(frozen=True, slots=True)
class Conditional:
    """One rule on one parameter; `place` is the rule's in its set. `reached` is [values of walls,
    values of tests]."""

    place: int
    reached: Reach
    walls: Met
    tests: Met

    def holds(
        self, wall_codes: Codes, test_codes: Codes, wall: Codes | int, test: Codes | int
    ) -> Bools:
        """Whether the rule allows, for pairs given by their values and by their indexes."""
        allowed = self.reached.whole[wall_codes, test_codes]
        return np.asarray(allowed & self.walls.known[wall] & self.tests.known[test], dtype=np.bool_)

    def could_hold(
        self, wall_codes: Codes, test_codes: Codes, wall: Codes | int, test: Codes | int
    ) -> Bools:
        """Whether it would allow if what is not known were so; true also where it allows."""
        allowed = self.reached.part[wall_codes, test_codes]
        return np.asarray(allowed & self.walls.could[wall] & self.tests.could[test], dtype=np.bool_)

    def could_hold_anywhere(self, wall_codes: Codes, test_codes: Codes) -> Bools:
        """The same for every wall with every test [walls, tests]."""
        allowed = self.reached.part[wall_codes][:, test_codes]
        could = self.walls.could[:, None] & self.tests.could[None, :]
        return np.asarray(allowed & could, dtype=np.bool_)

    def of(self, places: Codes) -> Conditional:
        """The same, for some of the walls."""
        return Conditional(self.place, self.reached, self.walls.of(places), self.tests)


def conditional_rules(
    walls: Sequence[Column],
    weak: Bools,
    tests: Sequence[Column],
    rules: RuleSet,
    jurisdictions: Sequence[str],
    *,
    shown: Bools,
) -> Mapping[int, tuple[Conditional, ...]]:
    """By parameter, in the order of `ALL`, the rules that hold for some walls and tests only.

    `weak` [walls, parameters] marks what a wall's source is too weak to lean on; `jurisdictions`
    names where each wall stands. `shown` [tests] is False for a test whose wall may not be shown to
    those who would apply the rules: nobody can say how far a wall may differ from one they have not
    seen, and from what a rule allows one could read off what was tested.
    """
    found: dict[int, tuple[Conditional, ...]] = {}
    for at, parameter in enumerate(ALL):
        asked = rules.for_parameter(parameter.key, conditional=True)
        if asked:
            found[at] = tuple(
                Conditional(
                    place,
                    reach(rule, parameter, walls[at].uniques, tests[at].uniques),
                    _walls_of(rule, walls, weak, jurisdictions),
                    _tests_of(rule, tests, shown),
                )
                for place, rule in asked
            )
    return found


def _walls_of(
    rule: ApplicationRule, walls: Sequence[Column], weak: Bools, jurisdictions: Sequence[str]
) -> Met:
    met = []
    for condition in rule.all_conditions:
        found = _met(condition, walls)
        firm = ~weak[:, PLACE_OF[condition.parameter]]
        met.append(Met(found.known & firm, found.could))
    if rule.jurisdictions:
        stands = jurisdictions or [""] * len(weak)
        known = np.array([place in rule.jurisdictions for place in stands], dtype=np.bool_)
        unsaid = np.array([not place for place in stands], dtype=np.bool_)
        met.append(Met(known, known | unsaid))
    return _all_of(met, len(weak))


def _tests_of(rule: ApplicationRule, tests: Sequence[Column], shown: Bools) -> Met:
    met = [_met(condition, tests) for condition in rule.all_conditions]
    if rule.is_own:
        met.append(Met(shown, shown))
    return _all_of(met, len(shown))


def _met(condition: Condition, columns: Sequence[Column]) -> Met:
    """For which walls the parameter is known to be one of the condition's words, or could be."""
    column = columns[PLACE_OF[condition.parameter]]
    known = [isinstance(v, OneOf) and v.keys <= condition.keys for v in column.uniques]
    could = [
        bool(v.keys & condition.keys) if isinstance(v, OneOf) else v is UNKNOWN
        for v in column.uniques
    ]
    return Met(
        np.array(known, dtype=np.bool_)[column.codes], np.array(could, dtype=np.bool_)[column.codes]
    )


def _all_of(met: Iterable[Met], count: int) -> Met:
    known, could = np.ones(count, dtype=np.bool_), np.ones(count, dtype=np.bool_)
    for one in met:
        known &= one.known
        could &= one.could
    return Met(known, could)

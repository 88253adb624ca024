"""Failing tests: which walls they contradict, as tested or by inference.

Each wall and each failing test is read as a set of cells (severity of the facing, family of the
insulation). A failing test speaks against every cell at least as onerous as its own. A wall is
contradicted as tested when its decisive materials are those of a failing test, and by inference
when every cell it could be is spoken against. Where a failing test is recorded so loosely that it
could have been of this wall, or of a milder one, the wall is in doubt. Only what is known, from a
source good enough to lean on, makes a wall milder and acquits it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from portfolio.domain import reaction
from portfolio.domain.alike import alike
from portfolio.domain.arrays import Bools
from portfolio.domain.cells import (
    Axes,
    Axis,
    Read,
    facings,
    is_known,
    reached_alone,
    severity_of,
    spoken_alone,
)
from portfolio.domain.evidence import TestRecord
from portfolio.domain.onerous import Orders
from portfolio.domain.readings import PLACE, Readings
from portfolio.domain.surveys import Wall
from portfolio.domain.two_layers import reached_together, spoken_together
from portfolio.domain.values import UNKNOWN, OneOf, Value
from portfolio.domain.walls import CORE_LIMITS_MJ_PER_KG, NONE, parameters_of

FACING = "facing.1.material"
CORE = "facing.1.core_category"
CLASS = "facing.1.class"
INSULATION = ("insulation.1.material", "insulation.2.material")
_CHUNK_PAIRS = 4_000_000


@dataclass(frozen=True, slots=True)
class Against:
    """The failing tests that speak against one wall, by index into the failing tests given.

    `possible` are those that could: something that nobody has recorded, of the test or of the
    wall, leaves open that the failing wall was this one or a milder one.
    """

    tested: tuple[int, ...] = ()
    inferred: tuple[int, ...] = ()
    possible: tuple[int, ...] = ()

    @property
    def any_way(self) -> frozenset[int]:
        """Those that speak against the wall in whatever way."""
        return frozenset({*self.tested, *self.inferred, *self.possible})


@dataclass(frozen=True, slots=True)
class Spoken:
    """Of each wall: whether some failing test contradicts it as tested, whether all of them
    together do by inference, and whether some could [walls]."""

    tested: Bools
    inferred: Bools
    possible: Bools


@dataclass(frozen=True, slots=True)
class _Told:
    """What each failing test says of each wall [walls, tests]; `inferred` [walls] is whether those
    that it leans on leave nothing open."""

    tested: Bools
    leaning: Bools
    inferred: Bools
    possible: Bools

    def against(self, wall: int) -> Against:
        leaning = self.leaning[wall] & self.inferred[wall]
        told = (self.tested[wall], leaning, self.possible[wall])
        return Against(*(tuple(np.flatnonzero(tests).tolist()) for tests in told))


@dataclass(frozen=True, slots=True)
class Judge:
    """What is needed to judge: the orders, and the family of each insulation material."""

    orders: Orders
    families: Mapping[str, str]

    def against(self, walls: Sequence[Wall], failing: Sequence[TestRecord]) -> list[Against]:
        """For each wall, the failing tests that contradict it."""
        read_walls = [self._read(wall.as_resolved, wall.as_relied_on) for wall in walls]
        index: dict[Read, int] = {}
        places = [index.setdefault(wall, len(index)) for wall in read_walls]
        told = self._judge(list(index), [self._of_test(record) for record in failing])
        found = [told.against(place) for place in range(len(index))]
        return [found[place] for place in places]

    def spoken(self, walls: Readings, failing: Sequence[TestRecord]) -> Spoken:
        """What the failing tests together say of each wall, for as many walls as one likes."""
        tests = [self._of_test(record) for record in failing]
        places = [PLACE[key] for key in (FACING, CORE, CLASS, *INSULATION, *self._other_keys())]
        relied = walls.relied_on[:, places]
        firsts, kind = alike(walls.codes[:, places], relied)
        kinds = [self._read(*walls.accessors(row)) for row in firsts.tolist()]
        found = np.zeros((3, len(kinds)), dtype=np.bool_)
        step = max(1, _CHUNK_PAIRS // max(1, len(tests)))
        for start in range(0, len(kinds), step):
            told = self._judge(kinds[start : start + step], tests)
            part = slice(start, start + step)
            found[0, part], found[1, part] = told.tested.any(axis=1), told.inferred
            found[2, part] = told.possible.any(axis=1)
        tested, inferred, possible = found[:, kind]
        return Spoken(tested, inferred, possible)

    def _other_keys(self) -> list[str]:
        return [key for order in self.orders.others for key in order.parameters]

    def _of_test(self, record: TestRecord) -> Read:
        parameters = parameters_of(record.build_up)

        def value(key: str) -> Value:
            return parameters.get(key, UNKNOWN)

        return self._read(value, value)

    def _read(self, resolved: Callable[[str], Value], relied: Callable[[str], Value]) -> Read:
        first, second = (self._family(resolved(key)) for key in INSULATION)
        return Read(
            resolved(FACING),
            resolved(CORE),
            resolved(CLASS),
            (first, second),
            tuple(relied(key) for key in self._other_keys()),
        )

    def _family(self, value: Value) -> Value:
        if isinstance(value, OneOf):
            return OneOf(frozenset(self.families.get(key, key) for key in value.keys))
        return value

    def _judge(self, walls: list[Read], tests: list[Read]) -> _Told:
        acquitted = self._acquitted(walls, tests)
        axes = self._axes()
        tested = np.zeros(acquitted.shape, dtype=np.bool_)
        leaning = np.zeros(acquitted.shape, dtype=np.bool_)
        inferred = np.array([facings(wall) != frozenset() for wall in walls], dtype=np.bool_)
        by_facing: dict[str, list[int]] = {}
        for j, test in enumerate(tests):
            for facing in facings(test) if is_known(test.facing) else ():
                by_facing.setdefault(facing, []).append(j)
        for i, wall in enumerate(walls):
            if not facings(wall) <= by_facing.keys():
                inferred[i] = False
        for facing, columns in by_facing.items():
            rows = [i for i, wall in enumerate(walls) if facing in facings(wall)]
            if not rows:
                continue
            here = np.ix_(rows, columns)
            facing_walls, facing_tests = [walls[i] for i in rows], [tests[j] for j in columns]
            given = facing, axes, facing_walls, facing_tests, ~acquitted[here]
            alone, lean = spoken_alone(*given)
            together, both_lean = spoken_together(*given)
            inferred[rows] &= alone | together
            leaning[here] = lean | both_lean
            tested[here] = _same_materials(facing, facing_walls, facing_tests) & ~acquitted[here]
        possible = _possible(axes, walls, tests) & ~acquitted
        return _Told(tested, leaning, inferred, possible)

    def _acquitted(self, walls: list[Read], tests: list[Read]) -> Bools:
        """Pairs in which something known makes the wall milder than the failing test."""
        found = np.zeros((len(walls), len(tests)), dtype=np.bool_)
        orders = [order for order in self.orders.others for _ in order.parameters]
        for place, order in enumerate(orders):
            wall_values = [wall.others[place] for wall in walls]
            test_values = [test.others[place] for test in tests]
            memo: dict[tuple[Value, Value], bool] = {}
            for w in set(wall_values):
                for t in set(test_values):
                    memo[w, t] = order.strictly_milder(w, t)
            milder_for = {
                w: np.array([memo[w, t] for t in test_values], dtype=np.bool_)
                for w in set(wall_values)
                if any(memo[w, t] for t in set(test_values))
            }
            for i, w in enumerate(wall_values):
                if w in milder_for:
                    found[i] |= milder_for[w]
        return found

    def _axes(self) -> Axes:
        families = tuple(sorted({*self.families.values(), NONE}))
        return Axes(
            Axis(tuple(CORE_LIMITS_MJ_PER_KG), self.orders.core),
            Axis(reaction.CLASSES, self.orders.facing_class, reaction.at_least_in_main_class),
            Axis(families, self.orders.insulation),
        )


def _possible(axes: Axes, walls: list[Read], tests: list[Read]) -> Bools:
    """Pairs in which the test could have been of the wall, or of a milder one [walls, tests].

    A wall whose facing nobody knows is left out: it is too little known whatever the tests say.
    """
    found = np.zeros((len(walls), len(tests)), dtype=np.bool_)
    for facing in frozenset[str]().union(*(facings(wall) for wall in walls)):
        rows = [i for i, wall in enumerate(walls) if facing in facings(wall)]
        columns = [j for j, test in enumerate(tests) if facing in (facings(test) or {facing})]
        if columns:
            given = facing, axes, [walls[i] for i in rows], [tests[j] for j in columns]
            found[np.ix_(rows, columns)] |= reached_alone(*given) | reached_together(*given)
    return found


def _same_materials(facing: str, walls: list[Read], tests: list[Read]) -> Bools:
    """Pairs with the same facing, the same core category or class, the same insulation."""
    wall_kinds, wall_places = _kinds(facing, walls)
    test_kinds, test_places = _kinds(facing, tests)
    same = np.array(
        [[_is_same(facing, wall, test) for test in test_kinds] for wall in wall_kinds],
        dtype=np.bool_,
    )
    known = np.array([is_known(wall.facing) for wall in walls], dtype=np.bool_)
    return np.array(same[np.ix_(wall_places, test_places)] & known[:, None], dtype=np.bool_)


def _kinds(facing: str, walls: list[Read]) -> tuple[list[Read], list[int]]:
    """One of each kind as far as `_is_same` asks, and for every wall the place of its kind."""
    index: dict[tuple[object, ...], int] = {}
    kinds: list[Read] = []
    places = []
    for wall in walls:
        place = index.setdefault((severity_of(facing, wall), wall.insulation), len(kinds))
        if place == len(kinds):
            kinds.append(wall)
        places.append(place)
    return kinds, places


def _is_same(facing: str, wall: Read, test: Read) -> bool:
    """The same severity and insulation, both known, and nothing in the test that the wall lacks,
    however loosely it was recorded."""
    severity, tested = severity_of(facing, wall), _families_present(test)
    is_alike = is_known(severity) and severity == severity_of(facing, test)
    could_be = frozenset[str]().union(*(_could_be(layer) for layer in wall.insulation))
    lacks = any(
        isinstance(layer, OneOf) and not could_be & layer.keys and NONE not in layer.keys
        for layer in test.insulation
    )
    is_everything = UNKNOWN in wall.insulation
    return (
        is_alike
        and bool(tested)
        and tested <= _families_present(wall)
        and (is_everything or not lacks)
    )


def _could_be(insulation: Value) -> frozenset[str]:
    return insulation.keys if isinstance(insulation, OneOf) else frozenset()


def _families_present(wall: Read) -> frozenset[str]:
    """The insulation families known to be in the wall; "none" where it is known to have none."""
    first, second = wall.insulation
    found = set(first.keys) if isinstance(first, OneOf) and first.is_known else set()
    if isinstance(second, OneOf) and second.is_known and second.keys != {NONE}:
        found |= second.keys
    return frozenset(found)

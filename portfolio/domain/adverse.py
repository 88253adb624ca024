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
from portfolio.domain.evidence import TestRecord
from portfolio.domain.onerous import CategoryOrder, Orders
from portfolio.domain.readings import PLACE, Readings
from portfolio.domain.surveys import Wall
from portfolio.domain.values import NOT_APPLICABLE, UNKNOWN, OneOf, Value, known
from portfolio.domain.walls import COMPOSITES, CORE_LIMITS_MJ_PER_KG, NONE, parameters_of

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
class _Wall:
    """The adverse reading of a wall or test: equal walls are judged once."""

    facing: Value
    core: Value
    fire_class: Value
    insulation: tuple[Value, Value]
    others: tuple[Value, ...]


class _Axis:
    """One side of the cells: its keys in order, and the order between them as a matrix."""

    def __init__(
        self,
        keys: tuple[str, ...],
        order: CategoryOrder,
        loose: Callable[[str, str], bool] | None = None,
    ) -> None:
        """`loose` is the order that is asked for doubts, where it differs: it acquits less."""
        self.keys = keys
        self._above = self._matrix(order.at_least)
        self._reached = self._above if loose is None else self._matrix(loose)
        self._possible: dict[Value, Bools] = {}

    def _matrix(self, at_least: Callable[[str, str], bool]) -> Bools:
        rows = [[at_least(key, than) for key in self.keys] for than in self.keys]
        return np.array(rows, dtype=np.bool_)

    def possible(self, value: Value) -> Bools:
        """Which keys `value` could be."""
        if value not in self._possible:
            if isinstance(value, OneOf):
                found = np.array([key in value.keys for key in self.keys], dtype=np.bool_)
            else:
                found = np.full(len(self.keys), value is UNKNOWN, dtype=np.bool_)
            self._possible[value] = found
        return self._possible[value]

    def at_least(self, value: Value) -> Bools:
        """Which keys are at least as onerous as everything `value` could be."""
        could_be = self.possible(value)
        if not could_be.any():
            return np.zeros(len(self.keys), dtype=np.bool_)
        return np.array(self._above[could_be].all(axis=0), dtype=np.bool_)

    def could_reach(self, value: Value) -> Bools:
        """Which keys are at least as onerous as something that `value` could be."""
        return np.array(self._reached[self.possible(value)].any(axis=0), dtype=np.bool_)


@dataclass(frozen=True, slots=True)
class Judge:
    """What is needed to judge: the orders, and the family of each insulation material."""

    orders: Orders
    families: Mapping[str, str]

    def against(self, walls: Sequence[Wall], failing: Sequence[TestRecord]) -> list[Against]:
        """For each wall, the failing tests that contradict it."""
        read_walls = [self._read(wall.as_resolved, wall.as_relied_on) for wall in walls]
        index: dict[_Wall, int] = {}
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

    def _of_test(self, record: TestRecord) -> _Wall:
        parameters = parameters_of(record.build_up)

        def value(key: str) -> Value:
            return parameters.get(key, UNKNOWN)

        return self._read(value, value)

    def _read(self, resolved: Callable[[str], Value], relied: Callable[[str], Value]) -> _Wall:
        first, second = (self._family(resolved(key)) for key in INSULATION)
        return _Wall(
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

    def _judge(self, walls: list[_Wall], tests: list[_Wall]) -> _Told:
        acquitted = self._acquitted(walls, tests)
        axes = self._axes()
        tested = np.zeros(acquitted.shape, dtype=np.bool_)
        leaning = np.zeros(acquitted.shape, dtype=np.bool_)
        inferred = np.array([_facings(wall) != frozenset() for wall in walls], dtype=np.bool_)
        by_facing: dict[str, list[int]] = {}
        for j, test in enumerate(tests):
            for facing in _facings(test) if _is_known(test.facing) else ():
                by_facing.setdefault(facing, []).append(j)
        for i, wall in enumerate(walls):
            if not _facings(wall) <= by_facing.keys():
                inferred[i] = False
        for facing, columns in by_facing.items():
            rows = [i for i, wall in enumerate(walls) if facing in _facings(wall)]
            if not rows:
                continue
            here = np.ix_(rows, columns)
            facing_walls, facing_tests = [walls[i] for i in rows], [tests[j] for j in columns]
            spoken, lean = _inferred(facing, axes, facing_walls, facing_tests, ~acquitted[here])
            inferred[rows] &= spoken
            leaning[here] = lean
            tested[here] = _same_materials(facing, facing_walls, facing_tests) & ~acquitted[here]
        possible = _possible(axes, walls, tests) & ~acquitted
        return _Told(tested, leaning, inferred, possible)

    def _acquitted(self, walls: list[_Wall], tests: list[_Wall]) -> Bools:
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

    def _axes(self) -> _Axes:
        families = tuple(sorted({*self.families.values(), NONE}))
        return _Axes(
            _Axis(tuple(CORE_LIMITS_MJ_PER_KG), self.orders.core),
            _Axis(reaction.CLASSES, self.orders.facing_class, reaction.at_least_in_main_class),
            _Axis(families, self.orders.insulation),
        )


@dataclass(frozen=True, slots=True)
class _Axes:
    core: _Axis
    fire_class: _Axis
    family: _Axis

    def severity(self, facing: str) -> _Axis:
        return self.core if facing in COMPOSITES else self.fire_class


def _inferred(
    facing: str, axes: _Axes, walls: list[_Wall], tests: list[_Wall], standing: Bools
) -> tuple[Bools, Bools]:
    """Whether every cell of each wall is spoken against, and by which tests [walls, tests].

    It is enough that, whichever severity the facing has, one of the layers is spoken against
    whatever it could be; which layer may depend on the severity.
    """
    speaks = np.array([_spoken_cells(facing, test, axes) for test in tests], dtype=np.float32)
    against: Bools = np.greater(standing.astype(np.float32) @ speaks, 0)
    families = len(axes.family.keys)
    layers = [_possible_cells(facing, walls, layer, axes) for layer in (0, 1)]
    is_open = _any_family(layers[0], families) | _any_family(layers[1], families)
    whole: list[Bools] = []
    for cells in layers:
        told = _any_family(cells, families) & ~_any_family(cells & ~against, families)
        is_open &= ~told
        whole.append(told)
    some = (whole[0] | whole[1]).any(axis=1)
    contradicted = np.array(some & ~is_open.any(axis=1), dtype=np.bool_)
    leaning = np.zeros(standing.shape, dtype=np.bool_)
    rows = np.flatnonzero(contradicted)
    for cells, told in zip(layers, whole, strict=True):
        decided = cells[rows] & np.repeat(told[rows], families, axis=1)
        leaning[rows] |= np.greater(decided.astype(np.float32) @ speaks.T, 0)
    return contradicted, leaning & standing


def _possible(axes: _Axes, walls: list[_Wall], tests: list[_Wall]) -> Bools:
    """Pairs in which the test could have been of the wall, or of a milder one [walls, tests].

    A wall whose facing nobody knows is left out: it is too little known whatever the tests say.
    """
    found = np.zeros((len(walls), len(tests)), dtype=np.bool_)
    for facing in frozenset[str]().union(*(_facings(wall) for wall in walls)):
        rows = [i for i, wall in enumerate(walls) if facing in _facings(wall)]
        columns = [j for j, test in enumerate(tests) if facing in (_facings(test) or {facing})]
        if not columns:
            continue
        reached = np.array(
            [_reached_cells(facing, tests[j], axes) for j in columns], dtype=np.float32
        )
        facing_walls = [walls[i] for i in rows]
        for layer in (0, 1):
            read = _possible_cells(facing, facing_walls, layer, axes, may_be_absent=True)
            cells = read.astype(np.float32)
            found[np.ix_(rows, columns)] |= np.greater(cells @ reached.T, 0)
    return found


def _reached_cells(facing: str, test: _Wall, axes: _Axes) -> Bools:
    """Cells at least as onerous as something that the test's wall could have been."""
    severity, family = axes.severity(facing), axes.family
    families = family.could_reach(test.insulation[0])
    second = test.insulation[1]
    if isinstance(second, OneOf) and NONE not in second.keys:
        families = families & family.could_reach(second)
    return np.outer(severity.could_reach(_severity(facing, test)), families).ravel()


def _any_family(cells: Bools, families: int) -> Bools:
    """Whether there is a cell of each severity, as [walls, severities]."""
    return np.array(cells.reshape(len(cells), -1, families).any(axis=2), dtype=np.bool_)


def _facings(wall: _Wall) -> frozenset[str]:
    return wall.facing.keys if isinstance(wall.facing, OneOf) else frozenset()


def _is_known(value: Value) -> bool:
    return isinstance(value, OneOf) and value.is_known


def _severity(facing: str, wall: _Wall) -> Value:
    """Core category of a composite panel, class of any other facing."""
    value = wall.core if facing in COMPOSITES else wall.fire_class
    return UNKNOWN if value is NOT_APPLICABLE else value


def _spoken_cells(facing: str, test: _Wall, axes: _Axes) -> Bools:
    severity, family = axes.severity(facing), axes.family
    families = family.at_least(test.insulation[0])
    second = test.insulation[1]
    if isinstance(second, OneOf) and second.keys != {NONE}:
        families = families & family.at_least(second)
    return np.outer(severity.at_least(_severity(facing, test)), families).ravel()


def _possible_cells(
    facing: str, walls: list[_Wall], layer: int, axes: _Axes, *, may_be_absent: bool = False
) -> Bools:
    """Cells that each wall could be by one of its insulation layers, as [walls, cells].

    A second layer that nobody has recorded says nothing and is left out. One that may be absent
    contradicts nothing for certain, but leaves in doubt what it could be.
    """
    severity, family = axes.severity(facing), axes.family
    rows: dict[tuple[Value, Value], Bools] = {}
    found = []
    for wall in walls:
        insulation = wall.insulation[layer]
        key = (_severity(facing, wall), insulation)
        if key not in rows:
            families = family.possible(insulation)
            if layer == 1:
                families = _of_second(families, insulation, axes, may_be_absent=may_be_absent)
            rows[key] = np.outer(severity.possible(key[0]), families).ravel()
        found.append(rows[key])
    return np.array(found, dtype=np.bool_)


def _of_second(families: Bools, insulation: Value, axes: _Axes, *, may_be_absent: bool) -> Bools:
    if not isinstance(insulation, OneOf) or (NONE in insulation.keys and not may_be_absent):
        return np.zeros_like(families)
    return families & ~axes.family.possible(known(NONE))


def _same_materials(facing: str, walls: list[_Wall], tests: list[_Wall]) -> Bools:
    """Pairs with the same facing, the same core category or class, the same insulation."""
    wall_kinds, wall_places = _kinds(facing, walls)
    test_kinds, test_places = _kinds(facing, tests)
    same = np.array(
        [[_is_same(facing, wall, test) for test in test_kinds] for wall in wall_kinds],
        dtype=np.bool_,
    )
    known = np.array([_is_known(wall.facing) for wall in walls], dtype=np.bool_)
    return np.array(same[np.ix_(wall_places, test_places)] & known[:, None], dtype=np.bool_)


def _kinds(facing: str, walls: list[_Wall]) -> tuple[list[_Wall], list[int]]:
    """One of each kind as far as `_is_same` asks, and for every wall the place of its kind."""
    index: dict[tuple[object, ...], int] = {}
    kinds: list[_Wall] = []
    places = []
    for wall in walls:
        place = index.setdefault((_severity(facing, wall), wall.insulation), len(kinds))
        if place == len(kinds):
            kinds.append(wall)
        places.append(place)
    return kinds, places


def _is_same(facing: str, wall: _Wall, test: _Wall) -> bool:
    """The same severity and insulation, both known."""
    severity, tested = _severity(facing, wall), _families_present(test)
    is_alike = _is_known(severity) and severity == _severity(facing, test)
    return is_alike and bool(tested) and tested <= _families_present(wall)


def _families_present(wall: _Wall) -> frozenset[str]:
    """The insulation families known to be in the wall; "none" where it is known to have none."""
    first, second = wall.insulation
    found = set(first.keys) if isinstance(first, OneOf) and first.is_known else set()
    if isinstance(second, OneOf) and second.is_known and second.keys != {NONE}:
        found |= second.keys
    return frozenset(found)

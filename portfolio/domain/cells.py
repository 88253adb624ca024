"""Walls and tests as cells: severity of the facing, family of the insulation.

A wall is every cell that it could be; a failing test speaks against the cells at least as onerous
as its own.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from portfolio.domain.arrays import Bools
from portfolio.domain.onerous import CategoryOrder
from portfolio.domain.values import NOT_APPLICABLE, UNKNOWN, OneOf, Value, known
from portfolio.domain.walls import COMPOSITES, NONE


@dataclass(frozen=True, slots=True)
class Read:
    """The adverse reading of a wall or test: equal walls are judged once."""

    facing: Value
    core: Value
    fire_class: Value
    insulation: tuple[Value, Value]
    others: tuple[Value, ...]


class Axis:
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
class Axes:
    """The sides of the cells."""

    core: Axis
    fire_class: Axis
    family: Axis

    def severity(self, facing: str) -> Axis:
        return self.core if facing in COMPOSITES else self.fire_class


def spoken_alone(
    facing: str, axes: Axes, walls: list[Read], tests: list[Read], standing: Bools
) -> tuple[Bools, Bools]:
    """Whether every cell of each wall is spoken against, and by which tests [walls, tests].

    It is enough that, whichever severity the facing has, one of the layers is spoken against
    whatever it could be; which layer may depend on the severity.
    """
    speaks = np.array([spoken_cells(facing, test, axes) for test in tests], dtype=np.float32)
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


def reached_alone(facing: str, axes: Axes, walls: list[Read], tests: list[Read]) -> Bools:
    """Pairs in which one layer of something that the wall could be is at least as onerous as
    everything that the test's wall could have had [walls, tests]."""
    reached = np.array([_reached_cells(facing, test, axes) for test in tests], dtype=np.float32)
    found = np.zeros((len(walls), len(tests)), dtype=np.bool_)
    for layer in (0, 1):
        read = _possible_cells(facing, walls, layer, axes, may_be_absent=True)
        found |= np.greater(read.astype(np.float32) @ reached.T, 0)
    return found


def _reached_cells(facing: str, test: Read, axes: Axes) -> Bools:
    """Cells at least as onerous as something that the test's wall could have been."""
    severity, family = axes.severity(facing), axes.family
    families = family.could_reach(test.insulation[0])
    second = test.insulation[1]
    if isinstance(second, OneOf) and NONE not in second.keys:
        families = families & family.could_reach(second)
    return np.outer(severity.could_reach(severity_of(facing, test)), families).ravel()


def _any_family(cells: Bools, families: int) -> Bools:
    """Whether there is a cell of each severity, as [walls, severities]."""
    return np.array(cells.reshape(len(cells), -1, families).any(axis=2), dtype=np.bool_)


def facings(wall: Read) -> frozenset[str]:
    """What the facing could be; nothing where nobody knows."""
    return wall.facing.keys if isinstance(wall.facing, OneOf) else frozenset()


def is_known(value: Value) -> bool:
    """Whether a category is known to be one thing."""
    return isinstance(value, OneOf) and value.is_known


def severity_of(facing: str, wall: Read) -> Value:
    """Core category of a composite panel, class of any other facing."""
    value = wall.core if facing in COMPOSITES else wall.fire_class
    return UNKNOWN if value is NOT_APPLICABLE else value


def spoken_cells(facing: str, test: Read, axes: Axes) -> Bools:
    """Cells at least as onerous as everything that the test's wall could have been."""
    severity, family = axes.severity(facing), axes.family
    families = family.at_least(test.insulation[0])
    second = test.insulation[1]
    if isinstance(second, OneOf) and second.keys != {NONE}:
        families = families & family.at_least(second)
    return np.outer(severity.at_least(severity_of(facing, test)), families).ravel()


def _possible_cells(
    facing: str, walls: list[Read], layer: int, axes: Axes, *, may_be_absent: bool = False
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
        key = (severity_of(facing, wall), insulation)
        if key not in rows:
            families = family.possible(insulation)
            if layer == 1:
                families = of_second(insulation, axes, may_be_absent=may_be_absent)
            rows[key] = np.outer(severity.possible(key[0]), families).ravel()
        found.append(rows[key])
    return np.array(found, dtype=np.bool_)


def of_second(insulation: Value, axes: Axes, *, may_be_absent: bool = False) -> Bools:
    """The families that a second layer could be [families]; none where nobody has recorded one."""
    families = axes.family.possible(insulation)
    if not isinstance(insulation, OneOf) or (NONE in insulation.keys and not may_be_absent):
        return np.zeros_like(families)
    return families & ~axes.family.possible(known(NONE))

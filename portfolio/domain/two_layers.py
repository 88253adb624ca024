"""Failing tests of walls with two insulation layers, beside walls that have two.

No one layer of a wall need be at least as onerous as both of a test's: it is enough that, in as
bad a facing, each of the test's has one in the wall that is.
"""

from __future__ import annotations

import numpy as np

from portfolio.domain.arrays import Bools
from portfolio.domain.cells import Axes, Read, of_second, severity_of, spoken_cells
from portfolio.domain.values import OneOf, Value
from portfolio.domain.walls import NONE


def spoken_together(
    facing: str, axes: Axes, walls: list[Read], tests: list[Read], standing: Bools
) -> tuple[Bools, Bools]:
    """Walls of two layers of which every possibility is spoken against by some of the tests, and by
    which [walls, tests]; walls of one layer are not asked here."""
    contradicted = np.zeros(len(walls), dtype=np.bool_)
    leaning = np.zeros(standing.shape, dtype=np.bool_)
    if not any(_may_have_two(test) for test in tests):
        return contradicted, leaning
    told = np.array([_told(facing, test, axes) for test in tests], dtype=np.bool_)
    for i, wall in enumerate(walls):
        if not (_has_two(wall.insulation[1]) and standing[i].any()):
            continue
        possible = _possible(facing, wall, axes)
        against = told[standing[i]]
        if possible.any() and not (possible & ~against.any(axis=0)).any():
            contradicted[i] = True
            leaning[i, standing[i]] = (against & possible).any(axis=(1, 2, 3))
    return contradicted, leaning


def reached_together(facing: str, axes: Axes, walls: list[Read], tests: list[Read]) -> Bools:
    """Pairs in which the layers of something that the test's wall could have been have each one in
    something that the wall could be [walls, tests]."""
    family, severity = axes.family, axes.severity(facing)
    places = [j for j, test in enumerate(tests) if _has_two(test.insulation[1])]
    found = np.zeros((len(walls), len(tests)), dtype=np.bool_)
    if not places or not walls:
        return found
    doubles = [tests[j] for j in places]
    first, second = (
        np.array([family.could_reach(test.insulation[layer]) for test in doubles]).T
        for layer in (0, 1)
    )
    inner = np.array([family.possible(wall.insulation[0]) for wall in walls])
    outer = np.array([of_second(wall.insulation[1], axes, may_be_absent=True) for wall in walls])
    bad = np.array([severity.could_reach(severity_of(facing, test)) for test in doubles]).T
    as_bad = _meet(np.array([severity.possible(severity_of(facing, w)) for w in walls]), bad)
    straight = _meet(inner, first) & _meet(outer, second)
    crossed = _meet(outer, first) & _meet(inner, second)
    found[:, places] = as_bad & (straight | crossed)
    return found


def _has_two(second: Value) -> bool:
    """A second layer that nobody has recorded, or that may be absent, is none to lean on."""
    return isinstance(second, OneOf) and NONE not in second.keys


def _may_have_two(test: Read) -> bool:
    second = test.insulation[1]
    return isinstance(second, OneOf) and second.keys != {NONE}


def _meet(walls: Bools, tests: Bools) -> Bools:
    """Whether there is a key that both have; [walls, keys] against [keys, tests]."""
    return np.greater(walls.astype(np.float32) @ tests.astype(np.float32), 0)


def _possible(facing: str, wall: Read, axes: Axes) -> Bools:
    """What the wall could be, as [severities, families of one layer, families of the other]."""
    severities = axes.severity(facing).possible(severity_of(facing, wall))
    inner = axes.family.possible(wall.insulation[0])
    outer = of_second(wall.insulation[1], axes)
    found: Bools = severities[:, None, None] & inner[None, :, None] & outer[None, None, :]
    return found


def _told(facing: str, test: Read, axes: Axes) -> Bools:
    """What the test speaks against, in the same shape."""
    family, severity = axes.family, axes.severity(facing)
    alone = spoken_cells(facing, test, axes).reshape(-1, len(family.keys))
    found: Bools = alone[:, :, None] | alone[:, None, :]
    if _may_have_two(test):
        first, second = (family.at_least(layer) for layer in test.insulation)
        both = (first[:, None] | first[None, :]) & (second[:, None] | second[None, :])
        found |= severity.at_least(severity_of(facing, test))[:, None, None] & both
    return found

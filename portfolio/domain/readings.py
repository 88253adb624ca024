"""Many walls read once into matrices: values by code, strengths, conflicts.

Each matrix is [walls, parameters] in the order of `ALL`. Code 0 of every parameter is unknown.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from portfolio.domain.alike import alike
from portfolio.domain.arrays import Bools, Codes
from portfolio.domain.parameters import PARAMETERS, Parameter, Strength
from portfolio.domain.surveys import Wall
from portfolio.domain.values import UNKNOWN, Value

ALL: tuple[Parameter, ...] = tuple(PARAMETERS.values())
PLACE: dict[str, int] = {parameter.key: place for place, parameter in enumerate(ALL)}
LEAST = np.array([parameter.attribute.least for parameter in ALL], dtype=np.int8)
_NOT_KNOWN = -1


@dataclass(frozen=True, slots=True)
class Readings:
    """`uniques[place][code]` is the value that `codes[wall, place]` stands for."""

    codes: Codes
    strengths: npt.NDArray[np.int8]
    conflicts: Bools
    uniques: tuple[tuple[Value, ...], ...]

    @property
    def shown(self) -> Codes:
        """The codes that are compared: an assumption is no knowledge, so it is unknown."""
        return np.where(self.strengths == Strength.ASSUMED, 0, self.codes).astype(np.int32)

    @property
    def too_weak(self) -> Bools:
        """Known, but from a source that cover cannot lean on."""
        weak: Bools = (self.strengths != _NOT_KNOWN) & (self.strengths < LEAST)
        return weak

    @property
    def relied_on(self) -> Bools:
        """Known from a source that cover can lean on."""
        relied: Bools = self.strengths >= LEAST
        return relied

    def accessors(self, wall: int) -> tuple[Callable[[str], Value], Callable[[str], Value]]:
        """One wall's value of a parameter as it is resolved, and as it can be relied on."""

        def resolved(key: str) -> Value:
            return self.uniques[PLACE[key]][int(self.codes[wall, PLACE[key]])]

        def relied(key: str) -> Value:
            place = PLACE[key]
            return resolved(key) if self.strengths[wall, place] >= LEAST[place] else UNKNOWN

        return resolved, relied

    def of(self, walls: Sequence[int] | Codes) -> Readings:
        """The readings of some of the walls."""
        return Readings(
            self.codes[walls], self.strengths[walls], self.conflicts[walls], self.uniques
        )


def read_walls(walls: Sequence[Wall]) -> Readings:
    """Read every fact of every wall once, and a wall that is given many times only once."""
    places: dict[int, int] = {}
    rows = [places.setdefault(id(wall), len(places)) for wall in walls]
    if len(places) == len(walls):
        return _read(walls)
    seen = {id(wall): wall for wall in walls}
    return _read([seen[key] for key in places]).of(rows)


def _read(walls: Sequence[Wall]) -> Readings:
    index: list[dict[Value, int]] = [{UNKNOWN: 0} for _ in ALL]
    shape = len(walls), len(ALL)
    codes = np.zeros(shape, dtype=np.int32)
    strengths = np.full(shape, _NOT_KNOWN, dtype=np.int8)
    conflicts = np.zeros(shape, dtype=np.bool_)
    for row, wall in enumerate(walls):
        places, found, strong = [], [], []
        for key, fact in wall.facts.items():
            place = PLACE[key]
            known = index[place]
            places.append(place)
            found.append(known.setdefault(fact.value, len(known)))
            strong.append(fact.strength)
            if fact.in_conflict:
                conflicts[row, place] = True
        codes[row, places] = found
        strengths[row, places] = strong
    return Readings(codes, strengths, conflicts, tuple(tuple(known) for known in index))


def distinct(readings: Readings, groups: Codes) -> tuple[Codes, Codes]:
    """The first wall of each kind and group, and for every wall the place of its kind."""
    return alike(readings.codes, readings.strengths, readings.conflicts, groups[:, None])

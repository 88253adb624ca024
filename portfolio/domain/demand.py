"""Demand: gaps that recur, seen from the laboratory: walls alike, and what a test of them needs."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.priorities import Gap
from portfolio.domain.surveys import Wall
from portfolio.domain.values import UNKNOWN, Value

ALIKE_BY: tuple[str, ...] = (
    "wall.system_family",
    "wall.substrate",
    "facing.1.material",
    "facing.1.core_category",
    "insulation.1.material",
    "insulation.2.material",
    "sheathing.1.material",
    "barrier-horizontal.1.type",
)
"""The parameters that make two walls alike enough for one test to speak of both (ours)."""


@dataclass(frozen=True, slots=True)
class WallGap:
    """A gap with its wall."""

    gap: Gap
    wall: Wall


@dataclass(frozen=True, slots=True)
class Demand:
    """Gaps with walls alike. Heights in metres, areas in square metres; `area_unknown` counts
    the zones that have no recorded area and so add nothing to it."""

    signature: tuple[tuple[str, Value], ...]
    gaps: tuple[WallGap, ...]
    buildings: tuple[str, ...]
    owners: tuple[str, ...]
    area_m2: float
    area_unknown: int
    highest_m: float | None
    to_contain: tuple[tuple[str, tuple[Value, ...], int], ...]

    @property
    def unknown_of_signature(self) -> tuple[str, ...]:
        return tuple(key for key, value in self.signature if value is UNKNOWN)


def wall_key(wall: Wall) -> str:
    """A short key that walls alike have in common, for the store to group by."""
    return _hashed(_signature(wall))


@lru_cache(maxsize=100_000)
def _hashed(signature: tuple[tuple[str, Value], ...]) -> str:
    return hashlib.sha256(repr_of(signature).encode()).hexdigest()[:16]


def _signature(wall: Wall) -> tuple[tuple[str, Value], ...]:
    return tuple((key, wall.as_resolved(key)) for key in ALIKE_BY)


def demand(gaps: Sequence[WallGap]) -> list[Demand]:
    """The groups, most zones first, then most area, then by their walls."""
    groups: dict[tuple[tuple[str, Value], ...], list[WallGap]] = {}
    for found in gaps:
        groups.setdefault(_signature(found.wall), []).append(found)
    made = [_group(signature, members) for signature, members in groups.items()]
    return sorted(made, key=lambda d: (-len(d.gaps), -d.area_m2, repr_of(d.signature)))


def _group(signature: tuple[tuple[str, Value], ...], members: list[WallGap]) -> Demand:
    areas = [m.gap.zone.area_m2 for m in members]
    heights = [m.gap.building.top_floor_height_m for m in members]
    return Demand(
        signature,
        tuple(members),
        tuple(sorted({m.gap.building.ref for m in members})),
        tuple(sorted({m.gap.building.owner for m in members})),
        sum(area for area in areas if area is not None),
        sum(area is None for area in areas),
        max((height for height in heights if height is not None), default=None),
        tuple(to_contain([member.wall for member in members])),
    )


def to_contain(walls: Sequence[Wall]) -> list[tuple[str, tuple[Value, ...], int]]:
    """What one test would have to contain: each parameter's known values, most frequent first,
    and at how many of the walls it is unknown."""
    # the same wall may be given many times, and is asked once
    kinds = {id(wall): wall for wall in walls}
    times = Counter(id(wall) for wall in walls)
    found = []
    for key in PARAMETERS:
        counts: dict[Value, int] = {}
        for kind, wall in kinds.items():
            value = wall.as_resolved(key)
            counts[value] = counts.get(value, 0) + times[kind]
        unknown = counts.pop(UNKNOWN, 0)
        if counts:
            by_count = sorted(counts, key=lambda value: (-counts[value], repr_of(value)))
            found.append((key, tuple(by_count), unknown))
    return found


def repr_of(value: object) -> str:
    """A text to order by that does not depend on how a set happens to be stored."""
    if isinstance(value, tuple):
        return "(" + ",".join(repr_of(part) for part in value) + ")"
    keys = getattr(value, "keys", None)
    return ",".join(sorted(keys)) if isinstance(keys, frozenset) else str(value)

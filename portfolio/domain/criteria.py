"""What a step of an order may look at, and how bad that is for one building: 0 is worst.

The direction of every criterion is fixed: no sprinklers before sprinklers, taller before lower,
sleeping before not, more people before fewer. What is unknown counts as the worst.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from portfolio.domain.buildings import Building
from portfolio.domain.heights import HeightBand, HeightClaim, band_of, span_of
from portfolio.domain.order_facts import EVACUATION, SPRINKLERS, Fact

MOST = 10**9 - 1
"""As many digits as a position is written with, so that nobody at all sorts last."""


@dataclass(frozen=True, slots=True)
class TableRow:
    """One row of a published table: lower limits that a building reaches together.

    None does not ask. `above_m` asks for more than it, `from_m` for at least it, in metres.
    """

    value: str
    says: str
    from_m: float | None = None
    above_m: float | None = None
    homes: int | None = None
    homes_in_reach: int | None = None
    not_sprinklered: bool = False
    metal_composite: bool = False

    @property
    def facts(self) -> tuple[Fact, ...]:
        """The facts that the row asks about."""
        asked = {
            Fact.HEIGHT: self.from_m is not None or self.above_m is not None,
            Fact.HOMES: self.homes is not None or self.homes_in_reach is not None,
            Fact.HOMES_IN_REACH: self.homes_in_reach is not None,
            Fact.SPRINKLERS: self.not_sprinklered,
            Fact.METAL_COMPOSITE: self.metal_composite,
        }
        return tuple(fact for fact, is_asked in asked.items() if is_asked)

    def could_be(self, building: Building) -> bool:
        """Whether the building reaches every limit of the row, or could."""
        return (
            self._reaches_height(building.height_claims)
            and _reaches(building.homes, self.homes)
            and _reaches(_homes_in_reach(building), self.homes_in_reach)
            # sprinklers in parts are not "sprinklered" (ours: the worse of the two)
            and not (self.not_sprinklered and building.sprinklers == SPRINKLERS[-1])
            and not (self.metal_composite and building.metal_composite == "no")
        )

    def _reaches_height(self, claims: tuple[HeightClaim, ...]) -> bool:
        span = span_of(claims)
        if span is None:
            return True
        at_least = self.from_m is None or span[1] >= self.from_m
        return at_least and (self.above_m is None or span[1] > self.above_m)


def _homes_in_reach(building: Building) -> int | None:
    """As recorded, and else as many as there are: all of them could be in reach."""
    recorded, there = building.homes_in_reach, building.homes
    if recorded is None or there is None:
        return there if recorded is None else recorded
    return min(recorded, there)


def _reaches(count: int | None, limit: int | None) -> bool:
    return limit is None or count is None or count >= limit


@dataclass(frozen=True, slots=True)
class Seen:
    """What a criterion reads beside the building."""

    bands: tuple[HeightBand, ...]
    sleeping_by_use: Mapping[str, str]
    table: tuple[TableRow, ...]
    values: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Criterion:
    """One thing to look at. `words` stand worst first; without any it is a number, more first,
    or a published table. `read` gives the word or the number, and "" for unknown."""

    title: str
    words: tuple[str, ...]
    facts: tuple[Fact, ...]
    read: Callable[[Building, Seen], str]


def _sleeping(building: Building, seen: Seen) -> str:
    return seen.sleeping_by_use.get(building.use, "")


def _height_band(building: Building, seen: Seen) -> str:
    band = band_of(building.height_claims, seen.bands)
    return band.key if band else ""


def _evacuation(building: Building, seen: Seen) -> str:
    del seen
    return building.evacuation


def _sprinklers(building: Building, seen: Seen) -> str:
    del seen
    return building.sprinklers


def _people(building: Building, seen: Seen) -> str:
    del seen
    return _written(building.people_estimate)


def _homes(building: Building, seen: Seen) -> str:
    del seen
    return _written(building.homes)


def _written(count: int | None) -> str:
    return "" if count is None else str(count)


def _in_table(building: Building, seen: Seen) -> str:
    """The value of the first row that could be, worst first; the last value where there is none."""
    return next((row.value for row in seen.table if row.could_be(building)), seen.values[-1])


def _of_the_zone(building: Building, seen: Seen) -> str:
    """Coverage is the zone's own, and known: a building has none to read here."""
    raise NotImplementedError


COVERAGE, TABLE, HEIGHT_BAND = "coverage", "table", "height-band"
SLEEPING = ("needs-help", "sleeping", "not-sleeping")

CRITERIA: dict[str, Criterion] = {
    COVERAGE: Criterion("Coverage", (), (), _of_the_zone),
    "sleeping": Criterion("Sleeping risk", SLEEPING, (Fact.USE,), _sleeping),
    HEIGHT_BAND: Criterion("Height of the top floor", (), (Fact.HEIGHT,), _height_band),
    "evacuation": Criterion("Evacuation", EVACUATION, (Fact.EVACUATION,), _evacuation),
    "sprinklers": Criterion("Sprinklers", SPRINKLERS, (Fact.SPRINKLERS,), _sprinklers),
    "people": Criterion("People", (), (Fact.PEOPLE,), _people),
    "homes": Criterion("Homes", (), (Fact.HOMES,), _homes),
    TABLE: Criterion("A published table", (), (), _in_table),
}

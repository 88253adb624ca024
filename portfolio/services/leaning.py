"""Which zones lean on which test, as it was kept beside each zone's coverage.

A zone leans on every test that covers it and on every one that speaks against it; a test that
merely comes nearest is kept apart from both.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Building, TestRecord, Zone, ZoneResult
from portfolio.db.results import ZoneTest
from portfolio.domain.coverage import Coverage
from portfolio.domain.leaning import Way
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class LeaningZone:
    """One zone that a test bears on."""

    way: Way
    zone_id: int
    zone_ref: str
    zone_description: str
    building_id: int
    building_ref: str
    building_name: str
    coverage: Coverage
    by_inference: bool
    covered_too: bool


@dataclass(frozen=True, slots=True)
class LeaningZones:
    """The first of the zones by way, and how many there are of each."""

    zones: tuple[LeaningZone, ...]
    counts: Mapping[Way, int]

    def by_way(self, way: str) -> tuple[LeaningZone, ...]:
        return tuple(zone for zone in self.zones if zone.way == way)


def counts_by_test(viewer: Viewer) -> sa.Subquery:
    """How many of the viewer's zones each test covers, contradicts, or merely comes near.

    It counts every zone there is: for the tests of a page, `counts_of` is much quicker.
    """

    def counted(way: Way) -> sa.Label[int]:
        return sa.func.sum(sa.case((ZoneTest.way == way, 1), else_=0)).label(way.value)

    return (
        sa.select(ZoneTest.test_id, *(counted(way) for way in Way))
        .where(_mine(viewer))
        .group_by(ZoneTest.test_id)
        .subquery("leaning")
    )


def bears_on_any(viewer: Viewer, way: Way) -> sa.ColumnElement[bool]:
    """The condition, in a query of tests, that one bears on some zone of the viewer's so."""
    return sa.exists().where(ZoneTest.test_id == TestRecord.id, ZoneTest.way == way, _mine(viewer))


def counts_of(
    session: Session, viewer: Viewer, test_ids: Collection[int] | None = None
) -> Mapping[int, Mapping[Way, int]]:
    """The same for some tests, or for all; tests that no zone leans on are left out."""
    query = (
        sa.select(ZoneTest.test_id, ZoneTest.way, sa.func.count())
        .where(_mine(viewer))
        .group_by(ZoneTest.test_id, ZoneTest.way)
    )
    if test_ids is not None:
        query = query.where(ZoneTest.test_id.in_(test_ids))
    found: dict[int, dict[Way, int]] = {}
    for test_id, way, zones in session.execute(query):
        found.setdefault(test_id, dict.fromkeys(Way, 0))[way] = zones
    return found


def leaning_zones(session: Session, viewer: Viewer, test: TestRecord, most: int) -> LeaningZones:
    """The viewer's zones that a test bears on, those it covers or contradicts first."""
    counts = counts_of(session, viewer, [test.id]).get(test.id, dict.fromkeys(Way, 0))
    zones: list[LeaningZone] = []
    for way in Way:
        left = most - len(zones)
        if counts[way] and left:
            found = session.execute(_first(viewer, test, way).limit(left))
            zones += (LeaningZone(*row) for row in found)
    return LeaningZones(tuple(zones), counts)


def _first(viewer: Viewer, test: TestRecord, way: Way) -> Any:
    return (
        sa.select(*_COLUMNS)
        .join(Zone, Zone.id == ZoneTest.zone_id)
        .join(Building, Building.id == ZoneTest.building_id)
        .join(ZoneResult, ZoneResult.zone_id == ZoneTest.zone_id)
        .where(ZoneTest.test_id == test.id, ZoneTest.way == way, _mine(viewer))
        .order_by(Building.ref, Zone.ref, Zone.id)
    )


_COLUMNS: tuple[Any, ...] = (
    ZoneTest.way,
    Zone.id,
    Zone.ref,
    Zone.description,
    Building.id,
    Building.ref,
    Building.name,
    ZoneResult.coverage,
    ZoneResult.by_inference,
    ZoneResult.covered_too,
)


def _mine(viewer: Viewer) -> sa.ColumnElement[bool]:
    return viewer.reads(ZoneTest.organisation_id, ZoneTest.building_id)

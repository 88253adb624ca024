"""Which zones lean on which test: read in the store out of the details behind each coverage.

A zone leans on every test that covers it and on every one that speaks against it; a test that
merely comes nearest is kept apart from both.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import sqlalchemy as sa
from sqlalchemy.orm import Session, aliased

from portfolio.db.models import Building, TestConsent, TestRecord, Zone, ZoneResult
from portfolio.domain.coverage import Coverage
from portfolio.domain.evidence import Consent
from portfolio.services.viewer import Viewer


class Way(StrEnum):
    """How a zone's coverage names a test."""

    COVERS = "covers"
    AGAINST = "against"
    NEAREST = "nearest"


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
    counts: dict[Way, int]

    def by_way(self, way: str) -> tuple[LeaningZone, ...]:
        return tuple(zone for zone in self.zones if zone.way == way)


def counts_by_test(session: Session, viewer: Viewer) -> sa.Subquery:
    """How many of the viewer's zones each test covers, contradicts, or merely comes near."""
    named = _named(session, viewer)

    def counted(way: Way) -> sa.Label[int]:
        return sa.func.sum(sa.case((named.c.way == way, 1), else_=0)).label(way.value)

    return (
        sa.select(TestRecord.id.label("test_id"), *(counted(way) for way in Way))
        .join(named, named.c.ref == TestRecord.ref)
        .where(_speaks_of(named.c.organisation_id))
        .group_by(TestRecord.id)
        .subquery("leaning")
    )


def leaning_zones(session: Session, viewer: Viewer, test: TestRecord, most: int) -> LeaningZones:
    """The viewer's zones that a test bears on, those it covers or contradicts first."""
    named = _named(session, viewer)
    about = (
        sa.select(named.c.way, named.c.zone_id)
        .join(TestRecord, TestRecord.ref == named.c.ref)
        .where(TestRecord.id == test.id, _speaks_of(named.c.organisation_id))
    ).subquery()
    counts = session.execute(sa.select(about.c.way, sa.func.count()).group_by(about.c.way))
    order = sa.case({way.value: place for place, way in enumerate(Way)}, value=about.c.way)
    query = (
        sa.select(about.c.way, Zone, Building, ZoneResult)
        .join(Zone, Zone.id == about.c.zone_id)
        .join(Building, Building.id == Zone.building_id)
        .join(ZoneResult, ZoneResult.zone_id == Zone.id)
        .order_by(order, Building.ref, Zone.ref)
        .limit(most)
    )
    zones = tuple(_zone(*found) for found in session.execute(query))
    return LeaningZones(zones, dict.fromkeys(Way, 0) | {Way(way): n for way, n in counts})


def _zone(way: str, zone: Zone, building: Building, result: ZoneResult) -> LeaningZone:
    return LeaningZone(
        Way(way),
        zone.id,
        zone.ref,
        zone.description,
        building.id,
        building.ref,
        building.name,
        result.coverage,
        result.by_inference,
        result.covered_too,
    )


def _named(session: Session, viewer: Viewer) -> sa.Subquery:
    """Every naming of a test in a zone's details: (zone_id, organisation_id, ref, way)."""
    against, nearest, verdict = _unfolded(session)
    mine = viewer.reads(ZoneResult.organisation_id, ZoneResult.building_id)
    covered = (ZoneResult.coverage == Coverage.COVERED) | ZoneResult.covered_too
    way = sa.case((covered & (verdict == "covers"), Way.COVERS.value), else_=Way.NEAREST.value)
    columns = ZoneResult.zone_id, ZoneResult.organisation_id
    return sa.union_all(
        sa.select(*columns, against.label("ref"), sa.literal(Way.AGAINST.value).label("way")).where(
            mine
        ),
        sa.select(*columns, nearest.label("ref"), way.label("way")).where(mine, verdict != "apart"),
    ).subquery("named")


_Text = sa.ColumnElement[str]


def _unfolded(session: Session) -> tuple[_Text, _Text, _Text]:
    """The tests against, the nearest tests, and the verdict of the latter, each as a row."""
    details = ZoneResult.details
    if session.get_bind().dialect.name == "sqlite":
        against = sa.func.json_each(details, "$.against").table_valued(
            "value", joins_implicitly=True
        )
        nearest = sa.func.json_each(details, "$.nearest").table_valued(
            "value", joins_implicitly=True
        )
        named = (sa.func.json_extract(nearest.c.value, f"$.{key}") for key in ("test", "verdict"))
        return against.c.value, *named  # type: ignore[return-value]
    listed = sa.func.json_array_elements_text(details["against"]).table_valued(
        "value", joins_implicitly=True
    )
    objects = sa.func.json_array_elements(details["nearest"]).table_valued(
        "value", joins_implicitly=True
    )
    value = sa.cast(objects.c.value, sa.JSON)
    return listed.c.value, value["test"].as_string(), value["verdict"].as_string()


def _speaks_of(organisation_id: sa.ColumnElement[int]) -> sa.ColumnElement[bool]:
    """Whether the test record is the one that an organisation means by its reference.

    Its own record goes before another holder's, and of several others the newest counts, as in
    `coverage.tests_for`.
    """
    own, newer = aliased(TestRecord), aliased(TestRecord)
    has_own = sa.exists().where(own.organisation_id == organisation_id, own.ref == TestRecord.ref)
    has_newer = sa.exists().where(
        newer.ref == TestRecord.ref, newer.id > TestRecord.id, _is_seen(newer, organisation_id)
    )
    is_own = TestRecord.organisation_id == organisation_id
    return is_own | (~has_own & _is_seen(TestRecord, organisation_id) & ~has_newer)


def _is_seen(
    record: type[TestRecord], organisation_id: sa.ColumnElement[int]
) -> sa.ColumnElement[bool]:
    """Whether an organisation that does not hold the record may see it."""
    asked = sa.exists().where(
        TestConsent.test_id == record.id, TestConsent.organisation_id == organisation_id
    )
    return (record.consent == Consent.PUBLISHED) | asked

"""Which facts, found at which zones, could settle most gaps: out of what is stored of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import mapping
from portfolio.db.models import Building, Organisation, Zone, ZoneResult
from portfolio.db.results import BuildingToFind, ZoneSettling
from portfolio.domain.coverage import Coverage
from portfolio.domain.finding_order import AlikeZones, in_greedy_order
from portfolio.domain.findings import Way
from portfolio.domain.parameters import PLACE_OF
from portfolio.domain.settling import ToFind
from portfolio.services.settled_kinds import settled_kinds
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class FactCount:
    """One fact in its place, counted from 1: at how many zones it is in a smallest set, at how many
    of them it is the only thing missing (`alone`), their area in m² and buildings.

    `completed` counts the zones that this fact and those before it could settle together.
    """

    place: int
    fact: ToFind
    zones: int
    alone: int
    buildings: int
    area_m2: float
    area_unknown: int
    completed: int


@dataclass(frozen=True, slots=True)
class FindOut:
    """Every fact, in order. `too_little_known` zones are counted in all, `with_a_set` those that
    facts of their walls could settle."""

    facts: tuple[FactCount, ...]
    too_little_known: int
    with_a_set: int

    def by_way(self) -> list[tuple[Way, tuple[FactCount, ...]]]:
        """The facts by the way to find them, cheapest first."""
        ways = ((way, tuple(f for f in self.facts if f.fact.way is way)) for way in Way)
        return [(way, facts) for way, facts in ways if facts]


@dataclass(frozen=True, slots=True)
class ZoneToFind:
    """One zone at which a fact is in a smallest set."""

    zone_id: int
    owner: str
    building_id: int
    building_ref: str
    building_name: str
    zone_ref: str
    zone_description: str
    area_m2: float | None
    is_alone: bool


@dataclass(frozen=True, slots=True)
class ZonesToFind:
    """Part of the zones, and how many there are altogether."""

    rows: tuple[ZoneToFind, ...]
    total: int


def find_out(session: Session, viewer: Viewer) -> FindOut:
    """What to find out over all zones that the viewer reads."""
    kinds = settled_kinds(session, _mine(viewer)).values()
    alike = [AlikeZones(kind.zones, kind.sets) for kind in kinds]
    counts = _counts(session, viewer)
    facts = []
    for place, chosen in enumerate(in_greedy_order(alike, _level), start=1):
        fact = mapping.fact_of(chosen.fact)
        counted = counts[fact.parameter, fact.way.name]
        facts.append(FactCount(place, fact, **counted, completed=chosen.completed))
    with_a_set = sum(kind.zones for kind in kinds)
    return FindOut(tuple(facts), _too_little_known(session, viewer), with_a_set)


def _level(told: str) -> tuple[int, int]:
    """Of facts that are level: the cheapest way first, then from the inside out."""
    fact = mapping.fact_of(told)
    return fact.way, PLACE_OF[fact.parameter]


def zones_to_find(
    session: Session,
    viewer: Viewer,
    fact: ToFind,
    *,
    limit: int | None = None,
    offset: int = 0,
) -> ZonesToFind:
    """The zones at which a fact is in a smallest set, by building and zone."""
    told = mapping.fact_told(fact)
    sets = ZoneSettling.sets
    kept = _mine(viewer), sets.contains(f'"{told}"', autoescape=True)
    total = session.scalar(sa.select(sa.func.count()).select_from(ZoneSettling).where(*kept)) or 0
    alone = sets.contains(mapping.alone_in_sets(told), autoescape=True)
    query = (
        sa.select(*_COLUMNS, alone.label("is_alone"))
        .select_from(ZoneSettling)
        .join(Zone, Zone.id == ZoneSettling.zone_id)
        .join(Building, Building.id == ZoneSettling.building_id)
        .join(Organisation, Organisation.id == ZoneSettling.organisation_id)
        .where(*kept)
        .order_by(Building.ref, Zone.ref, Zone.id)
        .limit(limit)
        .offset(offset)
    )
    rows = session.execute(query).mappings()
    return ZonesToFind(tuple(ZoneToFind(**row) for row in rows), total)


_COLUMNS: tuple[Any, ...] = (
    Zone.id.label("zone_id"),
    Organisation.ref.label("owner"),
    Building.id.label("building_id"),
    Building.ref.label("building_ref"),
    Building.name.label("building_name"),
    Zone.ref.label("zone_ref"),
    Zone.description.label("zone_description"),
    Zone.area_m2.label("area_m2"),
)


def _mine(viewer: Viewer) -> sa.ColumnElement[bool]:
    return viewer.reads(ZoneSettling.organisation_id, ZoneSettling.building_id)


def _counts(session: Session, viewer: Viewer) -> dict[tuple[str, str], dict[str, Any]]:
    """By parameter and way: zones, those that lack nothing else, buildings, areas."""
    kept = BuildingToFind
    query = (
        sa.select(
            kept.parameter,
            kept.way,
            sa.func.sum(kept.zones).label("zones"),
            sa.func.sum(kept.alone).label("alone"),
            sa.func.count().label("buildings"),
            sa.func.sum(kept.area_m2).label("area_m2"),
            sa.func.sum(kept.area_unknown).label("area_unknown"),
        )
        .where(viewer.reads(kept.organisation_id, kept.building_id))
        .group_by(kept.parameter, kept.way)
    )
    names = ("zones", "alone", "buildings", "area_m2", "area_unknown")
    return {
        (row.parameter, row.way): {name: getattr(row, name) for name in names}
        for row in session.execute(query)
    }


def _too_little_known(session: Session, viewer: Viewer) -> int:
    query = (
        sa.select(sa.func.count())
        .select_from(ZoneResult)
        .where(ZoneResult.coverage == Coverage.TOO_LITTLE_KNOWN)
        .where(viewer.reads(ZoneResult.organisation_id, ZoneResult.building_id))
    )
    return session.scalar(query) or 0

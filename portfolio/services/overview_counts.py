"""What the overview counts, each in one query; what it can, out of the buildings' own counts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Building, BuildingResult, HeightClaim, Survey, Zone
from portfolio.db.results import BuildingCount, Counted
from portfolio.domain.heights import (
    UNSTATED_TOLERANCE_M,
    HeightBand,
    Operator,
    Side,
    Threshold,
    estimate_from_storeys,
    side_of,
)
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class Zones:
    """Zones of one height band and one coverage, named as marks know it."""

    band: str
    key: str
    zones: int
    area_m2: float
    area_unknown: int


def coverage_by_band(session: Session, viewer: Viewer) -> list[Zones]:
    """Zones and areas by height band and coverage."""
    query = (
        sa.select(
            BuildingResult.height_band,
            BuildingCount.key,
            sa.func.sum(BuildingCount.zones),
            sa.func.sum(BuildingCount.area_m2),
            sa.func.sum(BuildingCount.area_unknown),
        )
        .join(BuildingResult, BuildingResult.building_id == BuildingCount.building_id)
        .where(BuildingCount.subject == Counted.COVERAGE, _mine(viewer))
        .group_by(BuildingResult.height_band, BuildingCount.key)
    )
    return [Zones(*row) for row in session.execute(query)]


def buildings(session: Session, viewer: Viewer) -> Any:
    """How many buildings there are, and of how many something is not recorded."""
    query = (
        sa.select(
            sa.func.count().label("buildings"),
            _counted(Building.jurisdiction == "").label("jurisdiction"),
            _counted(Building.use == "").label("use"),
            _counted(Building.evacuation == "").label("evacuation"),
            _counted(BuildingResult.top_floor_height_m.is_(None)).label("height"),
            _counted(sa.func.coalesce(BuildingResult.zones, 0) == 0).label("zones"),
        )
        .select_from(Building)
        .outerjoin(BuildingResult, BuildingResult.building_id == Building.id)
        .where(viewer.reads(Building.organisation_id, Building.id))
    )
    return session.execute(query).one()


def zones(session: Session, viewer: Viewer) -> Any:
    """How many zones there are, and how many nobody ever surveyed."""
    surveyed = sa.exists().where(Survey.zone_id == Zone.id)
    query = (
        sa.select(sa.func.count().label("zones"), _counted(~surveyed).label("unsurveyed"))
        .select_from(Zone)
        .join(Building, Building.id == Zone.building_id)
        .where(viewer.reads(Building.organisation_id, Building.id))
    )
    return session.execute(query).one()


def either_side(session: Session, viewer: Viewer, bands: Iterable[HeightBand]) -> list[int]:
    """For each band: buildings whose claims, with their tolerances, lie on both sides of it."""
    limits = [Threshold(band.from_m, Operator.AT_LEAST) for band in bands]
    tolerance = sa.func.coalesce(HeightClaim.tolerance_m, UNSTATED_TOLERANCE_M)
    claimed = (
        sa.select(
            sa.func.min(HeightClaim.metres - tolerance).label("low"),
            sa.func.max(HeightClaim.metres + tolerance).label("high"),
        )
        .join(Building, Building.id == HeightClaim.building_id)
        .where(viewer.reads(Building.organisation_id, Building.id))
        .group_by(HeightClaim.building_id)
        .subquery()
    )
    both = [
        _counted((claimed.c.low < limit.metres) & (claimed.c.high >= limit.metres))
        for limit in limits
    ]
    counts = [int(count) for count in session.execute(sa.select(*both)).one()]
    for storeys, estimated in _estimated(session, viewer):
        claims = [estimate_from_storeys(storeys)]
        for place, limit in enumerate(limits):
            counts[place] += estimated if side_of(claims, limit) is Side.EITHER_SIDE else 0
    return counts


def _estimated(session: Session, viewer: Viewer) -> list[tuple[int, int]]:
    """Buildings whose height only storeys suggest: (storeys, how many)."""
    claimed = sa.exists().where(HeightClaim.building_id == Building.id)
    query = (
        sa.select(Building.storeys, sa.func.count())
        .where(viewer.reads(Building.organisation_id, Building.id), Building.storeys > 0, ~claimed)
        .group_by(Building.storeys)
    )
    return [(storeys, count) for storeys, count in session.execute(query) if storeys]


def parameters(session: Session, viewer: Viewer, subject: Counted) -> list[tuple[str, int]]:
    """The parameters that are unknown, or in conflict, at gaps, and at how many."""
    query = (
        sa.select(BuildingCount.key, sa.func.sum(BuildingCount.zones))
        .where(BuildingCount.subject == subject, _mine(viewer))
        .group_by(BuildingCount.key)
    )
    return [(key, zones) for key, zones in session.execute(query)]


def zones_in_conflict(session: Session, viewer: Viewer) -> int:
    """Zones where surveys of equal strength disagree and nobody has settled it."""
    return sum(zones for _, zones in parameters(session, viewer, Counted.IN_CONFLICT))


def _mine(viewer: Viewer) -> sa.ColumnElement[bool]:
    return viewer.reads(BuildingCount.organisation_id, BuildingCount.building_id)


def _counted(condition: sa.ColumnElement[bool]) -> sa.ColumnElement[int]:
    """How many rows meet a condition."""
    return sa.func.coalesce(sa.func.sum(sa.case((condition, 1), else_=0)), 0)

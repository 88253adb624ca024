"""What the overview counts, each in one query; what it can, out of the buildings' own counts."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Building, BuildingResult, HeightClaim, Survey, Zone
from portfolio.db.results import BuildingCoverage, BuildingMissing, Missing
from portfolio.domain.heights import (
    UNSTATED_TOLERANCE_M,
    HeightBand,
    Operator,
    Side,
    Threshold,
    estimate_from_storeys,
    side_of,
)
from portfolio.services.height_sides import claimed_both_sides
from portfolio.services.viewer import Viewer


def coverage_by_band(session: Session, viewer: Viewer) -> list[Any]:
    """Zones and areas by height band, coverage and inference."""
    kept = BuildingCoverage
    query = (
        sa.select(
            kept.height_band.label("band"),
            kept.coverage,
            kept.by_inference,
            sa.func.sum(kept.zones).label("zones"),
            sa.func.sum(kept.area_m2).label("area_m2"),
            sa.func.sum(kept.area_unknown).label("area_unknown"),
        )
        .where(viewer.reads(kept.organisation_id, kept.building_id))
        .group_by(kept.height_band, kept.coverage, kept.by_inference)
    )
    return list(session.execute(query))


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
            sa.func.coalesce(sa.func.sum(BuildingResult.in_conflict), 0).label("in_conflict"),
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
        _counted(claimed_both_sides(claimed.c.low, claimed.c.high, limit.metres))
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


def parameters(session: Session, viewer: Viewer, missing: Missing) -> list[tuple[str, int]]:
    """The parameters that are unknown, or in conflict, at gaps, and at how many."""
    kept = BuildingMissing
    query = (
        sa.select(kept.parameter, sa.func.sum(kept.gaps))
        .where(kept.missing == missing, viewer.reads(kept.organisation_id, kept.building_id))
        .group_by(kept.parameter)
    )
    return [(parameter, gaps) for parameter, gaps in session.execute(query)]


def _counted(condition: sa.ColumnElement[bool]) -> sa.ColumnElement[int]:
    """How many rows meet a condition."""
    return sa.func.coalesce(sa.func.sum(sa.case((condition, 1), else_=0)), 0)

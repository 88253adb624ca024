"""The zones that are not covered, in order, and the coverage of every zone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Building, BuildingResult, Organisation, Zone, ZoneResult
from portfolio.domain.coverage import Coverage
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class GapFilter:
    """What to keep of the list; empty keeps all. `text` looks in building, zone and wall."""

    coverage: str = ""
    by_inference: bool | None = None
    height_band: str = ""
    owner: str = ""
    text: str = ""
    gaps_only: bool = True


@dataclass(frozen=True, slots=True)
class GapRow:
    """One zone with its coverage. `rank` counts from 1 among all gaps of the viewer; None where
    the zone is no gap. Heights in metres, areas in square metres."""

    rank: int | None
    owner: str
    building_id: int
    building_ref: str
    building_name: str
    zone_id: int
    zone_ref: str
    zone_description: str
    area_m2: float | None
    coverage: Coverage
    by_inference: bool
    covered_too: bool
    top_floor_height_m: float | None
    people: int | None
    wall_text: str
    reasons: tuple[str, ...]
    differences: tuple[str, ...]
    unknowns: tuple[str, ...]
    tests: tuple[str, ...]
    conflicts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class GapPage:
    """Part of the list, and how long it is altogether."""

    rows: tuple[GapRow, ...]
    total: int


def list_gaps(
    session: Session,
    viewer: Viewer,
    wanted: GapFilter,
    *,
    limit: int | None = None,
    offset: int = 0,
) -> GapPage:
    """The zones that `wanted` keeps, in the order of gaps; covered zones come last."""
    ranks = (
        sa.select(
            ZoneResult.zone_id,
            sa.func.row_number().over(order_by=ZoneResult.position).label("rank"),
        )
        .where(ZoneResult.is_gap, viewer.reads(ZoneResult.organisation_id, ZoneResult.building_id))
        .subquery()
    )
    base = (
        sa.select(ZoneResult.zone_id)
        .join(Zone, Zone.id == ZoneResult.zone_id)
        .join(Building, Building.id == ZoneResult.building_id)
        .join(Organisation, Organisation.id == ZoneResult.organisation_id)
        .join(BuildingResult, BuildingResult.building_id == Building.id)
        .where(
            viewer.reads(ZoneResult.organisation_id, ZoneResult.building_id), *_conditions(wanted)
        )
    )
    total = session.scalar(sa.select(sa.func.count()).select_from(base.subquery())) or 0
    query = (
        base.with_only_columns(ZoneResult, Zone, Building, Organisation.ref, BuildingResult)
        .add_columns(ranks.c.rank)
        .outerjoin(ranks, ranks.c.zone_id == ZoneResult.zone_id)
        .order_by(ZoneResult.is_gap.desc(), ZoneResult.position)
        .limit(limit)
        .offset(offset)
    )
    return GapPage(tuple(_row(found) for found in session.execute(query)), total)


def _conditions(wanted: GapFilter) -> list[sa.ColumnElement[bool]]:
    found: list[sa.ColumnElement[bool]] = []
    if wanted.gaps_only:
        found.append(ZoneResult.is_gap.is_(True))
    if wanted.coverage:
        found.append(ZoneResult.coverage == Coverage(wanted.coverage))
    if wanted.by_inference is not None:
        found.append(ZoneResult.by_inference == wanted.by_inference)
    if wanted.height_band:
        found.append(BuildingResult.height_band == wanted.height_band)
    if wanted.owner:
        found.append(Organisation.ref == wanted.owner)
    if text := wanted.text.strip().casefold():
        found.append(
            sa.or_(
                Building.search_text.contains(text, autoescape=True),
                sa.func.lower(Zone.ref + " " + Zone.description).contains(text, autoescape=True),
                sa.func.lower(ZoneResult.wall_text).contains(text, autoescape=True),
            )
        )
    return found


def _row(found: Any) -> GapRow:
    result, zone, building, owner, building_result, rank = found
    details: dict[str, Any] = result.details
    return GapRow(
        rank,
        owner,
        building.id,
        building.ref,
        building.name,
        zone.id,
        zone.ref,
        zone.description,
        zone.area_m2,
        result.coverage,
        result.by_inference,
        result.covered_too,
        building_result.top_floor_height_m,
        building_result.people,
        result.wall_text,
        *(
            tuple(details[key])
            for key in ("reasons", "differences", "unknowns", "tests", "conflicts")
        ),
    )

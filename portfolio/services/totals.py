"""What the zones' results add up to for each building, and the counts that pages add up.

Made anew out of the stored results, whichever zones were computed: so a building's totals are the
same whether one of its zones was computed again or all of them.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import chain
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import models
from portfolio.db.bulk import Rows, insert_rows
from portfolio.db.results import (
    BuildingCoverage,
    BuildingMissing,
    BuildingToFind,
    BuildingWall,
    Missing,
)
from portfolio.domain.buildings import Building
from portfolio.domain.composites import any_composite
from portfolio.domain.coverage import Coverage, worst
from portfolio.domain.heights import band_of
from portfolio.reference.loader import load_reference
from portfolio.services.gathering import Buildings, gather_buildings
from portfolio.services.stamp import renew_stamp
from portfolio.services.stored import batches

NO_GAP = "~"
"""Sorts after the place of every gap."""

_OF = ("building_id", "organisation_id")
_ADDED = ("zones", "area_m2", "area_unknown")
_TOTAL = (
    *_OF,
    "coverage",
    "by_inference",
    "zones",
    "gaps",
    "in_conflict",
    "top_floor_height_m",
    "height_band",
    "people",
    "metal_composite",
    "position",
)
_COVERAGE = (*_OF, "height_band", "coverage", "by_inference", *_ADDED)
_WALL = (*_OF, "top_floor_height_m", "wall_key", "sample_zone_id", *_ADDED)
_MISSING = (*_OF, "missing", "parameter", "gaps")


def renew_totals(
    session: Session,
    building_ids: Collection[int] | None = None,
    buildings: Buildings | None = None,
) -> None:
    """Add up the stored results of some buildings, or of all; `buildings` where they are known."""
    if buildings is None:
        buildings = gather_buildings(session, building_ids)
    zones: dict[int, list[Any]] = {}
    for row in _kept(session, _zones(), models.ZoneResult.building_id, building_ids):
        zones.setdefault(row.building_id, []).append(row)
    totals: Rows = []
    coverages: Rows = []
    walls: Rows = []
    missing: Rows = []
    bands = load_reference().order.bands
    for building_id, (organisation_id, building) in buildings.items():
        mine = zones.get(building_id, [])
        band = band_of(building.height_claims, bands)
        of = building_id, organisation_id
        height_band = band.key if band else ""
        totals.append((*of, *_total(building, height_band, mine)))
        coverages += ((*of, height_band, *found) for found in _coverages(mine))
        walls += ((*of, building.top_floor_height_m, *found) for found in _walls(mine))
        missing += ((*of, *found) for found in _missing(mine))
    forget_totals(session, building_ids)
    insert_rows(session, models.BuildingResult, _TOTAL, totals)
    insert_rows(session, BuildingCoverage, _COVERAGE, coverages)
    insert_rows(session, BuildingWall, _WALL, walls)
    insert_rows(session, BuildingMissing, _MISSING, missing)


def forget_totals(session: Session, building_ids: Collection[int] | None = None) -> None:
    """Throw the totals away, of some buildings or of all."""
    counted = BuildingMissing, BuildingToFind, BuildingCoverage, BuildingWall
    for kind in (*counted, models.BuildingResult):
        if building_ids is None:
            session.execute(sa.delete(kind))
            continue
        for batch in batches(building_ids):
            session.execute(sa.delete(kind).where(kind.building_id.in_(batch)))
    renew_stamp(session)


def _zones() -> Any:
    result = models.ZoneResult
    return (
        sa.select(
            result.zone_id,
            result.building_id,
            result.coverage,
            result.by_inference,
            result.is_gap,
            result.position,
            result.wall_key,
            result.has_conflict,
            result.metal_composite,
            sa.cast(result.details["unknowns"], sa.Text).label("unknowns"),
            sa.cast(result.details["conflicts"], sa.Text).label("conflicts"),
            models.Zone.area_m2,
        )
        .join(models.Zone, models.Zone.id == result.zone_id)
        .order_by(result.building_id, result.zone_id)
    )


def _kept(session: Session, query: Any, column: Any, ids: Collection[int] | None) -> Iterable[Any]:
    if ids is None:
        return session.execute(query)
    parts = (query.where(column.in_(batch)) for batch in batches(ids))
    return [row for part in parts for row in session.execute(part)]


def _total(building: Building, height_band: str, zones: Sequence[Any]) -> tuple[Any, ...]:
    """The building's worst zone, never an average."""
    coverage, by_inference = worst([(zone.coverage, zone.by_inference) for zone in zones])
    return (
        coverage,
        by_inference,
        len(zones),
        sum(zone.is_gap for zone in zones),
        sum(zone.has_conflict for zone in zones),
        building.top_floor_height_m,
        height_band,
        building.people_estimate,
        any_composite([zone.metal_composite for zone in zones]),
        min((zone.position for zone in zones if zone.is_gap), default=NO_GAP),
    )


def _coverages(zones: Iterable[Any]) -> Iterator[tuple[Any, ...]]:
    areas: dict[tuple[Coverage, bool], list[float | None]] = {}
    for zone in zones:
        areas.setdefault((zone.coverage, zone.by_inference), []).append(zone.area_m2)
    for (coverage, by_inference), found in areas.items():
        yield coverage, by_inference, *_added(found)


def _missing(zones: Iterable[Any]) -> Iterator[tuple[Any, ...]]:
    """At how many gaps each parameter is unknown, and at how many in conflict."""
    gaps = [zone for zone in zones if zone.is_gap]
    for missing, listed in (
        (Missing.UNKNOWN, [zone.unknowns for zone in gaps]),
        (Missing.CONFLICT, [zone.conflicts for zone in gaps]),
    ):
        counted = Counter(chain.from_iterable(map(_listed, listed)))
        for parameter, found in sorted(counted.items()):
            yield missing, parameter, found


@lru_cache(maxsize=10_000)
def _listed(text: str) -> tuple[str, ...]:
    """A stored list of parameters: most zones share theirs with many others."""
    return tuple(json.loads(text))


def _walls(zones: Iterable[Any]) -> Iterator[tuple[Any, ...]]:
    alike: dict[str, list[Any]] = {}
    for zone in zones:
        if zone.is_gap:
            alike.setdefault(zone.wall_key, []).append(zone)
    for wall_key, found in alike.items():
        yield wall_key, found[0].zone_id, *_added([zone.area_m2 for zone in found])


def _added(areas: Sequence[float | None]) -> tuple[int, float, int]:
    """How many, their area, and how many of them have none recorded."""
    known = [area for area in areas if area is not None]
    return len(areas), float(sum(known)), len(areas) - len(known)

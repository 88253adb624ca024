"""What the zones' results add up to for each building, and the counts that pages add up.

Made anew out of the stored results, whichever zones were computed: so a building's totals are the
same whether one of its zones was computed again or all of them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload, selectinload

from portfolio.db import mapping, models
from portfolio.db.base import Base
from portfolio.db.results import (
    BuildingCoverage,
    BuildingMissing,
    BuildingToFind,
    BuildingWall,
    Missing,
)
from portfolio.domain.coverage import Coverage, worst
from portfolio.domain.heights import band_of
from portfolio.reference.loader import load_reference
from portfolio.services.stored import batches

NO_GAP = "~"
"""Sorts after the place of every gap."""

Rows = list[dict[str, Any]]


def renew_totals(session: Session, building_ids: Collection[int] | None = None) -> None:
    """Add up the stored results of some buildings, or of all."""
    zones: dict[int, list[Any]] = {}
    for row in _kept(session, _zones(), models.ZoneResult.building_id, building_ids):
        zones.setdefault(row.building_id, []).append(row)
    owned = sa.select(models.Building).options(
        selectinload(models.Building.heights), joinedload(models.Building.organisation)
    )
    buildings = _kept(session, owned, models.Building.id, building_ids)
    totals: Rows = []
    coverages: Rows = []
    walls: Rows = []
    for (building,) in buildings:
        mine = zones.get(building.id, [])
        total = _total(building, mine)
        totals.append(total)
        coverages += _coverages(total, mine)
        walls += _walls(total, mine)
    forget_totals(session, building_ids)
    insert_rows(session, models.BuildingResult, totals)
    insert_rows(session, BuildingCoverage, coverages)
    insert_plain(session, BuildingWall, walls)
    for missing, listed in ((Missing.UNKNOWN, "unknowns"), (Missing.CONFLICT, "conflicts")):
        _count_missing(session, missing, listed, building_ids)


def insert_rows(session: Session, kind: type[Base], rows: Rows) -> None:
    """Insert many rows as they are: the session need not know them."""
    if rows:
        session.connection().execute(sa.insert(kind), rows)


def insert_plain(session: Session, kind: type[Base], rows: Rows) -> None:
    """The same for very many rows of numbers and texts, which the driver takes as they are."""
    if not rows:
        return
    connection = session.connection()
    statement = sa.insert(kind).compile(dialect=connection.dialect, column_keys=list(rows[0]))
    plain: Any = rows
    if names := getattr(statement, "positiontup", None):
        plain = [tuple(row[name] for name in names) for row in rows]
    connection.exec_driver_sql(str(statement), plain)


def forget_totals(session: Session, building_ids: Collection[int] | None = None) -> None:
    """Throw the totals away, of some buildings or of all."""
    counted = BuildingMissing, BuildingToFind, BuildingCoverage, BuildingWall
    for kind in (*counted, models.BuildingResult):
        if building_ids is None:
            session.execute(sa.delete(kind))
            continue
        for batch in batches(building_ids):
            session.execute(sa.delete(kind).where(kind.building_id.in_(batch)))


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


def _total(building: models.Building, zones: Sequence[Any]) -> dict[str, Any]:
    """The building's worst zone, never an average."""
    coverage, by_inference = worst([(zone.coverage, zone.by_inference) for zone in zones])
    known = mapping.building_of(building, building.organisation.ref)
    band = band_of(known.height_claims, load_reference().order.bands)
    return {
        "building_id": building.id,
        "organisation_id": building.organisation_id,
        "coverage": coverage,
        "by_inference": by_inference,
        "zones": len(zones),
        "gaps": sum(zone.is_gap for zone in zones),
        "in_conflict": sum(zone.has_conflict for zone in zones),
        "top_floor_height_m": known.top_floor_height_m,
        "height_band": band.key if band else "",
        "people": known.people_estimate,
        "position": min((zone.position for zone in zones if zone.is_gap), default=NO_GAP),
    }


def _coverages(total: dict[str, Any], zones: Iterable[Any]) -> Iterator[dict[str, Any]]:
    areas: dict[tuple[Coverage, bool], list[float | None]] = {}
    for zone in zones:
        areas.setdefault((zone.coverage, zone.by_inference), []).append(zone.area_m2)
    for (coverage, by_inference), found in areas.items():
        yield {
            **_of(total),
            "coverage": coverage,
            "by_inference": by_inference,
            "height_band": total["height_band"],
            **_added(found),
        }


def _count_missing(
    session: Session, missing: Missing, listed: str, building_ids: Collection[int] | None
) -> None:
    """Count, in the store, the parameters that are listed in the details of gaps."""
    result = models.ZoneResult
    found = _elements(session, listed)
    query = (
        sa.select(
            result.building_id,
            sa.literal(missing.value),
            found.c.value,
            result.organisation_id,
            sa.func.count(),
        )
        .select_from(result)
        .join(found, sa.true())
        .where(result.is_gap)
        .group_by(result.building_id, result.organisation_id, found.c.value)
        .order_by(result.building_id, found.c.value)
    )
    columns = ["building_id", "missing", "parameter", "organisation_id", "gaps"]
    parts = [None] if building_ids is None else list(batches(building_ids))
    for part in parts:
        kept = query if part is None else query.where(result.building_id.in_(part))
        session.connection().execute(sa.insert(BuildingMissing).from_select(columns, kept))


def _elements(session: Session, listed: str) -> Any:
    """The texts of a list in the details of each result, as rows, on either database."""
    details = models.ZoneResult.details
    if session.get_bind().dialect.name == "sqlite":
        rows = sa.func.json_each(details, f"$.{listed}")
    else:
        rows = sa.func.json_array_elements_text(details[listed])
    return rows.table_valued("value", joins_implicitly=True)


def _walls(total: dict[str, Any], zones: Iterable[Any]) -> Iterator[dict[str, Any]]:
    alike: dict[str, list[Any]] = {}
    for zone in zones:
        if zone.is_gap:
            alike.setdefault(zone.wall_key, []).append(zone)
    for wall_key, found in alike.items():
        yield {
            **_of(total),
            "wall_key": wall_key,
            **_added([zone.area_m2 for zone in found]),
            "sample_zone_id": found[0].zone_id,
            "top_floor_height_m": total["top_floor_height_m"],
        }


def _of(total: dict[str, Any]) -> dict[str, Any]:
    return {key: total[key] for key in ("building_id", "organisation_id")}


def _added(areas: Sequence[float | None]) -> dict[str, Any]:
    known = [area for area in areas if area is not None]
    return {
        "zones": len(areas),
        "area_m2": float(sum(known)),
        "area_unknown": len(areas) - len(known),
    }

"""The zones that are not covered, in order, and the coverage of every zone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, count
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Building, BuildingResult, Organisation, Zone, ZoneResult
from portfolio.domain.coverage import Coverage
from portfolio.services.orders.known import KnownOrder
from portfolio.services.orders.placed import Place, PlacedGaps, placed_gaps
from portfolio.services.stored import batches
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

    @property
    def keeps_all_gaps(self) -> bool:
        """Whether no gap is left out, so that its place in the list is its place among all."""
        narrowed = self.coverage or self.height_band or self.owner or self.text.strip()
        return not narrowed and self.by_inference is None


@dataclass(frozen=True, slots=True)
class GapRow:
    """One zone with its coverage. `rank` counts from 1 among all gaps of the viewer; None where
    the zone is no gap. Heights in metres, areas in square metres. `placed` has the places that it
    could take where they were asked for."""

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
    placed: Place | None = None


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
    total = session.scalar(_kept(viewer, wanted, sa.func.count())) or 0
    rows = first_gaps(session, viewer, wanted, limit=limit, offset=offset)
    return GapPage(rows, total)


def list_placed_gaps(
    session: Session,
    viewer: Viewer,
    wanted: GapFilter,
    order: KnownOrder,
    *,
    limit: int | None = None,
    offset: int = 0,
) -> GapPage:
    """As `list_gaps`, in the order asked for, with the places that each gap could take."""
    gaps = placed_gaps(session, viewer, order)
    if order.is_house:
        page = list_gaps(session, viewer, wanted, limit=limit, offset=offset)
        rows = (replace(row, placed=gaps.place_of(row.zone_id)) for row in page.rows)
        return GapPage(tuple(rows), page.total)
    kept = session.scalars(_kept(viewer, wanted, ZoneResult.zone_id).order_by(*_ORDER)).all()
    places, last = gaps.places(), len(gaps) + 1
    in_order = sorted(kept, key=lambda zone_id: places.get(zone_id, last))
    chosen = in_order[offset : None if limit is None else offset + limit]
    found: dict[int, Any] = {}
    for batch in batches(chosen):
        query = _with_columns().where(ZoneResult.zone_id.in_(batch))
        found |= {row.zone_id: row for row in session.execute(query)}
    rows_found = (_placed_row(found[zone_id], gaps) for zone_id in chosen)
    return GapPage(tuple(rows_found), len(in_order))


def _placed_row(found: Any, gaps: PlacedGaps) -> GapRow:
    """A row as another order than the house order places it, with that order's reasons."""
    placed = gaps.place_of(found.zone_id)
    row = _row(found, placed.place if placed else None)
    if placed is None:
        return replace(row, reasons=())
    told = gaps.reasons_of(found.zone_id, found.coverage, by_inference=found.by_inference)
    return replace(row, placed=placed, reasons=tuple(reason.text for reason in told))


def first_gaps(
    session: Session,
    viewer: Viewer,
    wanted: GapFilter,
    *,
    limit: int | None = None,
    offset: int = 0,
) -> tuple[GapRow, ...]:
    """The rows of `list_gaps`, without counting how many there are altogether."""
    found = _rows(session, viewer, wanted, limit, offset)
    ids = [row.zone_id for row in found if row.is_gap]
    if wanted.keeps_all_gaps:
        ranks = dict(zip(ids, count(offset + 1), strict=False))
    elif limit is None:
        ranks = _all_ranks(session, viewer)
    else:
        ranks = dict(zip(ids, _ranks(session, viewer, found[: len(ids)]), strict=True))
    return tuple(_row(row, ranks.get(row.zone_id)) for row in found)


# two owners may call a building and a zone alike, and then the older zone comes first
_ORDER = ZoneResult.position, ZoneResult.zone_id


def _mine(viewer: Viewer) -> sa.ColumnElement[bool]:
    return viewer.reads(ZoneResult.organisation_id, ZoneResult.building_id)


def _kept(viewer: Viewer, wanted: GapFilter, *columns: Any) -> sa.Select[Any]:
    """What to select of the zones that are kept, joined to no more than the filter asks about."""
    query = sa.select(*columns).select_from(ZoneResult).where(_mine(viewer))
    if wanted.gaps_only:
        query = query.where(ZoneResult.is_gap)
    if wanted.coverage:
        query = query.where(ZoneResult.coverage == Coverage(wanted.coverage))
    if wanted.by_inference is not None:
        query = query.where(ZoneResult.by_inference == wanted.by_inference)
    if wanted.height_band:
        query = query.where(
            ZoneResult.building_id.in_(
                sa.select(BuildingResult.building_id).where(
                    BuildingResult.height_band == wanted.height_band
                )
            )
        )
    if wanted.owner:
        owner = sa.select(Organisation.id).where(Organisation.ref == wanted.owner)
        query = query.where(ZoneResult.organisation_id.in_(owner))
    if text := wanted.text.strip().casefold():
        query = query.where(_speaks_of(text))
    return query


def _speaks_of(text: str) -> sa.ColumnElement[bool]:
    """Whether the text occurs in the building's names, the zone's, or the wall in words."""
    buildings = sa.select(Building.id).where(Building.search_text.contains(text, autoescape=True))
    named = sa.func.lower(Zone.ref + " " + Zone.description)
    zones = sa.select(Zone.id).where(named.contains(text, autoescape=True))
    return sa.or_(
        ZoneResult.building_id.in_(buildings),
        sa.func.lower(ZoneResult.wall_text).contains(text, autoescape=True),
        ZoneResult.zone_id.in_(zones),
    )


def _rows(
    session: Session, viewer: Viewer, wanted: GapFilter, limit: int | None, offset: int
) -> Sequence[Any]:
    # whatever is skipped is skipped before anything is joined to it
    chosen = _kept(viewer, wanted, ZoneResult.zone_id).order_by(*_ORDER)
    ids = chosen.limit(limit).offset(offset).subquery()
    query = _with_columns().join(ids, ids.c.zone_id == ZoneResult.zone_id).order_by(*_ORDER)
    return session.execute(query).all()


def _with_columns() -> sa.Select[Any]:
    """What rows of the list show."""
    return (
        sa.select(*_COLUMNS)
        .join(Zone, Zone.id == ZoneResult.zone_id)
        .join(Building, Building.id == ZoneResult.building_id)
        .join(Organisation, Organisation.id == ZoneResult.organisation_id)
        .outerjoin(BuildingResult, BuildingResult.building_id == ZoneResult.building_id)
    )


_COLUMNS: tuple[Any, ...] = (
    ZoneResult.zone_id,
    ZoneResult.is_gap,
    ZoneResult.position,
    Organisation.ref.label("owner"),
    Building.id.label("building_id"),
    Building.ref.label("building_ref"),
    Building.name.label("building_name"),
    Zone.ref.label("zone_ref"),
    Zone.description.label("zone_description"),
    Zone.area_m2,
    ZoneResult.coverage,
    ZoneResult.by_inference,
    ZoneResult.covered_too,
    BuildingResult.top_floor_height_m,
    BuildingResult.people,
    ZoneResult.wall_text,
    ZoneResult.details,
)


def _all_ranks(session: Session, viewer: Viewer) -> dict[int, int]:
    rank = sa.func.row_number().over(order_by=_ORDER).label("rank")
    query = sa.select(ZoneResult.zone_id, rank).where(ZoneResult.is_gap, _mine(viewer))
    return {row.zone_id: row.rank for row in session.execute(query)}


def _ranks(session: Session, viewer: Viewer, rows: Sequence[Any]) -> list[int]:
    """The places among all gaps of some, given in order: each gap up to the last is passed once."""
    if not rows:
        return []
    steps = [
        sa.select(sa.literal(place).label("place"), sa.func.count().label("gaps")).where(
            ZoneResult.is_gap,
            _mine(viewer),
            _is_up_to(row),
            *([] if place == 0 else [_is_after(rows[place - 1])]),
        )
        for place, row in enumerate(rows)
    ]
    found = {row.place: row.gaps for row in session.execute(sa.union_all(*steps))}
    return list(accumulate(found[place] for place in range(len(rows))))


def _is_up_to(row: Any) -> sa.ColumnElement[bool]:
    level = (ZoneResult.position < row.position) | (ZoneResult.zone_id <= row.zone_id)
    return sa.and_(ZoneResult.position <= row.position, level)


def _is_after(row: Any) -> sa.ColumnElement[bool]:
    level = (ZoneResult.position > row.position) | (ZoneResult.zone_id > row.zone_id)
    return sa.and_(ZoneResult.position >= row.position, level)


def _row(found: Any, rank: int | None) -> GapRow:
    listed = ("reasons", "differences", "unknowns", "tests", "conflicts")
    reasons, differences, unknowns, tests, conflicts = (tuple(found.details[key]) for key in listed)
    return GapRow(
        rank,
        found.owner,
        found.building_id,
        found.building_ref,
        found.building_name,
        found.zone_id,
        found.zone_ref,
        found.zone_description,
        found.area_m2,
        found.coverage,
        found.by_inference,
        found.covered_too,
        found.top_floor_height_m,
        found.people,
        found.wall_text,
        reasons,
        differences,
        unknowns,
        tests,
        conflicts,
    )

"""Demand: which walls without evidence recur, and what one test would have to contain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Building, BuildingResult, Organisation, Zone, ZoneResult
from portfolio.db.results import BuildingWall
from portfolio.domain.demand import ALIKE_BY, to_contain
from portfolio.domain.errors import NotFoundError
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.surveys import Wall
from portfolio.domain.values import UNKNOWN
from portfolio.services.explaining import value_text
from portfolio.services.gathering import gather_walls
from portfolio.services.rules.in_force import shipped_rules
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class DemandGroup:
    """Gaps with walls alike: counted in the store. Areas in square metres, heights in metres.

    `area_unknown` zones have no recorded area and add nothing to `area_m2`.
    """

    key: str
    wall: tuple[tuple[str, str], ...]
    unknown: tuple[str, ...]
    zones: int
    buildings: int
    owners: int
    area_m2: float
    area_unknown: int
    highest_m: float | None


@dataclass(frozen=True, slots=True)
class Member:
    """One zone of a group. Areas in square metres, heights in metres."""

    owner: str
    building_id: int
    building_ref: str
    building_name: str
    zone_id: int
    zone_ref: str
    zone_description: str
    area_m2: float | None
    top_floor_height_m: float | None


@dataclass(frozen=True, slots=True)
class WhatToTest:
    """What one test of a group would have to contain, parameter by parameter; the first of the
    zones it would speak of, and whose they all are."""

    group: DemandGroup
    to_contain: tuple[tuple[str, tuple[str, ...], int], ...]
    members: tuple[Member, ...]
    owner_ids: frozenset[int]


@dataclass(frozen=True, slots=True)
class DemandPage:
    """Part of the groups, most zones first, and how many there are."""

    groups: tuple[DemandGroup, ...]
    total: int


@dataclass(frozen=True, slots=True)
class DemandScope:
    """Whose gaps are grouped: those of some owners, and some buildings of others."""

    owners: frozenset[int] = frozenset()
    buildings: frozenset[int] = frozenset()
    everything: bool = False

    def reads(self, kind: type[ZoneResult | BuildingWall]) -> sa.ColumnElement[bool]:
        """The condition that keeps a query to this scope."""
        if self.everything:
            return sa.true()
        return kind.organisation_id.in_(sorted(self.owners)) | kind.building_id.in_(
            sorted(self.buildings)
        )


def scope_of(viewer: Viewer) -> DemandScope:
    """The viewer's own gaps, and those of buildings that others opened to them."""
    if viewer.organisation_id is None:
        return DemandScope(everything=True)
    return DemandScope(frozenset({viewer.organisation_id}), frozenset(viewer.grants))


def demand_groups(
    session: Session, viewer: Viewer, on: date, *, limit: int | None = None, offset: int = 0
) -> DemandPage:
    """The viewer's gaps in groups of walls alike, most zones first, then most area."""
    return groups_within(session, scope_of(viewer), on, limit=limit, offset=offset)


def groups_within(
    session: Session, scope: DemandScope, on: date, *, limit: int | None = None, offset: int = 0
) -> DemandPage:
    """The gaps of a scope in groups of walls alike."""
    counted = _counted(scope)
    keys = sa.select(sa.func.count(BuildingWall.wall_key.distinct())).where(
        scope.reads(BuildingWall)
    )
    total = session.scalar(keys) or 0
    rows = session.execute(
        counted.order_by(sa.desc("zones"), sa.desc("area"), BuildingWall.wall_key)
        .limit(limit)
        .offset(offset)
    ).all()
    walls = _walls(session, [row.sample for row in rows], on)
    return DemandPage(tuple(_group(row, walls[row.sample]) for row in rows), total)


def what_to_test(
    session: Session, viewer: Viewer, key: str, on: date, *, most: int | None = None
) -> WhatToTest:
    """One group with what a test of it would have to contain, and at most so many of its zones.

    Raises NotFoundError.
    """
    return tested_within(session, scope_of(viewer), key, on, most=most)


def tested_within(
    session: Session, scope: DemandScope, key: str, on: date, *, most: int | None
) -> WhatToTest:
    """One group of a scope with what a test of it would have to contain."""
    row = session.execute(_counted(scope).where(BuildingWall.wall_key == key)).one_or_none()
    if row is None:
        raise NotFoundError("There is no such group of gaps.")
    alike = (ZoneResult.is_gap, ZoneResult.wall_key == key, scope.reads(ZoneResult))
    query = sa.select(ZoneResult.zone_id, ZoneResult.organisation_id).where(*alike)
    found = session.execute(query.order_by(ZoneResult.zone_id))
    zones = {row.zone_id: row.organisation_id for row in found}
    walls = gather_walls(session, shipped_rules(on), list(zones))
    return WhatToTest(
        _group(row, walls[0]),
        tuple(
            (PARAMETERS[name].title, tuple(value_text(name, v) for v in values), unknown)
            for name, values, unknown in to_contain(walls)
        ),
        _members(session, alike, most),
        frozenset(zones.values()),
    )


def _members(session: Session, alike: Sequence[Any], most: int | None) -> tuple[Member, ...]:
    query = (
        sa.select(*_MEMBER)
        .select_from(ZoneResult)
        .join(Zone, Zone.id == ZoneResult.zone_id)
        .join(Building, Building.id == ZoneResult.building_id)
        .join(Organisation, Organisation.id == ZoneResult.organisation_id)
        .outerjoin(BuildingResult, BuildingResult.building_id == ZoneResult.building_id)
        .where(*alike)
        .order_by(ZoneResult.zone_id)
        .limit(most)
    )
    return tuple(Member(*row) for row in session.execute(query))


_MEMBER: tuple[Any, ...] = (
    Organisation.ref,
    Building.id,
    Building.ref,
    Building.name,
    Zone.id,
    Zone.ref,
    Zone.description,
    Zone.area_m2,
    BuildingResult.top_floor_height_m,
)


def _counted(scope: DemandScope) -> Any:
    walls = BuildingWall
    return (
        sa.select(
            walls.wall_key,
            sa.func.min(walls.sample_zone_id).label("sample"),
            sa.func.sum(walls.zones).label("zones"),
            sa.func.count().label("buildings"),
            sa.func.count(walls.organisation_id.distinct()).label("owners"),
            sa.func.sum(walls.area_m2).label("area"),
            sa.func.sum(walls.area_unknown).label("area_unknown"),
            sa.func.max(walls.top_floor_height_m).label("highest"),
        )
        .where(scope.reads(walls))
        .group_by(walls.wall_key)
    )


def _walls(session: Session, zone_ids: Sequence[int], on: date) -> dict[int, Wall]:
    rules = shipped_rules(on)
    return dict(zip(zone_ids, gather_walls(session, rules, zone_ids), strict=True))


def _group(row: Any, wall: Wall) -> DemandGroup:
    values = {key: wall.as_resolved(key) for key in ALIKE_BY}
    return DemandGroup(
        row.wall_key,
        tuple((PARAMETERS[key].title, value_text(key, value)) for key, value in values.items()),
        tuple(PARAMETERS[key].title for key, value in values.items() if value is UNKNOWN),
        row.zones,
        row.buildings,
        row.owners,
        row.area,
        row.area_unknown,
        row.highest,
    )

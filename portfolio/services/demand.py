"""Demand: which walls without evidence recur, and what one test would have to contain."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import ZoneResult
from portfolio.db.results import BuildingWall
from portfolio.domain.coverage import Coverage, ZoneCoverage
from portfolio.domain.demand import ALIKE_BY, WallGap, demand
from portfolio.domain.errors import NotFoundError
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.priorities import Gap
from portfolio.domain.rules import rules_in_force
from portfolio.domain.surveys import Wall
from portfolio.domain.values import UNKNOWN
from portfolio.reference.loader import load_reference
from portfolio.services.coverage import GatheredZone, gather_zones
from portfolio.services.explaining import value_text
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
class WhatToTest:
    """What one test of a group would have to contain, parameter by parameter."""

    group: DemandGroup
    to_contain: tuple[tuple[str, tuple[str, ...], int], ...]
    members: tuple[GatheredZone, ...]


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


def what_to_test(session: Session, viewer: Viewer, key: str, on: date) -> WhatToTest:
    """One group with what a test of it would have to contain. Raises NotFoundError."""
    return tested_within(session, scope_of(viewer), key, on)


def tested_within(session: Session, scope: DemandScope, key: str, on: date) -> WhatToTest:
    """One group of a scope with what a test of it would have to contain."""
    row = session.execute(_counted(scope).where(BuildingWall.wall_key == key)).one_or_none()
    if row is None:
        raise NotFoundError("There is no such group of gaps.")
    ids = session.scalars(
        sa.select(ZoneResult.zone_id).where(
            ZoneResult.is_gap, ZoneResult.wall_key == key, scope.reads(ZoneResult)
        )
    ).all()
    rules = rules_in_force(load_reference().rules, on)
    members = gather_zones(session, rules, ids)
    [found] = demand([WallGap(Gap(z.building, z.zone, _any_gap(z)), z.wall) for z in members])
    return WhatToTest(
        _group(row, members[0].wall),
        tuple(
            (PARAMETERS[name].title, tuple(value_text(name, v) for v in values), unknown)
            for name, values, unknown in found.to_contain
        ),
        tuple(members),
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
    rules = rules_in_force(load_reference().rules, on)
    return {zone.zone_id: zone.wall for zone in gather_zones(session, rules, zone_ids)}


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


def _any_gap(zone: GatheredZone) -> ZoneCoverage:
    """Grouping does not ask which kind of gap it is."""
    coverage = Coverage.TOO_LITTLE_KNOWN
    return ZoneCoverage(
        str(zone.zone_id),
        coverage,
        by_inference=False,
        covered_too=False,
        nearest=(),
        against=(),
        conflicts=(),
        unknown_decisive=(),
    )

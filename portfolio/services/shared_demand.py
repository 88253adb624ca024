"""Demand as a laboratory sees it: only of owners who share it, and no more than they let it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Building, Organisation, OrganisationKind, Zone, ZoneResult
from portfolio.db.people import DemandShare
from portfolio.domain.anonymity import height_in_words, may_name_owners, owners_in_words
from portfolio.domain.errors import NotFoundError
from portfolio.domain.rights import Right
from portfolio.reference.loader import load_reference
from portfolio.services.demand import (
    DemandGroup,
    DemandScope,
    WhatToTest,
    groups_within,
    tested_within,
)
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class NamedZone:
    """One zone of an owner who lets itself be named, in a group of enough owners."""

    owner: str
    building: str
    address: str
    zone: str
    area_m2: float | None


@dataclass(frozen=True, slots=True)
class SharedGroup:
    """A group of gaps as a laboratory sees it. Areas in square metres, heights as a band."""

    key: str
    wall: tuple[tuple[str, str], ...]
    unknown: tuple[str, ...]
    zones: int
    buildings: int
    owners: str
    area_m2: float
    area_unknown: int
    highest: str


@dataclass(frozen=True, slots=True)
class SharedTest:
    """What a test of a group would have to contain, and the zones that may be named."""

    group: SharedGroup
    to_contain: tuple[tuple[str, tuple[str, ...], int], ...]
    named: tuple[NamedZone, ...]


@dataclass(frozen=True, slots=True)
class SharedPage:
    """Part of the groups, most zones first, and how many there are."""

    groups: tuple[SharedGroup, ...]
    total: int


def shared_groups(
    session: Session, viewer: Viewer, on: date, *, limit: int | None = None, offset: int = 0
) -> SharedPage:
    """The demand of every owner who shares it with the viewer's laboratory."""
    page = groups_within(session, _shared_with(session, viewer), on, limit=limit, offset=offset)
    return SharedPage(tuple(_shared(group) for group in page.groups), page.total)


def shared_test(session: Session, viewer: Viewer, key: str, on: date) -> SharedTest:
    """One group with what a test of it would have to contain. Raises NotFoundError."""
    shares = _shares(session, viewer)
    found = tested_within(session, DemandScope(frozenset(shares)), key, on, most=0)
    owners = found.owner_ids
    named = [owner for owner in owners if shares[owner]] if may_name_owners(owners) else []
    return _shared_test(session, found, key, named)


def preview_of_group(
    session: Session, viewer: Viewer, laboratory_ref: str, key: str, on: date
) -> SharedTest:
    """What a laboratory sees, or would see, of the viewer's own part of one group.

    The zones are those that it sees once the viewer may be named and three owners are in the
    group. Raises NotFoundError.
    """
    own = _own_for(session, viewer, laboratory_ref)
    found = tested_within(session, DemandScope(frozenset({own})), key, on, most=0)
    return _shared_test(session, found, key, [own])


def _shared_test(session: Session, found: WhatToTest, key: str, named: Sequence[int]) -> SharedTest:
    # products are an owner's own words, by which it could be known
    contents = tuple(row for row in found.to_contain if not row[0].endswith(": product"))
    return SharedTest(_shared(found.group), contents, _named(session, key, named))


def preview_for(session: Session, viewer: Viewer, laboratory_ref: str, on: date) -> SharedPage:
    """What a laboratory sees, or would see, of the viewer's own demand: its part and no more.

    Raises NotFoundError where there is no such laboratory.
    """
    own = _own_for(session, viewer, laboratory_ref)
    page = groups_within(session, DemandScope(frozenset({own})), on)
    return SharedPage(tuple(_shared(group) for group in page.groups), page.total)


def _own_for(session: Session, viewer: Viewer, laboratory_ref: str) -> int:
    """The viewer's organisation, where there is such a laboratory to look for."""
    laboratory = session.scalar(
        sa.select(Organisation.id).where(
            Organisation.ref == laboratory_ref, Organisation.kind == OrganisationKind.LABORATORY
        )
    )
    if laboratory is None or viewer.organisation_id is None:
        raise NotFoundError("There is no such laboratory.")
    viewer.require(Right.READ, viewer.organisation_id, what="laboratory")
    return viewer.organisation_id


def _shares(session: Session, viewer: Viewer) -> Mapping[int, bool]:
    """The owners who share with the viewer's laboratory, and whether they may be named."""
    query = sa.select(DemandShare.owner_id, DemandShare.is_named).where(
        DemandShare.laboratory_id == viewer.organisation_id
    )
    return {row.owner_id: row.is_named for row in session.execute(query)}


def _shared_with(session: Session, viewer: Viewer) -> DemandScope:
    return DemandScope(frozenset(_shares(session, viewer)))


def _shared(group: DemandGroup) -> SharedGroup:
    return SharedGroup(
        group.key,
        group.wall,
        group.unknown,
        group.zones,
        group.buildings,
        owners_in_words(group.owners),
        group.area_m2,
        group.area_unknown,
        height_in_words(group.highest_m, load_reference().order.bands),
    )


def _named(session: Session, key: str, owners: Sequence[int]) -> tuple[NamedZone, ...]:
    query = (
        sa.select(Organisation.name, Building.name, Building.address, Zone.ref, Zone.area_m2)
        .select_from(ZoneResult)
        .join(Zone, Zone.id == ZoneResult.zone_id)
        .join(Building, Building.id == ZoneResult.building_id)
        .join(Organisation, Organisation.id == ZoneResult.organisation_id)
        .where(ZoneResult.is_gap, ZoneResult.wall_key == key)
        .where(ZoneResult.organisation_id.in_(sorted(owners)))
        .order_by(Organisation.name, Building.name, Zone.ref)
    )
    return tuple(NamedZone(*row) for row in session.execute(query))

"""What an owner opens to others: buildings to a consultancy, demand to a laboratory."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from portfolio.db.changelog import Entry, record
from portfolio.db.models import Building, Organisation, OrganisationKind
from portfolio.db.people import BuildingGrant, DemandShare
from portfolio.domain.errors import InputError, NotFoundError, Problem
from portfolio.domain.rights import Access, Right
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class GrantWanted:
    """Buildings to open to a consultancy, from a day up to and including another."""

    building_ids: tuple[int, ...]
    organisation_ref: str
    access: Access
    from_day: date
    until_day: date | None


def partners(session: Session, kind: OrganisationKind) -> Sequence[Organisation]:
    """The organisations of a kind that something can be shared with, by name."""
    query = sa.select(Organisation).where(Organisation.kind == kind).order_by(Organisation.name)
    return session.scalars(query).all()


def grants_given(session: Session, viewer: Viewer) -> Sequence[BuildingGrant]:
    """Every grant of the viewer's buildings, those taken back included, newest first."""
    return session.scalars(
        sa.select(BuildingGrant)
        .join(Building)
        .where(viewer.only(Building.organisation_id))
        .options(joinedload(BuildingGrant.building), joinedload(BuildingGrant.organisation))
        .order_by(BuildingGrant.id.desc())
    ).all()


def grant(session: Session, viewer: Viewer, wanted: GrantWanted) -> int:
    """Open the buildings; returns how many. Raises InputError or NotFoundError."""
    consultancy = session.scalar(
        sa.select(Organisation).where(
            Organisation.ref == wanted.organisation_ref,
            Organisation.kind == OrganisationKind.CONSULTANCY,
        )
    )
    if consultancy is None:
        raise InputError([Problem("There is no such consultancy.", column="organisation")])
    if wanted.until_day is not None and wanted.until_day < wanted.from_day:
        problem = Problem("The last day comes before the first.", column="until")
        raise InputError([problem])
    if not wanted.building_ids:
        raise InputError([Problem("Choose at least one building.", column="buildings")])
    entries = []
    for building_id in dict.fromkeys(wanted.building_ids):
        building = _own_building(session, viewer, building_id)
        row = BuildingGrant(
            building_id=building.id,
            organisation_id=consultancy.id,
            access=wanted.access,
            from_day=wanted.from_day,
            until_day=wanted.until_day,
            granted_by=viewer.name,
        )
        session.add(row)
        changes = {
            "to": (None, consultancy.ref),
            "access": (None, wanted.access),
            "from": (None, wanted.from_day),
            "until": (None, wanted.until_day),
        }
        owner = building.organisation_id
        entries.append(Entry("share", "building", building.id, building.ref, owner, changes))
    record(session, viewer.actor, entries)
    return len(entries)


def take_back(session: Session, viewer: Viewer, grant_id: int, now: datetime) -> None:
    """Take a grant back at once. Raises NotFoundError."""
    row = session.get(BuildingGrant, grant_id)
    if row is None or not viewer.sees(row.building.organisation_id):
        raise NotFoundError("There is no such thing here.")
    viewer.require(Right.ADMINISTER, row.building.organisation_id)
    if row.taken_back_at is None:
        row.taken_back_at = now
        changes = {"to": (row.organisation.ref, None), "access": (row.access, None)}
        building = row.building
        entry = Entry(
            "take back", "building", building.id, building.ref, building.organisation_id, changes
        )
        record(session, viewer.actor, [entry])


def _own_building(session: Session, viewer: Viewer, building_id: int) -> Building:
    building = session.get(Building, building_id)
    if building is None or not viewer.sees(building.organisation_id):
        raise NotFoundError("There is no such thing here.")
    viewer.require(Right.ADMINISTER, building.organisation_id)
    return building


def demand_shares(session: Session, viewer: Viewer) -> Sequence[DemandShare]:
    """The laboratories that see the viewer's demand."""
    return session.scalars(
        sa.select(DemandShare)
        .where(viewer.only(DemandShare.owner_id))
        .options(joinedload(DemandShare.laboratory))
        .order_by(DemandShare.id)
    ).all()


def share_demand(
    session: Session,
    viewer: Viewer,
    laboratory_ref: str,
    *,
    is_named: bool,
    on: date,
) -> None:
    """Let a laboratory see the viewer's demand. Raises InputError."""
    owner_id = viewer.organisation_id
    laboratory = session.scalar(
        sa.select(Organisation).where(
            Organisation.ref == laboratory_ref,
            Organisation.kind == OrganisationKind.LABORATORY,
        )
    )
    if laboratory is None or owner_id is None:
        raise InputError([Problem("There is no such laboratory.", column="laboratory")])
    viewer.require(Right.ADMINISTER, owner_id)
    row = session.scalar(
        sa.select(DemandShare).where(
            DemandShare.owner_id == owner_id, DemandShare.laboratory_id == laboratory.id
        )
    )
    before = None if row is None else row.is_named
    if row is None:
        row = DemandShare(owner_id=owner_id, laboratory_id=laboratory.id, since=on)
        session.add(row)
    row.is_named, row.granted_by = is_named, viewer.name
    changes = {"laboratory": (None, laboratory.ref), "named": (before, is_named)}
    entry = Entry("share demand", "organisation", owner_id, laboratory.ref, owner_id, changes)
    record(session, viewer.actor, [entry])


def stop_sharing_demand(session: Session, viewer: Viewer, share_id: int) -> None:
    """Stop at once. Raises NotFoundError."""
    row = session.get(DemandShare, share_id)
    if row is None or not viewer.sees(row.owner_id):
        raise NotFoundError("There is no such thing here.")
    viewer.require(Right.ADMINISTER, row.owner_id)
    changes = {"laboratory": (row.laboratory.ref, None)}
    entry = Entry(
        "stop sharing demand",
        "organisation",
        row.owner_id,
        row.laboratory.ref,
        row.owner_id,
        changes,
    )
    session.delete(row)
    record(session, viewer.actor, [entry])

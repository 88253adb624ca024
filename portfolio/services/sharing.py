"""What an owner opens to others: buildings to a consultancy, demand to a laboratory.

What is open, and to whom, is listed by sharing_lists.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
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

NO_BUILDING = "There is no such building."
_AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class GrantWanted:
    """Buildings to open to a consultancy, from a day up to and including another."""

    building_ids: tuple[int, ...]
    organisation_ref: str
    access: Access
    from_day: date
    until_day: date | None


def administered(viewer: Viewer) -> int:
    """The organisation for which the viewer may share."""
    if viewer.organisation_id is None:
        raise NotFoundError("Nothing is shared where nobody signs in.")
    viewer.require(Right.ADMINISTER, viewer.organisation_id, what="organisation")
    return viewer.organisation_id


def grant(session: Session, viewer: Viewer, wanted: GrantWanted) -> int:
    """Open the buildings; returns how many. Raises InputError or NotFoundError."""
    administered(viewer)
    consultancy = _partner(session, wanted.organisation_ref, OrganisationKind.CONSULTANCY)
    _check(wanted, consultancy)
    rows = [
        BuildingGrant(
            building=building,
            organisation=consultancy,
            access=wanted.access,
            from_day=wanted.from_day,
            until_day=wanted.until_day,
            granted_by=viewer.name,
        )
        for building in _own_buildings(session, viewer, wanted.building_ids)
    ]
    session.add_all(rows)
    session.flush()
    record(session, viewer.actor, [_entry(row, "opened") for row in rows])
    return len(rows)


def _check(wanted: GrantWanted, consultancy: Organisation | None) -> None:
    problems = []
    if consultancy is None:
        problems.append(Problem("There is no such consultancy.", column="consultancy"))
    if wanted.until_day is not None and wanted.until_day < wanted.from_day:
        problems.append(Problem("The last day comes before the first.", column="until_day"))
    if not wanted.building_ids:
        problems.append(Problem("Choose at least one building.", column="text"))
    if problems:
        raise InputError(problems)


def _own_buildings(session: Session, viewer: Viewer, ids: Iterable[int]) -> list[Building]:
    """The buildings in their order. One that is missing or another owner's ends it all."""
    wanted = list(dict.fromkeys(ids))
    found: dict[int, Building] = {}
    for start in range(0, len(wanted), _AT_ONCE):
        query = sa.select(Building).where(
            Building.id.in_(wanted[start : start + _AT_ONCE]),
            viewer.only(Building.organisation_id),
        )
        found |= {building.id: building for building in session.scalars(query)}
    if len(found) != len(wanted):
        raise NotFoundError(NO_BUILDING)
    return [found[building_id] for building_id in wanted]


def take_back(session: Session, viewer: Viewer, grant_id: int, now: datetime) -> BuildingGrant:
    """Take a grant back at once. Raises NotFoundError."""
    administered(viewer)
    row = session.get(BuildingGrant, grant_id)
    if row is None or not viewer.sees(row.building.organisation_id):
        raise NotFoundError("There is no such grant.")
    _end(session, viewer, [row], now)
    return row


def take_all_back(session: Session, viewer: Viewer, organisation_ref: str, now: datetime) -> int:
    """Take back everything that is open to a consultancy, at once; returns how many grants."""
    administered(viewer)
    rows = session.scalars(
        sa.select(BuildingGrant)
        .join(BuildingGrant.building)
        .join(BuildingGrant.organisation)
        .where(viewer.only(Building.organisation_id), Organisation.ref == organisation_ref)
        .where(BuildingGrant.taken_back_at.is_(None))
        .options(joinedload(BuildingGrant.building), joinedload(BuildingGrant.organisation))
    ).all()
    _end(session, viewer, rows, now)
    return len(rows)


def _end(session: Session, viewer: Viewer, rows: Sequence[BuildingGrant], now: datetime) -> None:
    ended = [row for row in rows if row.taken_back_at is None]
    for row in ended:
        row.taken_back_at = now
    record(session, viewer.actor, [_entry(row, "taken back") for row in ended])


def _entry(row: BuildingGrant, action: str) -> Entry:
    """Of the grant and not of the building: who else may see it is for its owner alone."""
    told = {
        "to": row.organisation.ref,
        "access": row.access,
        "from": row.from_day,
        "until": row.until_day,
    }
    begins = action == "opened"
    changes = {key: (None, value) if begins else (value, None) for key, value in told.items()}
    building = row.building
    return Entry(action, "grant", row.id, building.ref, building.organisation_id, changes)


def _partner(session: Session, ref: str, kind: OrganisationKind) -> Organisation | None:
    query = sa.select(Organisation).where(Organisation.ref == ref, Organisation.kind == kind)
    return session.scalar(query)


def share_demand(
    session: Session,
    viewer: Viewer,
    laboratory_ref: str,
    *,
    is_named: bool,
    on: date,
) -> None:
    """Let a laboratory see the viewer's demand. Raises InputError."""
    owner_id = administered(viewer)
    laboratory = _partner(session, laboratory_ref, OrganisationKind.LABORATORY)
    if laboratory is None:
        raise InputError([Problem("There is no such laboratory.", column="laboratory")])
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
    entry = Entry("demand shared", "organisation", owner_id, laboratory.ref, owner_id, changes)
    record(session, viewer.actor, [entry])


def stop_sharing_demand(session: Session, viewer: Viewer, share_id: int) -> None:
    """Stop at once. Raises NotFoundError."""
    owner_id = administered(viewer)
    row = session.get(DemandShare, share_id)
    if row is None or row.owner_id != owner_id:
        raise NotFoundError("There is no such share.")
    ref = row.laboratory.ref
    changes = {"laboratory": (ref, None)}
    entry = Entry("demand not shared", "organisation", owner_id, ref, owner_id, changes)
    session.delete(row)
    record(session, viewer.actor, [entry])

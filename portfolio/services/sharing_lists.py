"""What is open, and to whom: as the owner sees it, and as those it is open to see it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from portfolio.db.models import Building, Organisation, OrganisationKind
from portfolio.db.people import BuildingGrant, DemandShare
from portfolio.domain.rights import Right
from portfolio.services.shared_demand import (
    SharedPage,
    SharedTest,
    preview_for,
    preview_of_group,
)
from portfolio.services.sharing import administered
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class Grants:
    """A page of grants, how many there are, and the consultancies that something is open to."""

    rows: Sequence[BuildingGrant]
    total: int
    holders: Sequence[Organisation]


@dataclass(frozen=True, slots=True)
class Preview:
    """What a laboratory sees, or would see, of the viewer's demand; `share` while it does."""

    laboratory: str
    share: DemandShare | None
    page: SharedPage


@dataclass(frozen=True, slots=True)
class Choice:
    """Buildings for a grant: `total` match, `matching` are shown beside those chosen before."""

    matching: Sequence[Building]
    chosen: Sequence[Building]
    total: int
    #: further ones that match, neither chosen nor shown
    more: int


def partners(session: Session, viewer: Viewer, kind: OrganisationKind) -> Sequence[Organisation]:
    """The organisations of a kind that something can be shared with, by name."""
    administered(viewer)
    query = sa.select(Organisation).where(Organisation.kind == kind).order_by(Organisation.name)
    return session.scalars(query).all()


def grants_given(session: Session, viewer: Viewer, *, limit: int, offset: int) -> Grants:
    """Grants of the viewer's buildings, those taken back and run out included, newest first."""
    administered(viewer)
    own = Building.organisation_id == viewer.organisation_id
    grants = sa.select(BuildingGrant).join(BuildingGrant.building).where(own)
    rows = session.scalars(
        grants.options(joinedload(BuildingGrant.building), joinedload(BuildingGrant.organisation))
        .order_by(BuildingGrant.id.desc())
        .limit(limit)
        .offset(offset)
    ).all()
    total = _count(session, grants)
    unended = grants.where(BuildingGrant.taken_back_at.is_(None)).subquery()
    holders = sa.select(Organisation).where(
        Organisation.id.in_(sa.select(unended.c.organisation_id))
    )
    return Grants(rows, total, session.scalars(holders.order_by(Organisation.name)).all())


def demand_shares(session: Session, viewer: Viewer) -> Sequence[DemandShare]:
    """The laboratories that see the viewer's demand."""
    administered(viewer)
    return session.scalars(
        sa.select(DemandShare)
        .where(DemandShare.owner_id == viewer.organisation_id)
        .options(joinedload(DemandShare.laboratory))
        .order_by(DemandShare.id)
    ).all()


def preview(session: Session, viewer: Viewer, laboratory_ref: str, on: date) -> Preview:
    """What sharing with a laboratory means, before and while it lasts. Raises NotFoundError."""
    administered(viewer)
    page = preview_for(session, viewer, laboratory_ref, on)
    laboratory = session.scalars(
        sa.select(Organisation).where(Organisation.ref == laboratory_ref)
    ).one()
    shares = (s for s in demand_shares(session, viewer) if s.laboratory_id == laboratory.id)
    return Preview(laboratory.name, next(shares, None), page)


def preview_group(
    session: Session, viewer: Viewer, laboratory_ref: str, key: str, on: date
) -> SharedTest:
    """What sharing means for one group of gaps. Raises NotFoundError."""
    administered(viewer)
    return preview_of_group(session, viewer, laboratory_ref, key, on)


def choose_buildings(
    session: Session, viewer: Viewer, text: str, chosen: Collection[int], *, limit: int
) -> Choice:
    """Own buildings for a grant: every word of the text has to occur in what is searched.

    What is chosen and is not the viewer's own is left out like what is not there.
    """
    administered(viewer)
    found = _found(viewer, text)
    picked = sa.select(Building).where(
        Building.id.in_(chosen), Building.organisation_id == viewer.organisation_id
    )
    kept = session.scalars(picked.order_by(Building.ref)).all() if chosen else []
    rest = found.where(Building.id.not_in([row.id for row in kept]))
    shown = session.scalars(rest.order_by(Building.ref).limit(limit)).all()
    more = _count(session, rest) - len(shown)
    return Choice(shown, kept, _count(session, found), more)


def matching_buildings(session: Session, viewer: Viewer, text: str) -> list[int]:
    """Every own building that matches a search."""
    administered(viewer)
    return [building.id for building in session.scalars(_found(viewer, text))]


def _found(viewer: Viewer, text: str) -> sa.Select[Building]:
    words = text.casefold().split()
    return sa.select(Building).where(
        Building.organisation_id == viewer.organisation_id,
        *(Building.search_text.contains(word, autoescape=True) for word in words),
    )


def _count(session: Session, rows: sa.Select[Any]) -> int:
    return session.scalar(sa.select(sa.func.count()).select_from(rows.subquery())) or 0


def open_to_us(session: Session, viewer: Viewer, on: date) -> Sequence[BuildingGrant]:
    """The grants in force by which buildings of others are open to the viewer's organisation."""
    not_over = BuildingGrant.until_day.is_(None) | (BuildingGrant.until_day >= on)
    if Right.READ not in viewer.rights or not viewer.grants:
        return []
    return session.scalars(
        sa.select(BuildingGrant)
        .join(BuildingGrant.building)
        .where(
            BuildingGrant.organisation_id == viewer.organisation_id,
            BuildingGrant.taken_back_at.is_(None),
            BuildingGrant.from_day <= on,
            not_over,
        )
        .options(joinedload(BuildingGrant.building).joinedload(Building.organisation))
        .order_by(Building.ref, BuildingGrant.id)
    ).all()


def owners_sharing_demand(session: Session, viewer: Viewer) -> int:
    """How many owners share their demand with the viewer's laboratory; not which."""
    own = DemandShare.laboratory_id == viewer.organisation_id
    return _count(session, sa.select(DemandShare.id).where(own))


def state_of(grant: BuildingGrant, on: date) -> str:
    """Whether a grant is in force on a day: "taken back", "run out", "not begun", "in force"."""
    if grant.taken_back_at is not None:
        return "taken back"
    if grant.until_day is not None and grant.until_day < on:
        return "run out"
    return "not begun" if grant.from_day > on else "in force"

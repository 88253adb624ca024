"""The demo's three ready accounts, and what their organisations share. Made nowhere else."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.changelog import Actor, Entry, record
from portfolio.db.models import Building, Organisation
from portfolio.db.people import BuildingGrant, Person, SignIn
from portfolio.domain.rights import Access, Role
from portfolio.services.accounts.passwords import hashed
from portfolio.services.sharing import GrantWanted, grant, share_demand
from portfolio.services.viewer import Viewer

_ACTOR = Actor("demo command")
_CONSULTANTS_BUILDINGS = 6


@dataclass(frozen=True, slots=True)
class DemoAccount:
    """An account that is ready to sign in with; the password is new each time."""

    who: str
    email: str
    password: str


@dataclass(frozen=True, slots=True)
class _Invented:
    who: str
    name: str
    email: str
    organisation: str
    role: Role


_PEOPLE = (
    _Invented(
        "the owner's safety manager",
        "Ilse Marrowby",
        "safety.manager@demo.invalid",
        "HVH",
        Role.ADMINISTRATOR,
    ),
    _Invented(
        "the consultant",
        "Tobin Askerlea",
        "consultant@demo.invalid",
        "{consultancy}",
        Role.ENGINEER,
    ),
    _Invented(
        "the laboratory's account manager",
        "Wren Caldmoor",
        "account.manager@demo.invalid",
        "{laboratory}",
        Role.READER,
    ),
)


def ready_accounts(session: Session, on: date) -> list[DemoAccount]:
    """Make the three accounts, or give them new passwords, and share what each needs to see."""
    by_ref = {row.ref: row for row in session.scalars(sa.select(Organisation))}
    kinds = {f"{{{row.kind.value}}}": row for row in by_ref.values()}
    found = []
    for invented in _PEOPLE:
        organisation = by_ref.get(invented.organisation) or kinds[invented.organisation]
        found.append(_account(session, invented, organisation))
    _share(session, by_ref["HVH"], kinds["{consultancy}"], kinds["{laboratory}"], on)
    return found


def _account(session: Session, invented: _Invented, organisation: Organisation) -> DemoAccount:
    password = secrets.token_urlsafe(12)
    person = session.scalar(sa.select(Person).where(Person.email == invented.email))
    if person is None:
        person = Person(email=invented.email, organisation_id=organisation.id)
        session.add(person)
    person.name, person.role, person.is_active = invented.name, invented.role, True
    person.password_hash = hashed(password)
    session.flush()
    session.execute(sa.delete(SignIn).where(SignIn.person_id == person.id))
    entry = Entry("made ready", "person", person.id, person.email, organisation.id)
    record(session, _ACTOR, [entry])
    return DemoAccount(invented.who, invented.email, password)


def _share(
    session: Session,
    owner: Organisation,
    consultancy: Organisation,
    laboratory: Organisation,
    on: date,
) -> None:
    """The first run only: some buildings to the consultancy, every owner's demand to the lab."""
    if session.scalar(sa.select(sa.func.count()).select_from(BuildingGrant)):
        return
    own = sa.select(Building.id).where(Building.organisation_id == owner.id)
    first = tuple(session.scalars(own.order_by(Building.ref).limit(_CONSULTANTS_BUILDINGS)))
    wanted = GrantWanted(first, consultancy.ref, Access.EDIT, on, None)
    grant(session, Viewer(_ACTOR.name, owner.id), wanted)
    for owner_id in sorted(session.scalars(sa.select(Building.organisation_id).distinct())):
        share_demand(
            session,
            Viewer(_ACTOR.name, owner_id),
            laboratory.ref,
            is_named=owner_id == owner.id,
            on=on,
        )

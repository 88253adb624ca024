"""The people of an organisation, as its administrators see and change them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.changelog import Entry, record
from portfolio.db.people import Invitation, Person, SignIn
from portfolio.domain.errors import InputError, NotFoundError
from portfolio.domain.rights import Right, Role
from portfolio.services.accounts.joining import (
    Invited,
    end_links,
    invite,
    other_administrators,
)
from portfolio.services.accounts.signing_in import end_all
from portfolio.services.viewer import Viewer

LAST_ONE = "An organisation keeps at least one active administrator: make somebody else one first."


@dataclass(frozen=True, slots=True)
class PersonRow:
    """One person, and when a browser of theirs that may still be signed in was last seen."""

    person: Person
    seen_at: datetime | None


@dataclass(frozen=True, slots=True)
class People:
    """Everybody of the organisation, and the links that nobody has used yet."""

    rows: Sequence[PersonRow]
    invitations: Sequence[Invitation]


def list_people(session: Session, viewer: Viewer, now: datetime) -> People:
    """The viewer's own people by name, the deactivated last."""
    own = _administered(viewer)
    seen = sa.select(SignIn.person_id, sa.func.max(SignIn.seen_at).label("at"))
    latest = seen.group_by(SignIn.person_id).subquery()
    query = (
        sa.select(Person, latest.c.at)
        .outerjoin(latest, latest.c.person_id == Person.id)
        .where(Person.organisation_id == own)
        .order_by(Person.is_active.desc(), Person.name, Person.id)
    )
    invitations = (
        sa.select(Invitation)
        .where(Invitation.organisation_id == own, Invitation.used_at.is_(None))
        .where(Invitation.expires_at > now)
        .order_by(Invitation.id.desc())
    )
    rows = [PersonRow(person, at) for person, at in session.execute(query)]
    return People(rows, session.scalars(invitations).all())


def invite_person(
    session: Session, viewer: Viewer, *, email: str, name: str, role: Role, now: datetime
) -> Invited:
    """Make a one-time link for somebody who is to join. Raises InputError."""
    own = _administered(viewer)
    return invite(session, own, viewer.actor, email=email, name=name, role=role, now=now)


def link_for(session: Session, viewer: Viewer, person_id: int, now: datetime) -> Invited:
    """Make a one-time link by which a person sets a new password. Raises InputError."""
    person = _person(session, viewer, person_id)
    if not person.is_active:
        raise InputError("This account is deactivated: reactivate it first.")
    return invite(
        session,
        person.organisation_id,
        viewer.actor,
        email=person.email,
        name=person.name,
        role=person.role,
        now=now,
    )


def withdraw(session: Session, viewer: Viewer, invitation_id: int, now: datetime) -> str:
    """End a link that nobody has used; returns for whom it was. Raises NotFoundError."""
    own = _administered(viewer)
    found = session.get(Invitation, invitation_id)
    if found is None or found.organisation_id != own:
        raise NotFoundError("There is no such invitation.")
    end_links(session, own, found.email, now)
    entry = Entry("withdrawn", "invitation", found.id, found.email, own)
    record(session, viewer.actor, [entry])
    return found.email


def set_role(session: Session, viewer: Viewer, person_id: int, role: Role, now: datetime) -> Person:
    """Give a person another role, at once. Raises InputError for the last administrator.

    Unused links for the person end: an older one would bring the old role back.
    """
    person = _person(session, viewer, person_id)
    if person.role != role:
        if person.is_active:
            _keep_an_administrator(session, person)
        changes = {"role": (person.role, role)}
        person.role = role
        end_links(session, person.organisation_id, person.email, now)
        _log(session, viewer, person, "role changed", changes)
    return person


def set_active(
    session: Session, viewer: Viewer, person_id: int, now: datetime, *, is_active: bool
) -> Person:
    """Deactivate an account, ending every signed-in browser, or reactivate it.

    Raises InputError for the last administrator.
    """
    person = _person(session, viewer, person_id)
    if person.is_active != is_active:
        if not is_active:
            _keep_an_administrator(session, person)
            end_all(session, person.id)
        person.is_active = is_active
        end_links(session, person.organisation_id, person.email, now)
        action = "reactivated" if is_active else "deactivated"
        _log(session, viewer, person, action, {"active": (not is_active, is_active)})
    return person


def _log(
    session: Session,
    viewer: Viewer,
    person: Person,
    action: str,
    changes: dict[str, tuple[Any, Any]],
) -> None:
    entry = Entry(action, "person", person.id, person.email, person.organisation_id, changes)
    record(session, viewer.actor, [entry])


def _keep_an_administrator(session: Session, person: Person) -> None:
    if person.role == Role.ADMINISTRATOR and not other_administrators(session, person):
        raise InputError(LAST_ONE)


def _administered(viewer: Viewer) -> int:
    """The organisation whose people the viewer administers."""
    if viewer.organisation_id is None:
        raise NotFoundError("There are no accounts where nobody signs in.")
    viewer.require(Right.ADMINISTER, viewer.organisation_id, what="organisation")
    return viewer.organisation_id


def _person(session: Session, viewer: Viewer, person_id: int) -> Person:
    own = _administered(viewer)
    found = session.get(Person, person_id)
    if found is None or found.organisation_id != own:
        raise NotFoundError("There is no such person.")
    return found

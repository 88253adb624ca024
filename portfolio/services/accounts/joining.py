"""Joining: one-time links that an administrator hands over."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from portfolio.db.changelog import Actor, Entry, record
from portfolio.db.models import Organisation, OrganisationKind
from portfolio.db.people import Invitation, Person
from portfolio.domain.errors import InputError, NotFoundError, Problem
from portfolio.domain.plain_text import PLAIN, escaped, wrong_in_name, wrong_in_reference
from portfolio.domain.rights import Role
from portfolio.services.accounts import passwords
from portfolio.services.accounts.moments import aware
from portfolio.services.accounts.signing_in import acting, end_all

VALID_FOR = timedelta(days=7)
COMMAND_LINE = Actor("command line")
NO_LINK = "This link has been used, has run out, or never was one."
_EMAIL = re.compile(r'[^\s@<>()\[\],;:"\\\x00-\x1f\x7f]+@[^\s@<>()\[\],;:"\\\x00-\x1f\x7f]+')
_LONGEST = 200


@dataclass(frozen=True, slots=True)
class Invited:
    """The token of a one-time link, shown once, for whom, and until when it can be used."""

    token: str
    email: str
    expires_at: datetime


def invite(
    session: Session,
    organisation_id: int,
    by: Actor,
    *,
    email: str,
    name: str,
    role: Role,
    now: datetime,
) -> Invited:
    """Make a one-time link. For an address that has an account already it sets a new password.

    Earlier links for the address end. An address with an account elsewhere gets a link like any
    other, which then does not work: an invitation must not tell who works for whom. Raises
    InputError.
    """
    email = email.strip().casefold()
    if not _EMAIL.fullmatch(email) or len(email) > _LONGEST or wrong_in_name(email):
        problem = Problem("This is no e-mail address.", "name@host", column="email")
        raise InputError([problem])
    end_links(session, organisation_id, email, now)
    token = passwords.new_token()
    invitation = Invitation(
        organisation_id=organisation_id,
        email=email,
        name=name.strip()[:_LONGEST] or email,
        role=role,
        token_hash=passwords.token_hash(token),
        expires_at=now + VALID_FOR,
        invited_by=by.name,
    )
    session.add(invitation)
    session.flush()
    changes = {"role": (None, role)}
    entry = Entry("invited", "invitation", invitation.id, email, organisation_id, changes)
    record(session, by, [entry])
    return Invited(token, email, invitation.expires_at)


def end_links(session: Session, organisation_id: int, email: str, now: datetime) -> None:
    """End the unused links for an address: what an administrator did last is what counts."""
    session.execute(
        sa.update(Invitation)
        .where(Invitation.organisation_id == organisation_id, Invitation.email == email)
        .where(Invitation.used_at.is_(None), Invitation.expires_at > now)
        .values(expires_at=now)
        .execution_options(synchronize_session=False)
    )


def _end_links_to_administer(session: Session, organisation_id: int, now: datetime) -> None:
    """Only the newest link makes a first administrator, whatever address the others were for."""
    session.execute(
        sa.update(Invitation)
        .where(Invitation.organisation_id == organisation_id, Invitation.role == Role.ADMINISTRATOR)
        .where(Invitation.used_at.is_(None), Invitation.expires_at > now)
        .values(expires_at=now)
        .execution_options(synchronize_session=False)
    )


def open_invitation(session: Session, token: str, now: datetime) -> Invitation:
    """The invitation of a link that can still be used. Raises NotFoundError."""
    query = _of_token(token).options(joinedload(Invitation.organisation))
    return _still_open(session.scalar(query), now)


def _of_token(token: str) -> sa.Select[Invitation]:
    return sa.select(Invitation).where(Invitation.token_hash == passwords.token_hash(token))


def _still_open(found: Invitation | None, now: datetime) -> Invitation:
    if found is None or found.used_at is not None or aware(found.expires_at) <= now:
        raise NotFoundError(NO_LINK)
    return found


def join(session: Session, token: str, password: str, now: datetime) -> Person:
    """Use a link: makes the account, or sets the new password of the one there is.

    Raises NotFoundError for the link and InputError for the password; the link then stays good.
    """
    # held until the end: of two uses at the same moment only one succeeds
    invitation = _still_open(session.scalar(_of_token(token).with_for_update()), now)
    passwords.check_password(password, invitation.email)
    person = session.scalar(sa.select(Person).where(Person.email == invitation.email))
    if person is None:
        person = Person(organisation_id=invitation.organisation_id, email=invitation.email)
        session.add(person)
    elif person.organisation_id != invitation.organisation_id:
        raise NotFoundError(NO_LINK)
    changes = _taken_over(session, person, invitation)
    person.password_hash = passwords.hashed(password)
    invitation.used_at = now
    session.flush()
    end_all(session, person.id)
    entry = Entry("joined", "person", person.id, person.email, person.organisation_id, changes)
    record(session, acting(person), [entry])
    return person


def _taken_over(
    session: Session, person: Person, invitation: Invitation
) -> dict[str, tuple[Any, Any]]:
    """Name and role as invited; a last administrator stays one."""
    before = person.role if person.is_active else None
    stays = before == Role.ADMINISTRATOR and not other_administrators(session, person)
    person.name, person.is_active = invitation.name, True
    person.role = Role.ADMINISTRATOR if stays else invitation.role
    return {"role": (before, person.role)} if before != person.role else {}


def other_administrators(session: Session, person: Person) -> bool:
    """Whether somebody else administers the person's organisation.

    Holds the organisation until the transaction ends: two administrators who take each other's
    role at the same moment must not both find the other one.
    """
    own = person.organisation_id
    session.execute(sa.select(Organisation.id).where(Organisation.id == own).with_for_update())
    others = sa.select(Person.id).where(
        Person.organisation_id == own,
        Person.role == Role.ADMINISTRATOR,
        Person.is_active,
        Person.id != person.id,
    )
    return session.scalar(others.limit(1)) is not None


def first_administrator(
    session: Session,
    *,
    organisation_ref: str,
    organisation_name: str,
    kind: OrganisationKind,
    email: str,
    name: str,
    now: datetime,
) -> Invited:
    """A link for an organisation's first administrator; makes the organisation when it is new.

    Raises InputError when the organisation has an administrator already, when the address has an
    account elsewhere, or for a reference that cannot be one.
    """
    if wrong := wrong_in_reference(organisation_ref):
        raise InputError([Problem(wrong, PLAIN, value=escaped(organisation_ref))])
    found = session.scalar(sa.select(Organisation).where(Organisation.ref == organisation_ref))
    if found is None:
        found = Organisation(
            ref=organisation_ref, name=organisation_name or organisation_ref, kind=kind
        )
        session.add(found)
        session.flush()
        entry = Entry("created", "organisation", found.id, found.ref, found.id)
        record(session, COMMAND_LINE, [entry])
    _check_first(session, found, email.strip().casefold())
    _end_links_to_administer(session, found.id, now)
    return invite(
        session,
        found.id,
        COMMAND_LINE,
        email=email,
        name=name,
        role=Role.ADMINISTRATOR,
        now=now,
    )


def _check_first(session: Session, organisation: Organisation, email: str) -> None:
    own = Person.organisation_id == organisation.id
    administrators = sa.select(Person.id).where(own, Person.role == Role.ADMINISTRATOR)
    if session.scalar(administrators.where(Person.is_active).limit(1)) is not None:
        raise InputError(f'The organisation "{organisation.ref}" has an administrator already.')
    if session.scalar(sa.select(Person.id).where(Person.email == email, ~own)) is not None:
        raise InputError([Problem("This address has an account elsewhere.", value=email)])

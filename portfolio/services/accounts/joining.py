"""Joining: one-time links that an administrator hands over."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.changelog import Actor, Entry, record
from portfolio.db.models import Organisation, OrganisationKind
from portfolio.db.people import Invitation, Person
from portfolio.domain.errors import InputError, NotFoundError, Problem
from portfolio.domain.rights import Role
from portfolio.services.accounts import passwords
from portfolio.services.accounts.signing_in import acting, sign_out_everywhere

VALID_FOR = timedelta(days=7)
COMMAND_LINE = Actor("command line")


@dataclass(frozen=True, slots=True)
class Invited:
    """The token of a one-time link, shown once, and until when it can be used."""

    token: str
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

    Raises InputError; an address with an account elsewhere is refused in the same words as any
    address that cannot be invited.
    """
    email = email.strip().casefold()
    if email.count("@") != 1 or len(email) < len("a@b") or " " in email:
        raise InputError([Problem("This is no e-mail address.", "name@host", value=email)])
    taken = session.scalar(sa.select(Person).where(Person.email == email))
    if taken is not None and taken.organisation_id != organisation_id:
        raise InputError([Problem("This address cannot be invited.", value=email)])
    token = passwords.new_token()
    invitation = Invitation(
        organisation_id=organisation_id,
        email=email,
        name=name.strip() or email,
        role=role,
        token_hash=passwords.token_hash(token),
        expires_at=now + VALID_FOR,
        invited_by=by.name,
    )
    session.add(invitation)
    session.flush()
    changes = {"role": (None, role), "email": (None, email)}
    entry = Entry("invite", "invitation", invitation.id, email, organisation_id, changes)
    record(session, by, [entry])
    return Invited(token, invitation.expires_at)


def open_invitation(session: Session, token: str, now: datetime) -> Invitation:
    """The invitation of a link that can still be used. Raises NotFoundError."""
    found = session.scalar(
        sa.select(Invitation).where(Invitation.token_hash == passwords.token_hash(token))
    )
    if found is None or found.used_at is not None or _aware(found.expires_at) < now:
        raise NotFoundError("This link has been used, has run out, or never was one.")
    return found


def join(session: Session, token: str, password: str, now: datetime) -> Person:
    """Use a link: makes the account, or sets the new password of the one there is."""
    invitation = open_invitation(session, token, now)
    passwords.check_password(password, invitation.email)
    person = session.scalar(sa.select(Person).where(Person.email == invitation.email))
    if person is None:
        person = Person(organisation_id=invitation.organisation_id, email=invitation.email)
        session.add(person)
    elif person.organisation_id != invitation.organisation_id:
        raise NotFoundError("This link has been used, has run out, or never was one.")
    person.name, person.role, person.is_active = invitation.name, invitation.role, True
    person.password_hash = passwords.hashed(password)
    invitation.used_at = now
    session.flush()
    sign_out_everywhere(session, person)
    entry = Entry("join", "person", person.id, person.email, person.organisation_id)
    record(session, acting(person), [entry])
    return person


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

    Raises InputError when the organisation has an administrator already.
    """
    found = session.scalar(sa.select(Organisation).where(Organisation.ref == organisation_ref))
    if found is None:
        found = Organisation(
            ref=organisation_ref, name=organisation_name or organisation_ref, kind=kind
        )
        session.add(found)
        session.flush()
        entry = Entry("create", "organisation", found.id, found.ref, found.id)
        record(session, COMMAND_LINE, [entry])
    has_one = session.scalar(
        sa.select(Person.id)
        .where(Person.organisation_id == found.id, Person.role == Role.ADMINISTRATOR)
        .where(Person.is_active)
        .limit(1)
    )
    if has_one is not None:
        raise InputError(f'The organisation "{organisation_ref}" has an administrator already.')
    return invite(
        session,
        found.id,
        COMMAND_LINE,
        email=email,
        name=name,
        role=Role.ADMINISTRATOR,
        now=now,
    )


def _aware(moment: datetime) -> datetime:
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)

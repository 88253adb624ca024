"""Signing in and out: throttled, and known to the store, so that it can be ended from there.

Passwords are looked at between two short transactions: it takes long on purpose, and nobody
else's save waits for it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime, timedelta

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from portfolio.db.changelog import Actor, Entry, record
from portfolio.db.people import Person, SignIn
from portfolio.services.accounts import passwords, throttle
from portfolio.services.accounts.moments import aware

IDLE_LIMIT = timedelta(minutes=60)
ABSOLUTE_LIMIT = timedelta(hours=12)
SEEN_EVERY = timedelta(minutes=1)

Begin = Callable[[], AbstractContextManager[Session]]
"""Opens a session whose work is saved whole at the end, or not at all."""


@dataclass(frozen=True, slots=True)
class Refused:
    """Address or password do not fit, or it is too early to try again.

    A result and no exception: the failure counts, and counting it must be saved.
    """

    message: str
    #: seconds to wait; 0 where it was the password
    wait: int = 0


@dataclass(frozen=True, slots=True)
class Signed:
    """Who signed in, and the token for the cookie."""

    person: Person
    token: str


def sign_in(
    begin: Begin, email: str, password: str, *, address: str, now: datetime
) -> Signed | Refused:
    """Sign a person in; `address` is the network address that asks."""
    email = email.strip().casefold()
    with begin() as session:
        if wait := throttle.count_attempt(session, email, address, now):
            return _too_early(wait)
        person = session.scalar(sa.select(Person).where(Person.email == email))
    known = person.password_hash if person is not None and person.is_active else None
    fits = passwords.is_right(known, password)
    with begin() as session:
        found = _still(session, person, known) if fits else None
        if found is None:
            return Refused("The e-mail address and the password do not fit.")
        throttle.forgive(session, email, address, now)
        if passwords.wants_new_hash(found.password_hash):
            found.password_hash = passwords.hashed(password)
        return Signed(found, _started(session, found, now))


def _still(session: Session, person: Person | None, known: str | None) -> Person | None:
    """The person, unless somebody changed the password or deactivated the account meanwhile."""
    found = session.get(Person, person.id, with_for_update=True) if person is not None else None
    if found is None or not found.is_active or found.password_hash != known:
        return None
    return found


def _started(session: Session, person: Person, now: datetime) -> str:
    outdated = sa.delete(SignIn).where(
        SignIn.person_id == person.id, SignIn.started_at < now - ABSOLUTE_LIMIT
    )
    session.execute(outdated.execution_options(synchronize_session=False))
    token = passwords.new_token()
    row = SignIn(
        person_id=person.id,
        token_hash=passwords.token_hash(token),
        started_at=now,
        seen_at=now,
    )
    session.add(row)
    _log(session, person, "signed in")
    return token


def open_sign_in(session: Session, token: str, now: datetime) -> SignIn | None:
    """The signed-in browser of a token, unless it was ended or was idle or open for too long."""
    found = session.scalar(
        sa.select(SignIn)
        .where(SignIn.token_hash == passwords.token_hash(token))
        .options(joinedload(SignIn.person).joinedload(Person.organisation))
    )
    if found is None or not found.person.is_active or not _is_open(found, now):
        return None
    return found


def open_sign_ins(session: Session, person_id: int, now: datetime) -> Sequence[SignIn]:
    """The signed-in browsers of a person, the one seen last first."""
    query = sa.select(SignIn).where(SignIn.person_id == person_id).order_by(SignIn.seen_at.desc())
    return [row for row in session.scalars(query) if _is_open(row, now)]


def _is_open(row: SignIn, now: datetime) -> bool:
    idle, whole = now - aware(row.seen_at), now - aware(row.started_at)
    return idle <= IDLE_LIMIT and whole <= ABSOLUTE_LIMIT


def mark_seen(session: Session, token: str, now: datetime) -> None:
    """Keep a signed-in browser from going idle; at most one write a minute."""
    session.execute(
        sa.update(SignIn)
        .where(
            SignIn.token_hash == passwords.token_hash(token),
            SignIn.seen_at < now - SEEN_EVERY,
        )
        .values(seen_at=now)
        .execution_options(synchronize_session=False)
    )


def sign_out(session: Session, token: str) -> None:
    """End one signed-in browser."""
    session.execute(sa.delete(SignIn).where(SignIn.token_hash == passwords.token_hash(token)))


def end_all(session: Session, person_id: int) -> None:
    """End every signed-in browser of a person; the caller logs why."""
    session.execute(sa.delete(SignIn).where(SignIn.person_id == person_id))


def sign_out_everywhere(session: Session, person_id: int) -> None:
    """End every signed-in browser of a person, at their wish."""
    person = session.get_one(Person, person_id)
    end_all(session, person.id)
    _log(session, person, "signed out everywhere")


def change_password(
    begin: Begin, person_id: int, old: str, new: str, *, address: str, now: datetime
) -> Refused | None:
    """Set a new password and end every signed-in browser. Raises InputError for the new one.

    Guesses at the old password are throttled like signing in.
    """
    with begin() as session:
        person = session.get_one(Person, person_id)
        passwords.check_password(new, person.email)
        if wait := throttle.count_attempt(session, person.email, address, now):
            return _too_early(wait)
    if not passwords.is_right(person.password_hash, old):
        return Refused("The present password does not fit.")
    new_hash = passwords.hashed(new)
    with begin() as session:
        found = session.get_one(Person, person_id)
        throttle.forgive(session, found.email, address, now)
        found.password_hash = new_hash
        end_all(session, found.id)
        _log(session, found, "password changed")
    return None


def _too_early(seconds: int) -> Refused:
    return Refused(f"Too many attempts. Try again in {seconds} seconds.", seconds)


def acting(person: Person) -> Actor:
    """The person as the change log names who acts."""
    return Actor(person.name, person.id, person.organisation_id)


def _log(session: Session, person: Person, action: str) -> None:
    entry = Entry(action, "person", person.id, person.email, person.organisation_id)
    record(session, acting(person), [entry])

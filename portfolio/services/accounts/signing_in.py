"""Signing in and out: throttled, and known to the store, so that it can be ended from there."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from portfolio.db.changelog import Actor, Entry, record
from portfolio.db.people import FailedSignIn, Person, SignIn
from portfolio.domain.rights import waiting_seconds
from portfolio.services.accounts import passwords

IDLE_LIMIT = timedelta(minutes=60)
ABSOLUTE_LIMIT = timedelta(hours=12)
_SEEN_EVERY = timedelta(minutes=1)
_FORGOTTEN_AFTER = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Refused:
    """Address or password do not fit, or it is too early to try again.

    A result and no exception: the failure counts, and counting it must be saved.
    """

    message: str


@dataclass(frozen=True, slots=True)
class Signed:
    """Who signed in, and the token for the cookie."""

    person: Person
    token: str


def sign_in(
    session: Session, email: str, password: str, address: str, now: datetime
) -> Signed | Refused:
    """Sign a person in; `address` is the network address that asks."""
    email = email.strip().casefold()
    keys = _key("account", email), _key("address", address)
    if wait := _waiting(session, keys, now):
        return wait
    person = session.scalar(sa.select(Person).where(Person.email == email))
    is_right = passwords.is_right(person.password_hash if person else None, password)
    if person is None or not is_right or not person.is_active:
        _count_failure(session, keys, now)
        return Refused("The e-mail address and the password do not fit.")
    session.execute(sa.delete(FailedSignIn).where(FailedSignIn.key == keys[0]))
    if passwords.wants_new_hash(person.password_hash):
        person.password_hash = passwords.hashed(password)
    token = passwords.new_token()
    session.add(
        SignIn(
            person_id=person.id,
            token_hash=passwords.token_hash(token),
            started_at=now,
            seen_at=now,
        )
    )
    _log(session, person, "sign in")
    return Signed(person, token)


def person_signed_in(session: Session, token: str, now: datetime) -> Person | None:
    """Whose token this is, unless it was ended or has been idle or open for too long."""
    found = session.scalar(
        sa.select(SignIn)
        .where(SignIn.token_hash == passwords.token_hash(token))
        .options(joinedload(SignIn.person).joinedload(Person.organisation))
    )
    if found is None or not found.person.is_active:
        return None
    seen, started = _aware(found.seen_at), _aware(found.started_at)
    if now - seen > IDLE_LIMIT or now - started > ABSOLUTE_LIMIT:
        return None
    return found.person


def mark_seen(session: Session, token: str, now: datetime) -> None:
    """Keep a signed-in browser from going idle; at most one write a minute."""
    session.execute(
        sa.update(SignIn)
        .where(
            SignIn.token_hash == passwords.token_hash(token),
            SignIn.seen_at < now - _SEEN_EVERY,
        )
        .values(seen_at=now)
    )


def sign_out(session: Session, token: str) -> None:
    """End one signed-in browser."""
    session.execute(sa.delete(SignIn).where(SignIn.token_hash == passwords.token_hash(token)))


def sign_out_everywhere(session: Session, person: Person) -> None:
    """End every signed-in browser of a person."""
    session.execute(sa.delete(SignIn).where(SignIn.person_id == person.id))
    _log(session, person, "sign out everywhere")


def change_password(
    session: Session, person: Person, old: str, new: str, *, address: str, now: datetime
) -> Refused | None:
    """Set a new password and end every signed-in browser. Raises InputError for the new one.

    Guesses at the old password are throttled like signing in.
    """
    keys = _key("account", person.email), _key("address", address)
    if wait := _waiting(session, keys, now):
        return wait
    if not passwords.is_right(person.password_hash, old):
        _count_failure(session, keys, now)
        return Refused("The present password does not fit.")
    passwords.check_password(new, person.email)
    person.password_hash = passwords.hashed(new)
    sign_out_everywhere(session, person)
    _log(session, person, "change password")
    return None


def _waiting(session: Session, keys: tuple[str, str], now: datetime) -> Refused | None:
    waits = session.scalars(sa.select(FailedSignIn.wait_until).where(FailedSignIn.key.in_(keys)))
    longest = max((_aware(wait) - now for wait in waits), default=timedelta())
    if longest > timedelta():
        seconds = int(longest.total_seconds()) + 1
        return Refused(f"Too many attempts. Try again in {seconds} seconds.")
    return None


def _count_failure(session: Session, keys: tuple[str, str], now: datetime) -> None:
    for key in keys:
        kept = session.get(FailedSignIn, key)
        if kept is None:
            kept = FailedSignIn(key=key, failures=0, wait_until=now)
            session.add(kept)
        elif now - _aware(kept.wait_until) > _FORGOTTEN_AFTER:
            kept.failures = 0
        kept.failures += 1
        kept.wait_until = now + timedelta(seconds=waiting_seconds(kept.failures))


def _key(kind: str, what: str) -> str:
    return hashlib.sha256(f"{kind}:{what}".encode()).hexdigest()


def _aware(moment: datetime) -> datetime:
    """SQLite gives moments back without their zone; they were stored in UTC."""
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def acting(person: Person) -> Actor:
    """The person as the change log names who acts."""
    return Actor(person.name, person.id, person.organisation_id)


def _log(session: Session, person: Person, action: str) -> None:
    entry = Entry(action, "person", person.id, person.email, person.organisation_id)
    record(session, acting(person), [entry])

"""The change log: written by the services in the transaction of the change itself.

Each entry's hash covers the entry and the hash before it, so that an entry that was altered,
removed or put in between is found by reading the chain again.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from enum import Enum
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from portfolio.db.models import Event, LogHead
from portfolio.db.states import states_of

FIRST_HASH = "0" * 64
_ONLY = 1
_READ_AT_ONCE = 500
_HASHED = (
    "organisation_id",
    "actor",
    "person_id",
    "acting_organisation_id",
    "action",
    "subject",
    "subject_id",
    "subject_ref",
    "changes",
    "reason",
    "state",
)


@dataclass(frozen=True, slots=True)
class Actor:
    """Who acts, and for which organisation; without ids: the command line."""

    name: str
    person_id: int | None = None
    organisation_id: int | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """One change: `changes` is {field: (from, to)}; `organisation_id` is whose thing it is."""

    action: str
    subject: str
    subject_id: int
    subject_ref: str
    organisation_id: int | None
    changes: Mapping[str, tuple[Any, Any]] = field(default_factory=dict)
    reason: str = ""


def record(session: Session, actor: Actor, entries: Sequence[Entry]) -> None:
    """Write the entries as one batch, all at the same moment, at the end of the chain."""
    if not entries:
        return
    session.flush()
    states = states_of(session, [(entry.subject, entry.subject_id) for entry in entries])
    head = _locked_head(session)
    now, last = datetime.now(UTC), head.last_hash
    rows = []
    for entry in entries:
        row: dict[str, Any] = {
            "at": now,
            "organisation_id": entry.organisation_id,
            "actor": actor.name,
            "person_id": actor.person_id,
            "acting_organisation_id": actor.organisation_id,
            "action": entry.action,
            "subject": entry.subject,
            "subject_id": entry.subject_id,
            "subject_ref": entry.subject_ref,
            "changes": {key: [_plain(a), _plain(b)] for key, (a, b) in entry.changes.items()},
            "reason": entry.reason,
            "state": states.get((entry.subject, entry.subject_id)),
            "previous_hash": last,
        }
        last = row["hash"] = entry_hash(row)
        rows.append(row)
    session.execute(sa.insert(Event), rows)
    head.entries += len(rows)
    head.last_hash = last
    session.flush()


def entry_hash(row: Mapping[str, Any]) -> str:
    """The hash of an entry with the one before it; the same on both databases."""
    moment: datetime = row["at"] if row["at"].tzinfo else row["at"].replace(tzinfo=UTC)
    told = [row["previous_hash"], moment.astimezone(UTC).isoformat(timespec="microseconds")]
    told += [row[key] for key in _HASHED]
    text = json.dumps(told, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _locked_head(session: Session) -> LogHead:
    """The end of the chain, held until the transaction ends: entries come one after another."""
    head = session.get(LogHead, _ONLY, with_for_update=True)
    if head is not None:
        return head
    # of two writers who both begin the log, one waits here for the other
    is_postgres = session.get_bind().dialect.name == "postgresql"
    insert = postgresql.insert if is_postgres else sqlite.insert
    first = insert(LogHead).values(id=_ONLY, entries=0, last_hash=FIRST_HASH)
    session.execute(first.on_conflict_do_nothing())
    return session.get_one(LogHead, _ONLY, with_for_update=True)


def broken_at(session: Session) -> str | None:
    """What is wrong with the chain, in words; None when it is whole."""
    last, count = FIRST_HASH, 0
    query = sa.select(Event).order_by(Event.id).execution_options(yield_per=_READ_AT_ONCE)
    with session.scalars(query) as events:
        for event in events:
            row = {column.name: getattr(event, column.name) for column in Event.__table__.columns}
            if row["previous_hash"] != last:
                return (
                    f"entry {event.id} does not follow the entry before it: one is missing or moved"
                )
            if row["hash"] != entry_hash(row):
                return f"entry {event.id} has been altered"
            last, count = event.hash, count + 1
    head = session.get(LogHead, _ONLY)
    expected = (head.entries, head.last_hash) if head else (0, FIRST_HASH)
    if (count, last) != expected:
        return f"the log ends after {count} entries, {expected[0]} were written"
    return None


def _plain(value: Any) -> Any:
    """The value as JSON can hold it."""
    if isinstance(value, Enum):
        return value.value
    return value.isoformat() if isinstance(value, date) else value

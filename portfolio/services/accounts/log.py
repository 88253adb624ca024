"""The change log as an organisation may read it: its own entries, and those of what is open to it.

Of another owner's building that is open, the building itself, its zones, surveys, rulings and works
are read; never who else it was opened to. Entries of accounts are for administrators, and for the
person whom they are about.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Decision, Event, Settlement, Survey, Zone
from portfolio.db.works import Works
from portfolio.domain.errors import InputError
from portfolio.domain.rights import Right
from portfolio.services.history import actor_for, is_actor_told
from portfolio.services.viewer import Viewer

SUBJECTS = (
    "building",
    "zone",
    "survey",
    "settlement",
    "decision",
    "test",
    "document",
    "log reading",
    "certificate",
    "works",
    "calendar link",
    "grant",
    "organisation",
    "person",
    "invitation",
    "import",
    "export",
)
MOST_AT_ONCE = 100_000
_ACCOUNTS = ("person", "invitation")


@dataclass(frozen=True, slots=True)
class LogFilter:
    """Which entries; both days count, as days of UTC."""

    subject: str = ""
    actor: str = ""
    from_day: date | None = None
    until_day: date | None = None


@dataclass(frozen=True, slots=True)
class LogLine:
    """One entry: `changes` has (field, from, to) as texts."""

    id: int
    at: datetime
    actor: str
    action: str
    subject: str
    subject_ref: str
    changes: tuple[tuple[str, str, str], ...]
    reason: str
    hash: str


@dataclass(frozen=True, slots=True)
class LogPage:
    """Entries, newest first, and how many there are altogether."""

    lines: Sequence[LogLine]
    total: int


def read_log(
    session: Session,
    viewer: Viewer,
    wanted: LogFilter,
    *,
    limit: int | None = None,
    offset: int = 0,
) -> LogPage:
    """A page of the log; without a limit the whole. Raises InputError where that is too much."""
    kept = [_readable(viewer), *_conditions(viewer, wanted)]
    counted = sa.select(sa.func.count()).select_from(Event).where(*kept)
    total = session.scalar(counted) or 0
    if limit is None and total > MOST_AT_ONCE:
        raise InputError(
            f"These are {total} entries; a file holds up to {MOST_AT_ONCE}. "
            "Choose days, so that it becomes fewer."
        )
    query = sa.select(Event).where(*kept).order_by(Event.id.desc()).limit(limit).offset(offset)
    return LogPage([_line(viewer, event) for event in session.scalars(query)], total)


def _readable(viewer: Viewer) -> sa.ColumnElement[bool]:
    if viewer.organisation_id is None:
        return sa.true()
    own = Event.organisation_id == viewer.organisation_id
    if Right.ADMINISTER not in viewer.rights:
        own &= Event.subject.not_in(_ACCOUNTS) | (
            (Event.subject == "person") & (Event.subject_id == viewer.person_id)
        )
    return sa.or_(own, *_of_buildings(sorted(viewer.grants))) if viewer.grants else own


def _of_buildings(buildings: Iterable[int]) -> list[sa.ColumnElement[bool]]:
    """Entries of these buildings and of what hangs on them."""
    buildings = list(buildings)
    zones = sa.select(Zone.id).where(Zone.building_id.in_(buildings))
    found: list[sa.ColumnElement[bool]] = [
        (Event.subject == "building") & Event.subject_id.in_(buildings),
        (Event.subject == "zone") & Event.subject_id.in_(zones),
        (Event.subject == "works")
        & Event.subject_id.in_(sa.select(Works.id).where(Works.building_id.in_(buildings))),
    ]
    for subject, kind in (("survey", Survey), ("decision", Decision), ("settlement", Settlement)):
        ids = sa.select(kind.id).where(kind.zone_id.in_(zones))
        found.append((Event.subject == subject) & Event.subject_id.in_(ids))
    return found


def _conditions(viewer: Viewer, wanted: LogFilter) -> list[sa.ColumnElement[bool]]:
    found: list[sa.ColumnElement[bool]] = []
    if wanted.subject:
        found.append(Event.subject == wanted.subject)
    if wanted.actor:
        found.append(is_actor_told(viewer) & Event.actor.icontains(wanted.actor, autoescape=True))
    if wanted.from_day:
        found.append(Event.at >= _start_of(wanted.from_day))
    if wanted.until_day:
        found.append(Event.at < _start_of(wanted.until_day) + timedelta(days=1))
    return found


def _start_of(day: date) -> datetime:
    return datetime.combine(day, time(), UTC)


def _line(viewer: Viewer, event: Event) -> LogLine:
    changes = tuple(
        (field.replace("_", " "), told(old), told(new))
        for field, (old, new) in event.changes.items()
    )
    return LogLine(
        event.id,
        event.at,
        actor_for(viewer, event),
        event.action,
        event.subject,
        event.subject_ref,
        changes,
        event.reason,
        event.hash,
    )


def told(value: Any) -> str:
    """A logged value in words.

    >>> told(None), told(True), told(["a", 2]), told([])
    ('not recorded', 'yes', 'a; 2', 'none')
    """
    if value is None or value == "":
        return "not recorded"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return "; ".join(told(part) for part in value) or "none"
    return str(value)

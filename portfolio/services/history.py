"""The change log of a thing and of what hangs on it, newest first."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Decision, Event, Settlement, Survey
from portfolio.services.viewer import Viewer

MOST_EVENTS = 50
SOMEBODY = "somebody of another organisation"


@dataclass(frozen=True, slots=True)
class HistoryLine:
    """One change: `changes` has (field, from, to) as texts."""

    at: datetime
    actor: str
    action: str
    subject: str
    subject_ref: str
    changes: tuple[tuple[str, str, str], ...]
    reason: str


@dataclass(frozen=True, slots=True)
class History:
    """The newest changes, and how many there are altogether."""

    lines: tuple[HistoryLine, ...]
    total: int


NO_HISTORY = History((), 0)


def is_actor_told(viewer: Viewer) -> sa.ColumnElement[bool]:
    """Whether a viewer reads who made an entry: those of the thing's owner, and their own people.

    To the owner's other consultancies it is told that somebody did it, not who works there.
    """
    if viewer.organisation_id is None:
        return sa.true()
    by = Event.acting_organisation_id
    own, of_owner = Event.organisation_id == viewer.organisation_id, by == Event.organisation_id
    return sa.or_(own, by.is_(None), by == viewer.organisation_id, of_owner)


def actor_for(viewer: Viewer, event: Event) -> str:
    """Who made an entry, as far as the viewer reads it; the same rule as `is_actor_told`."""
    by = event.acting_organisation_id
    told = viewer.sees(event.organisation_id or 0) or by in (
        None,
        viewer.organisation_id,
        event.organisation_id,
    )
    return event.actor if told else SOMEBODY


def history_of_zones(
    session: Session,
    viewer: Viewer,
    zone_ids: Collection[int],
    *,
    building_id: int | None = None,
) -> History:
    """What happened to these zones, their surveys and rulings, and to the building."""
    about = [_about("zone", zone_ids)]
    if building_id is not None:
        about.append(_about("building", [building_id]))
    for subject, kind in (("survey", Survey), ("decision", Decision), ("settlement", Settlement)):
        ids = sa.select(kind.id).where(kind.zone_id.in_(zone_ids))
        about.append((Event.subject == subject) & Event.subject_id.in_(ids))
    return _history(session, viewer, sa.or_(*about))


def history_of_works(session: Session, viewer: Viewer, works_ids: Collection[int]) -> History:
    """What happened to works, their statuses and interim measures."""
    return _history(session, viewer, _about("works", works_ids))


def history_of_test(session: Session, viewer: Viewer, test_id: int) -> History:
    """What happened to a test record."""
    return _history(session, viewer, _about("test", [test_id]))


def _about(subject: str, ids: Collection[int]) -> sa.ColumnElement[bool]:
    return (Event.subject == subject) & Event.subject_id.in_(ids)


def _history(session: Session, viewer: Viewer, about: sa.ColumnElement[bool]) -> History:
    query = sa.select(Event).where(about).order_by(Event.at.desc(), Event.id.desc())
    lines = tuple(_line(viewer, event) for event in session.scalars(query.limit(MOST_EVENTS)))
    if len(lines) < MOST_EVENTS:
        return History(lines, len(lines))
    total = session.scalar(sa.select(sa.func.count()).select_from(Event).where(about)) or 0
    return History(lines, total)


def _line(viewer: Viewer, event: Event) -> HistoryLine:
    changes = tuple(
        (field.replace("_", " "), _text(old), _text(new))
        for field, (old, new) in event.changes.items()
    )
    return HistoryLine(
        event.at,
        actor_for(viewer, event),
        event.action,
        event.subject,
        event.subject_ref,
        changes,
        event.reason,
    )


def _text(value: Any) -> str:
    if value is None or value == "":
        return "not recorded"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return "; ".join(_text(part) for part in value) or "none"
    return str(value)

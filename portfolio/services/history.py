"""The change log of a thing and of what hangs on it, newest first."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Decision, Event, Settlement, Survey

MOST_EVENTS = 50


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


def history_of_zones(
    session: Session, zone_ids: Collection[int], *, building_id: int | None = None
) -> History:
    """What happened to these zones, their surveys and rulings, and to the building."""
    about = [_about("zone", zone_ids)]
    if building_id is not None:
        about.append(_about("building", [building_id]))
    for subject, kind in (("survey", Survey), ("decision", Decision), ("settlement", Settlement)):
        ids = sa.select(kind.id).where(kind.zone_id.in_(zone_ids))
        about.append((Event.subject == subject) & Event.subject_id.in_(ids))
    return _history(session, sa.or_(*about))


def history_of_test(session: Session, test_id: int) -> History:
    """What happened to a test record."""
    return _history(session, _about("test", [test_id]))


def _about(subject: str, ids: Collection[int]) -> sa.ColumnElement[bool]:
    return (Event.subject == subject) & Event.subject_id.in_(ids)


def _history(session: Session, about: sa.ColumnElement[bool]) -> History:
    query = sa.select(Event).where(about).order_by(Event.at.desc(), Event.id.desc())
    lines = tuple(_line(event) for event in session.scalars(query.limit(MOST_EVENTS)))
    if len(lines) < MOST_EVENTS:
        return History(lines, len(lines))
    total = session.scalar(sa.select(sa.func.count()).select_from(Event).where(about)) or 0
    return History(lines, total)


def _line(event: Event) -> HistoryLine:
    changes = tuple(
        (field.replace("_", " "), _text(old), _text(new))
        for field, (old, new) in event.changes.items()
    )
    return HistoryLine(
        event.at,
        event.actor,
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

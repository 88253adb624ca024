"""What must hold of a database whatever happened to those who wrote to it."""

from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import models, people
from portfolio.db.changelog import broken_at
from portfolio.db.session import engine_for, is_current, reading
from portfolio.db.states import states_of

_LOGGED: dict[str, Any] = {
    "building": models.Building,
    "zone": models.Zone,
    "survey": models.Survey,
    "test": models.TestRecord,
    "decision": models.Decision,
    "settlement": models.Settlement,
    "grant": people.BuildingGrant,
}
_COUNTED = ("building", "zone", "test")


@contextmanager
def looking_into(url: str) -> Iterator[Session]:
    """The database opened anew, by nobody who was there before."""
    assert is_current(url)
    engine = engine_for(url)
    try:
        with reading(engine) as session:
            yield session
    finally:
        engine.dispose()


def faults_of(session: Session) -> list[str]:
    """Everything that does not hold together; empty for a whole database."""
    fault = broken_at(session)
    return [
        *([f"log: {fault}"] if fault else []),
        *_broken_files(session),
        *_orphans(session),
        *_unlogged(session),
        *_miscounted(session),
        *_states_unlike_rows(session),
        *_without_result(session),
    ]


def _broken_files(session: Session) -> list[str]:
    if session.get_bind().dialect.name != "sqlite":
        return []
    found = [f"file: {row[0]}" for row in session.execute(sa.text("PRAGMA integrity_check"))]
    found.remove("file: ok")
    return found + [f"key: {row}" for row in session.execute(sa.text("PRAGMA foreign_key_check"))]


def _orphans(session: Session) -> Iterator[str]:
    """Rows whose parent is gone, asked for table by table on either database."""
    for table in models.Base.metadata.sorted_tables:
        for key in table.foreign_keys:
            parent = key.column.table.alias()
            lost = sa.select(sa.func.count()).select_from(
                table.outerjoin(parent, key.parent == parent.c[key.column.name])
            )
            lost = lost.where(key.parent.is_not(None), parent.c[key.column.name].is_(None))
            if number := session.scalar(lost):
                yield f"{table.name}: {number} without {key.column.table.name}"


def _unlogged(session: Session) -> Iterator[str]:
    event = models.Event
    for subject, kind in _LOGGED.items():
        made = ["created", "opened"]
        query = sa.select(event.subject_id).where(event.subject == subject, event.action.in_(made))
        logged = Counter(session.scalars(query))
        kept = Counter(session.scalars(sa.select(kind.id)))
        if logged != kept:
            yield f"{subject}: {len(kept)} kept, {logged.total()} logged as new"


def _miscounted(session: Session) -> Iterator[str]:
    event = models.Event
    for subject in _COUNTED:
        kind = _LOGGED[subject]
        changed = sa.select(event.subject_id).where(
            event.subject == subject, event.action == "changed"
        )
        saves = Counter(session.scalars(changed))
        for row in session.execute(sa.select(kind.id, kind.revision)):
            if row.revision != 1 + saves[row.id]:
                yield f"{subject} {row.id}: revision {row.revision} after {saves[row.id]} changes"


def _states_unlike_rows(session: Session) -> Iterator[str]:
    event = models.Event
    told = sa.select(event.subject, event.subject_id, event.state).where(event.state.is_not(None))
    last = {(row[0], row[1]): row[2] for row in session.execute(told.order_by(event.id))}
    now = states_of(session, last)
    yield from (f"{key}: not as logged last" for key in last if now.get(key) != last[key])


def _without_result(session: Session) -> Iterator[str]:
    for kind, result, key in (
        (models.Zone, models.ZoneResult, "zone_id"),
        (models.Building, models.BuildingResult, "building_id"),
    ):
        kept = set(session.scalars(sa.select(kind.id)))
        computed = set(session.scalars(sa.select(getattr(result, key))))
        if kept != computed:
            yield f"{kind.__name__}: {len(kept)} kept, {len(computed)} computed"

"""Things as they were stored at the end of an earlier day, out of the change log."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Event


def until_the_end_of(on: date) -> sa.ColumnElement[bool]:
    """Of entries: those made by the end of that day, as days of UTC."""
    return Event.at < datetime.combine(on + timedelta(days=1), time(), UTC)


def states_then(
    session: Session, subject: str, ids: Iterable[int] | None, on: date
) -> dict[int, dict[str, Any]]:
    """The last state of each thing on that day, or of all there are; what was not there yet is
    left out."""
    last = (
        sa.select(sa.func.max(Event.id))
        .where(Event.subject == subject, Event.state.is_not(None), until_the_end_of(on))
        .group_by(Event.subject_id)
    )
    if ids is not None:
        last = last.where(Event.subject_id.in_(list(ids)))
    query = sa.select(Event.subject_id, Event.state).where(Event.id.in_(last))
    return {row.subject_id: row.state for row in session.execute(query)}

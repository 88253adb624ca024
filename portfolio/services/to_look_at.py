"""What was re-opened and waits for somebody to look at it again: the list, and its end."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.changelog import Entry, record
from portfolio.db.life import Concerned, Reopened
from portfolio.domain.errors import InputError, NotFoundError, Problem
from portfolio.domain.rights import Right
from portfolio.services.packs_made import makers_told
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class ToLookAt:
    """A page of what was re-opened, newest first, and how many there are.

    `makers` tells by row who made a pack, as far as the viewer may know.
    """

    rows: Sequence[Reopened]
    total: int
    makers: Mapping[int, str]


def reopened(
    session: Session,
    viewer: Viewer,
    *,
    open_only: bool = True,
    limit: int | None = None,
    offset: int = 0,
) -> ToLookAt:
    """What the viewer may read of it."""
    mine = [viewer.reads(Reopened.organisation_id, Reopened.building_id)]  # type: ignore[arg-type]
    if open_only:
        mine.append(Reopened.looked_on.is_(None))
    total = session.scalar(sa.select(sa.func.count()).select_from(Reopened).where(*mine)) or 0
    query = sa.select(Reopened).where(*mine).order_by(Reopened.id.desc())
    rows = session.scalars(query.limit(limit).offset(offset)).all()
    packs = {row.id: row.subject_id for row in rows if row.subject is Concerned.PACK}
    told = makers_told(session, viewer, set(packs.values()))
    makers = {row_id: told[pack_id] for row_id, pack_id in packs.items() if pack_id in told}
    return ToLookAt(rows, total, makers)


def reopened_of(session: Session, subject: Concerned, subject_id: int) -> Sequence[Reopened]:
    """What is open of one thing, newest first; whoever sees the thing sees this."""
    query = sa.select(Reopened).where(
        Reopened.subject == subject,
        Reopened.subject_id == subject_id,
        Reopened.looked_on.is_(None),
    )
    return session.scalars(query.order_by(Reopened.id.desc())).all()


def looked_at(session: Session, viewer: Viewer, row_id: int, note: str, on: date) -> Reopened:
    """Say that somebody has looked at it again, and what they found.

    Raises NotFoundError, ForbiddenError, and InputError without a note or when it was done.
    """
    row = session.get(Reopened, row_id, with_for_update=True)
    if row is None:
        raise NotFoundError("There is no such thing to look at.")
    viewer.require(Right.EDIT, row.organisation_id, row.building_id, what="thing to look at")
    if row.looked_on is not None:
        raise InputError(f"{row.looked_by} has looked at this on {row.looked_on}.")
    if not note.strip():
        raise InputError([Problem("Say what was found.", column="note")])
    row.looked_on, row.looked_by, row.note = on, viewer.name, note.strip()
    entry = Entry(
        "looked at again",
        row.subject.value,
        row.subject_id,
        row.subject_ref,
        row.organisation_id,
        {},
        f"{row.because}: {row.note}",
    )
    record(session, viewer.actor, [entry])
    return row

"""Notes that something was handed out: files in the change log, packs in a list of their own."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import UTC, datetime

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.changelog import Entry, record
from portfolio.db.life import PackMade
from portfolio.services.packs import MadePack
from portfolio.services.viewer import Viewer


def log_export(session: Session, viewer: Viewer, name: str) -> None:
    """Write that the viewer took away a file of this name."""
    entry = Entry("exported", "export", 0, name, viewer.organisation_id)
    record(session, viewer.actor, [entry])


def keep_pack(session: Session, viewer: Viewer, made: MadePack) -> None:
    """Keep that a pack was handed out, and which tests stand in it.

    When one of those changes, the pack is marked as overtaken, see reopening.
    """
    session.add(
        PackMade(
            building_id=made.building_id,
            at=datetime.now(UTC),
            as_of=made.as_of,
            by=viewer.name,
            sha256=hashlib.sha256(made.content).hexdigest(),
            test_ids=sorted(made.test_ids),
        )
    )
    session.flush()


def packs_of(session: Session, building_id: int) -> Sequence[PackMade]:
    """The packs of a building that were handed out, newest first."""
    query = sa.select(PackMade).where(PackMade.building_id == building_id)
    return session.scalars(query.order_by(PackMade.id.desc())).all()

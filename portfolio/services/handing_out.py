"""Notes that something was handed out: files in the change log, packs in a list of their own."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import UTC, date, datetime

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.changelog import Entry, record
from portfolio.db.life import PackMade
from portfolio.db.models import Zone
from portfolio.db.results import ZoneTest
from portfolio.services.viewer import Viewer


def log_export(session: Session, viewer: Viewer, name: str) -> None:
    """Write that the viewer took away a file of this name."""
    entry = Entry("exported", "export", 0, name, viewer.organisation_id)
    record(session, viewer.actor, [entry])


def keep_pack(
    session: Session, viewer: Viewer, building_id: int, content: bytes, as_of: date
) -> None:
    """Keep that a pack was handed out, and which tests its building's coverage names today.

    When one of those changes, the pack is marked as overtaken, see reopening.
    """
    query = (
        sa.select(ZoneTest.test_id)
        .join(Zone, Zone.id == ZoneTest.zone_id)
        .where(Zone.building_id == building_id)
        .distinct()
    )
    session.add(
        PackMade(
            building_id=building_id,
            at=datetime.now(UTC),
            as_of=as_of,
            by=viewer.name,
            sha256=hashlib.sha256(content).hexdigest(),
            test_ids=sorted(session.scalars(query)),
        )
    )
    session.flush()


def packs_of(session: Session, building_id: int) -> Sequence[PackMade]:
    """The packs of a building that were handed out, newest first."""
    query = sa.select(PackMade).where(PackMade.building_id == building_id)
    return session.scalars(query.order_by(PackMade.id.desc())).all()

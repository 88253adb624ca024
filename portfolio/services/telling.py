"""What a save may tell of its effects: only those on zones that the viewer sees."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Building, TestRecord, Zone
from portfolio.services.editing import CoverageChange, Saved
from portfolio.services.stored import batches
from portfolio.services.viewer import Viewer


def told_to(
    session: Session, viewer: Viewer, changes: Sequence[CoverageChange]
) -> tuple[CoverageChange, ...]:
    """The changes of zones that the viewer may read; evidence changes others' zones as well."""
    if viewer.organisation_id is None:
        return tuple(changes)
    seen: set[int] = set()
    for batch in batches(change.zone_id for change in changes):
        query = (
            sa.select(Zone.id)
            .join(Building)
            .where(Zone.id.in_(batch), viewer.reads(Building.organisation_id, Building.id))
        )
        seen.update(session.scalars(query))
    return tuple(change for change in changes if change.zone_id in seen)


def saved_as_told(
    session: Session,
    viewer: Viewer,
    row: TestRecord,
    changes: Sequence[CoverageChange],
    zone_ids: Collection[int] | None,
) -> Saved:
    """What the save of a test may tell: of `zone_ids`, or of all, only the zones that are read.

    Already that something was compared would tell the holder that whoever it gave consent to is
    here and has zones.
    """
    read = (
        sa.select(sa.func.count(Zone.id))
        .join(Building)
        .where(viewer.reads(Building.organisation_id, Building.id))
    )
    parts = [read] if zone_ids is None else [read.where(Zone.id.in_(b)) for b in batches(zone_ids)]
    compared = sum(session.scalar(part) or 0 for part in parts)
    return Saved(row.id, row.ref, compared, told_to(session, viewer, changes))

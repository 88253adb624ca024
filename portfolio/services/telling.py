"""What a save may tell of its effects: only those on zones that the viewer sees."""

from __future__ import annotations

from collections.abc import Sequence

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Building, Zone
from portfolio.services.editing import CoverageChange
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

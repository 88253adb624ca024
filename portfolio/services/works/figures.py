"""Figures of works in the form of the English government's release, over what a viewer reads."""

from __future__ import annotations

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Building
from portfolio.db.works import Works
from portfolio.domain.works_figures import CountedWorks, Release, release
from portfolio.services.viewer import Viewer


def figures(session: Session, viewer: Viewer) -> Release:
    """All buildings with works, each once, and each programme."""
    query = (
        sa.select(Works.building_id, Works.programme, Works.decided, Works.status)
        .join(Building, Building.id == Works.building_id)
        .where(viewer.reads(Building.organisation_id, Building.id))
    )
    return release(CountedWorks(*row) for row in session.execute(query))

"""Takes in what a file says and computes what it touches, in one transaction."""

from __future__ import annotations

from datetime import date

from sqlalchemy.orm import Session

from portfolio.services.coverage import Progress, refresh, refresh_buildings
from portfolio.services.importing import ImportPlan, ImportResult, apply_import
from portfolio.services.viewer import Viewer


def take_in(
    session: Session,
    viewer: Viewer,
    plan: ImportPlan,
    on: date,
    progress: Progress | None = None,
) -> ImportResult:
    """Apply the plan and compute the coverage of every zone it touches.

    Evidence that changed touches every zone that may lean on it. Raises InputError, after which
    the caller's transaction must be given up.
    """
    result = apply_import(session, viewer, plan, on)
    session.flush()
    if result.tests_changed:
        refresh(session, on, progress=progress)
    elif result.zone_ids:
        refresh(session, on, zone_ids=result.zone_ids, progress=progress)
    if result.building_ids:
        refresh_buildings(session, result.building_ids)
    return result

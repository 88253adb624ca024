"""Takes in what a file says and computes what it touches, in one transaction."""

from __future__ import annotations

from datetime import date

from sqlalchemy.orm import Session

from portfolio.db.changelog import Entry, record
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
    _log(session, viewer, plan)
    session.flush()
    if result.tests_changed:
        refresh(session, on, progress=progress)
    elif result.zone_ids:
        refresh(session, on, zone_ids=result.zone_ids, progress=progress)
    if result.building_ids:
        refresh_buildings(session, result.building_ids)
    return result


def _log(session: Session, viewer: Viewer, plan: ImportPlan) -> None:
    """One entry for the import as a whole, where it changed anything."""
    if not (plan.creates or plan.updates):
        return
    changes = {
        subject: (None, f"{new} new, {changed} changed, {same} unchanged")
        for subject, (new, changed, same) in plan.counts().items()
    }
    entry = Entry("imported", "import", 0, "", viewer.organisation_id, changes)
    record(session, viewer.actor, [entry])

"""Takes in what a file says and computes what it touches, in one transaction."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy.orm import Session

from portfolio.db.changelog import Entry, record
from portfolio.db.models import TestRecord
from portfolio.domain.evidence import Standing
from portfolio.services.coverage import Progress, refresh, refresh_buildings
from portfolio.services.editing_tests import TELLS_NOTHING
from portfolio.services.importing import ImportPlan, ImportResult, apply_import
from portfolio.services.importing_steps import TEST
from portfolio.services.reopening import Watch, reopen, watch
from portfolio.services.standing_log import because_of, corrected, keep_change
from portfolio.services.viewer import Viewer

_MOST_TOLD = 3


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
    watched = _watch(session, plan, on)
    result = apply_import(session, viewer, plan, on)
    _log(session, viewer, plan)
    session.flush()
    if result.tests_changed:
        refresh(session, on, progress=progress)
    elif result.zone_ids:
        refresh(session, on, zone_ids=result.zone_ids, progress=progress)
    if result.building_ids:
        refresh_buildings(session, result.building_ids)
    if watched is not None:
        _reopen(session, viewer, watched, on)
    return result


@dataclass(frozen=True, slots=True)
class _Watched:
    """The tests that an import changes, with their standings, and what leaned on them."""

    standings: Mapping[int, Standing]
    watch: Watch


def _watch(session: Session, plan: ImportPlan, on: date) -> _Watched | None:
    """Where the import changes tests in what coverage can rest on: how things stood before."""
    standings = {
        step.stored.id: step.stored.draft.standing
        for step in plan.updates
        if step.subject == TEST and set(step.changes) - TELLS_NOTHING
    }
    return _Watched(standings, watch(session, standings, on)) if standings else None


def _reopen(session: Session, viewer: Viewer, watched: _Watched, on: date) -> None:
    told = []
    for test_id, before in watched.standings.items():
        row = session.get_one(TestRecord, test_id, populate_existing=True)
        if row.standing is before:
            told.append(corrected(row.ref))
            continue
        keep_change(session, row, before, on=on, by=viewer.name, reason=row.standing_note)
        told.append(because_of(row.ref, row.standing, on))
    more = f"; and {len(told) - _MOST_TOLD} more" if len(told) > _MOST_TOLD else ""
    because = "; ".join(told[:_MOST_TOLD]) + more
    reopen(session, viewer.actor, watched.watch, because, on, changed=watched.standings)


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

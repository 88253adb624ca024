"""Imports drafts: gathers what is stored, has a plan decided, and carries out exactly that plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from portfolio.db import models
from portfolio.domain.errors import ForbiddenError, InputError, NotFoundError
from portfolio.domain.rights import Right
from portfolio.reference.loader import load_reference
from portfolio.services import stored
from portfolio.services.importing_plan import decide
from portfolio.services.importing_steps import (
    Create,
    Current,
    ImportPlan,
    Leave,
    Scope,
    Step,
    Update,
)
from portfolio.services.importing_works import stored_works
from portfolio.services.importing_writes import ImportResult, Writer
from portfolio.services.viewer import Viewer
from portfolio.sheets.drafts import Drafts, Key

__all__ = [
    "Create",
    "ImportPlan",
    "ImportResult",
    "Leave",
    "Step",
    "Update",
    "apply_import",
    "plan_import",
]


def plan_import(session: Session, viewer: Viewer, drafts: Drafts, on: date) -> ImportPlan:
    """What importing the drafts on the day `on` would do. Writes nothing."""
    _require(viewer)
    current, own = _gather(session, viewer, drafts)
    opened = _opened(session, viewer, drafts)
    if opened:
        current = _with_opened(session, current, drafts, opened)
    vocabulary = load_reference().vocabulary
    may_rename = Right.ADMINISTER in viewer.rights
    scope = Scope(own, viewer.organisation_id, may_rename, frozenset(opened))
    return decide(drafts, current, vocabulary, scope, on)


def apply_import(session: Session, viewer: Viewer, plan: ImportPlan, on: date) -> ImportResult:
    """Write what the plan says, in the caller's transaction, with one event a record.

    Raises InputError when the plan has problems or when somebody saved in the meantime; the
    caller's transaction must then be given up. Coverage is the caller's to compute again.
    """
    _require(viewer)
    of_others = {plan.current.buildings[key].id for key in plan.opened}
    if plan.organisation_id != viewer.organisation_id or not of_others <= _editable(viewer):
        raise NotFoundError("There is no such plan.")
    if plan.problems:
        raise InputError(plan.problems)
    try:
        return Writer(session, viewer, plan, on).write()
    except IntegrityError as error:
        raise InputError(
            "Somebody saved one of these records since the plan was made. Nothing of this import "
            "has been saved: make the plan again."
        ) from error


def _require(viewer: Viewer) -> None:
    """Raise ForbiddenError where the viewer's role does not enter anything."""
    if Right.EDIT not in viewer.rights:
        raise ForbiddenError("Your role does not let you import anything.")


def _editable(viewer: Viewer) -> set[int]:
    """The buildings of others that are open to the viewer for editing."""
    return {building_id for building_id, may in viewer.grants.items() if Right.EDIT in may}


def _opened(session: Session, viewer: Viewer, drafts: Drafts) -> dict[Key, int]:
    """Of the buildings that the drafts speak of, those of others that the viewer may edit."""
    query = (
        sa.select(models.Organisation.ref, models.Building.ref, models.Building.id)
        .join(models.Building)
        .where(models.Building.id.in_(sorted(_editable(viewer))))
    )
    wanted = _building_keys(drafts)
    keys = {(owner, ref): building_id for owner, ref, building_id in session.execute(query)}
    return {key: building_id for key, building_id in keys.items() if key in wanted}


def _with_opened(
    session: Session, current: Current, drafts: Drafts, opened: Mapping[Key, int]
) -> Current:
    """What is stored, with those buildings of others and what hangs on them; nothing else."""
    owners = {key[0] for key in opened}
    ids = {kept.id: key[0] for key, kept in current.organisations.items() if key[0] in owners}
    refs = {key[1] for key in opened}
    buildings = {
        key: kept
        for key, kept in stored.buildings(session, ids, refs).items()
        if opened.get(key) == kept.id
    }
    zones = stored.zones(session, {kept.id: key for key, kept in buildings.items()})
    wanted = {draft.key[:3] for draft in drafts.surveys}
    of: dict[int, Key] = {kept.id: key for key, kept in zones.items() if key in wanted}
    surveys = stored.surveys(session, of, load_reference().vocabulary)
    works = {}
    if drafts.works:
        works = stored_works(session, {kept.id: key for key, kept in buildings.items()})
    return replace(
        current,
        buildings={**current.buildings, **buildings},
        zones={**current.zones, **zones},
        surveys={**current.surveys, **surveys},
        works={**current.works, **works},
    )


def _gather(session: Session, viewer: Viewer, drafts: Drafts) -> tuple[Current, str | None]:
    """What is stored of what the drafts speak of, and the only organisation to be written."""
    organisations = stored.organisations(session, sa.true(), _organisation_refs(drafts))
    own = None
    if viewer.organisation_id is not None:
        own = session.scalar(
            sa.select(models.Organisation.ref).where(
                models.Organisation.id == viewer.organisation_id
            )
        )
        if own is None:
            raise NotFoundError("There is no such organisation.")
    owners = {
        kept.id: kept.draft.organisation for kept in organisations.values() if viewer.sees(kept.id)
    }
    buildings = stored.buildings(session, owners, _building_refs(drafts))
    zones = {}
    surveys = {}
    if drafts.zones or drafts.surveys or drafts.works:
        zones = stored.zones(session, {kept.id: key for key, kept in buildings.items()})
    if drafts.surveys:
        wanted = {draft.key[:3] for draft in drafts.surveys}
        of: dict[int, Key] = {kept.id: key for key, kept in zones.items() if key in wanted}
        surveys = stored.surveys(session, of, load_reference().vocabulary)
    works = {}
    if drafts.works:
        works = stored_works(session, {kept.id: key for key, kept in buildings.items()})
    tests = stored.held_tests(
        session, owners, load_reference().vocabulary, {draft.test for draft in drafts.tests}
    )
    return Current(organisations, buildings, zones, surveys, tests, works), own


def _organisation_refs(drafts: Drafts) -> set[str]:
    refs = {draft.organisation for draft in drafts.organisations}
    for rows in (drafts.buildings, drafts.heights, drafts.zones, drafts.surveys, drafts.works):
        refs |= {draft.owner for draft in rows}
    return refs | {test.held_by for test in drafts.tests}


def _building_keys(drafts: Drafts) -> set[Key]:
    rows = (drafts.buildings, drafts.heights, drafts.zones, drafts.surveys, drafts.works)
    return {(draft.owner, draft.building) for part in rows for draft in part}


def _building_refs(drafts: Drafts) -> set[str]:
    return {ref for _, ref in _building_keys(drafts)}

"""Carries out the plan of an import with bulk statements, and logs every record it touches."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import changelog, models
from portfolio.db.works import Works
from portfolio.domain.errors import InputError, Problem
from portfolio.domain.heights import HeightClaim
from portfolio.reference.loader import load_reference
from portfolio.services.importing_consents import write_consents
from portfolio.services.importing_rows import Ids, height_row, row_of
from portfolio.services.importing_steps import (
    BUILDING,
    ORGANISATION,
    SURVEY,
    TEST,
    WORKS,
    ZONE,
    Create,
    ImportPlan,
    Update,
)
from portfolio.services.importing_works import new_uid, write_parts
from portfolio.services.stored import batches
from portfolio.services.viewer import Viewer
from portfolio.sheets.drafts import BuildingDraft, Key, TestDraft, WorksDraft

_MODELS: dict[str, Any] = {
    ORGANISATION: models.Organisation,
    BUILDING: models.Building,
    ZONE: models.Zone,
    SURVEY: models.Survey,
    TEST: models.TestRecord,
    WORKS: Works,
}
_PARENTS = {
    ORGANISATION: "ref",
    BUILDING: "organisation_id",
    ZONE: "building_id",
    SURVEY: "zone_id",
    TEST: "organisation_id",
    WORKS: "building_id",
}
_COUNTED = (BUILDING, ZONE, TEST, WORKS)


@dataclass(frozen=True, slots=True)
class ImportResult:
    """What was written, and what must be computed again because of it."""

    created: int
    changed: int
    zone_ids: frozenset[int]
    """Zones that are new or changed, that have a new survey, or whose building changed."""
    building_ids: frozenset[int]
    """Buildings that are new or changed; one without zones has totals too."""
    tests_changed: bool
    """Whether evidence changed, which touches the coverage of every zone that may lean on it."""


class Writer:
    """One import. Ids are learnt on the way: a new zone needs the id of its new building."""

    def __init__(self, session: Session, viewer: Viewer, plan: ImportPlan, on: date) -> None:
        self._session = session
        self._viewer = viewer
        self._plan = plan
        self._on = on
        self._reason = f"import of {on.isoformat()}"
        self._vocabulary = load_reference().vocabulary
        current = plan.current
        self._ids: Ids = {
            ORGANISATION: {key: kept.id for key, kept in current.organisations.items()},
            BUILDING: {key: kept.id for key, kept in current.buildings.items()},
            ZONE: {key: kept.id for key, kept in current.zones.items()},
            SURVEY: {},
            TEST: {key: kept.id for key, kept in current.tests.items()},
            WORKS: {key: kept.id for key, kept in current.works.items()},
        }
        self._log: list[changelog.Entry] = []

    def write(self) -> ImportResult:
        """Write everything, whole kinds at a time, and say what it touched."""
        for subject in (ORGANISATION, BUILDING, ZONE, SURVEY, TEST, WORKS):
            self._create([step for step in self._plan.creates if step.subject == subject])
            self._update([step for step in self._plan.updates if step.subject == subject])
        self._add_heights()
        self._write_consents()
        self._write_works()
        changelog.record(self._session, self._viewer.actor, self._log)
        # rows that the session had loaded before are no longer what is stored
        self._session.expire_all()
        return self._result()

    def _create(self, steps: Sequence[Create]) -> None:
        if not steps:
            return
        subject = steps[0].subject
        model, parent = _MODELS[subject], _PARENTS[subject]
        rows = [row_of(step.draft, self._ids, self._vocabulary) for step in steps]
        if subject == WORKS:
            for row in rows:
                row["uid"] = new_uid()
        # rows are told apart by their references: asking for them in order costs a statement each
        statement = sa.insert(model).returning(model.id, model.ref, getattr(model, parent))
        new = {(found[2], found[1]): found[0] for found in self._session.execute(statement, rows)}
        for step, row in zip(steps, rows, strict=True):
            self._ids[subject][step.draft.key] = new[row[parent], row["ref"]]
        self._log += [self._entry("created", step.draft, subject) for step in steps]

    def _update(self, steps: Sequence[Update]) -> None:
        if not steps:
            return
        subject = steps[0].subject
        if subject in _COUNTED:
            self._check_unchanged(subject, steps)
        rows = [
            row_of(step.draft, self._ids, self._vocabulary) | {"id": step.stored.id}
            for step in steps
        ]
        if subject in _COUNTED:
            for row, step in zip(rows, steps, strict=True):
                row["revision"] = step.stored.revision + 1
        self._session.execute(sa.update(_MODELS[subject]), rows)
        self._log += [self._entry("changed", step.draft, subject, step.changes) for step in steps]

    def _check_unchanged(self, subject: str, steps: Sequence[Update]) -> None:
        """Hold the rows and see that nobody saved them since the plan was made."""
        model = _MODELS[subject]
        found: dict[int, int] = {}
        for batch in batches(step.stored.id for step in steps):
            query = sa.select(model.id, model.revision).where(model.id.in_(batch))
            # in the order of their ids, or two imports would each hold what the other waits for
            held = query.order_by(model.id).with_for_update(key_share=True)
            found |= {row.id: row.revision for row in self._session.execute(held)}
        message = "Somebody saved this since the plan was made."
        expected = "nothing of this import has been saved: make the plan again"
        stale: list[Problem] = [
            step.draft.at.problem(message, value=step.draft.key[-1], expected=expected)
            for step in steps
            if found.get(step.stored.id) != step.stored.revision
        ]
        if stale:
            raise InputError(stale)

    def _add_heights(self) -> None:
        gained: list[tuple[Key, tuple[HeightClaim, ...]]] = []
        for step in self._plan.creates:
            if isinstance(step.draft, BuildingDraft):
                gained.append((step.draft.key, step.draft.heights))
        gained += [(update.draft.key, update.claims) for update in self._plan.updates]
        rows = [
            height_row(self._ids[BUILDING][key], claim)
            for key, claims in gained
            for claim in claims
        ]
        if rows:
            self._session.execute(sa.insert(models.HeightClaim), rows)

    def _write_consents(self) -> None:
        wanted: dict[int, set[str]] = {}
        changed = [step for step in self._plan.updates if "consent_given_to" in step.changes]
        touched: tuple[Create | Update, ...] = (*self._plan.creates, *changed)
        for draft in (step.draft for step in touched):
            if isinstance(draft, TestDraft):
                wanted[self._ids[TEST][draft.key]] = set(draft.consent_given_to)
        write_consents(self._session, self._viewer, wanted, self._reason)

    def _write_works(self) -> None:
        wanted: dict[int, tuple[WorksDraft, WorksDraft | None]] = {}
        for created in self._plan.creates:
            if isinstance(created.draft, WorksDraft):
                wanted[self._ids[WORKS][created.draft.key]] = created.draft, None
        for update in self._plan.updates:
            if isinstance(update.draft, WorksDraft):
                wanted[update.stored.id] = update.draft, update.stored.draft
        write_parts(self._session, self._viewer, wanted, self._ids[ZONE], self._on)

    def _entry(
        self, action: str, draft: Any, subject: str, changes: Mapping[str, Any] | None = None
    ) -> changelog.Entry:
        key: Key = draft.key
        shown = key[1:] or key
        return changelog.Entry(
            action,
            subject,
            self._ids[subject][key],
            " / ".join(shown),
            self._ids[ORGANISATION][key[:1]],
            changes or {},
            self._reason,
        )

    def _result(self) -> ImportResult:
        creates, updates = self._plan.creates, self._plan.updates
        touched: tuple[Create | Update, ...] = (*creates, *updates)
        zone_keys = {step.draft.key[:3] for step in touched if step.subject in (ZONE, SURVEY)}
        changed = {step.stored.id for step in updates if step.subject == BUILDING}
        new = {self._ids[BUILDING][step.draft.key] for step in creates if step.subject == BUILDING}
        zone_ids = {self._ids[ZONE][key] for key in zone_keys} | self._zones_of(changed)
        return ImportResult(
            created=len(creates),
            changed=len(updates),
            zone_ids=frozenset(zone_ids),
            building_ids=frozenset(changed | new),
            tests_changed=any(step.subject == TEST for step in touched),
        )

    def _zones_of(self, building_ids: Collection[int]) -> set[int]:
        """A building's height, use and jurisdiction matter to all of its zones."""
        found: set[int] = set()
        for batch in batches(building_ids):
            query = sa.select(models.Zone.id).where(models.Zone.building_id.in_(batch))
            found.update(self._session.scalars(query))
        return found

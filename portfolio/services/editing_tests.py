"""Saves test records: new ones, and changes that no other save has overtaken.

A test bears on every zone whose owner may see it, so a save compares all of those again.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, fields, replace
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import changelog, mapping, models
from portfolio.domain.errors import InputError, NotFoundError, Problem
from portfolio.domain.evidence import (
    Answer3,
    Consent,
    EvidenceKind,
    Holding,
    Outcome,
    Standing,
    takes_failure_back,
)
from portfolio.domain.rights import Right
from portfolio.domain.walls import BuildUp
from portfolio.reference.loader import load_reference
from portfolio.services.editing import Saved, StaleError, differences, locked_test, recompute
from portfolio.services.packs_made import packs_holding
from portfolio.services.record_remarks import remarks_on
from portfolio.services.reliance import shown_in_full
from portfolio.services.reopening import keep_reopened, overtaken, reopen, watch
from portfolio.services.standing_log import because_of, corrected, keep_change
from portfolio.services.telling import saved_as_told
from portfolio.services.touched import changing, touched_by
from portfolio.services.viewer import Viewer
from portfolio.services.wall_words import build_up_in_words


@dataclass(frozen=True, slots=True)
class TestFacts:
    """What a holder may say of a test; "" and None mean unknown or none."""

    __test__ = False

    ref: str
    title: str = ""
    laboratory: str = ""
    sponsor: str = ""
    standard: str = ""
    part: str = ""
    edition: str = ""
    tested_on: date | None = None
    external_spread: Answer3 = Answer3.UNKNOWN
    internal_spread: Answer3 = Answer3.UNKNOWN
    burn_through: Answer3 | None = Answer3.UNKNOWN
    no_flames_above_rig: Answer3 = Answer3.UNKNOWN
    no_early_end: Answer3 = Answer3.UNKNOWN
    observations: str = ""
    printed_outcome: Outcome = Outcome.NOT_TOLD
    class_document: str = ""
    class_edition: str = ""
    class_annex: str = ""
    class_report: str = ""
    kind: EvidenceKind = EvidenceKind.TEST
    author: str = ""
    report_ref: str = ""
    report_issue: str = ""
    report_on: date | None = None
    run_seconds: int | None = None
    standing: Standing = Standing.LIVE
    standing_note: str = ""
    holding: Holding = Holding.NOT_SEEN
    consent: Consent = Consent.NOT_ASKED
    leans_on: tuple[str, ...] = ()
    source: str = ""
    build_up: BuildUp = field(default_factory=BuildUp)


TELLS_NOTHING = frozenset(
    {
        "title",
        "sponsor",
        "observations",
        "source",
    }
)
"""Fields on which no coverage can rest."""

_COLUMNS = tuple(
    column.name for column in fields(TestFacts) if column.name not in ("leans_on", "build_up")
)


@dataclass(frozen=True, slots=True)
class EditableTest:
    """A test as it is now, to be edited."""

    id: int
    holder: str
    facts: TestFacts
    revision: int


def editable_test(session: Session, viewer: Viewer, test_id: int) -> EditableTest:
    """The test to fill a form with; only its holder may change it. Raises NotFoundError."""
    row = session.get(models.TestRecord, test_id)
    if row is None:
        raise NotFoundError("There is no such test.")
    viewer.require(Right.EDIT, row.organisation_id, what="test")
    return EditableTest(row.id, row.organisation.name, _facts(row), row.revision)


def create_test(
    session: Session, viewer: Viewer, organisation_id: int, facts: TestFacts, on: date
) -> Saved:
    """Add a test. Raises InputError, and NotFoundError for another's organisation."""
    viewer.require(Right.EDIT, organisation_id, what="organisation")
    if not session.get(models.Organisation, organisation_id):
        raise NotFoundError("There is no such organisation.")
    _check(session, organisation_id, facts, on)
    row = models.TestRecord(organisation_id=organisation_id)
    _write(row, facts)
    session.add(row)
    session.flush()
    changes = {key: (None, value) for key, value in _logged(facts).items() if value}
    _log(session, viewer, row, "created", changes)
    zone_ids = zones_it_bears_on(session, row)
    watched = watch(session, [row.id], on, zone_ids)
    touched = touched_by(session, row, changing(session, row, zone_ids, on), on)
    _, changed = recompute(session, on, zone_ids=touched)
    if watched.tests != {row.id}:
        because = f"Test {row.ref} was recorded, which bears on what was recorded before"
        reopen(session, viewer.actor, watched, because, on, changed=[row.id], zone_ids=zone_ids)
    saved = saved_as_told(session, viewer, row, changed, zone_ids)
    return replace(saved, remarks=remarks_on(row, on))


def save_test(
    session: Session,
    viewer: Viewer,
    test_id: int,
    facts: TestFacts,
    *,
    revision: int,
    on: date,
    reason: str = "",
) -> Saved:
    """Change a test; the change log says the reason.

    Raises NotFoundError, InputError, and StaleError.
    """
    row = locked_test(session, viewer, test_id)
    stored = _facts(row)
    if row.revision != revision:
        raise StaleError(stored, row.revision)
    _check(session, row.organisation_id, facts, on, but=row.id, before=stored)
    changes = differences(_logged(stored), _logged(facts))
    if not changes:
        return Saved(row.id, row.ref)
    zone_ids = _bears_on(session, row, {stored.consent, facts.consent})
    watched = watch(session, [row.id], on, zone_ids)
    before = changing(session, row, zone_ids, on)
    _write(row, facts)
    row.revision += 1
    _log(session, viewer, row, "changed", changes, reason=reason)
    if row.standing is not stored.standing:
        note = facts.standing_note
        keep_change(session, row, stored.standing, on=on, by=viewer.name, reason=note)
    _, changed = recompute(session, on, zone_ids=touched_by(session, row, before, on))
    if because := _because(row, changes, on):
        reopen(session, viewer.actor, watched, because, on, changed=[row.id], zone_ids=zone_ids)
    elif "title" in changes:
        _overtake_packs(session, viewer, row, on)
    saved = saved_as_told(session, viewer, row, changed, zone_ids)
    return replace(saved, remarks=remarks_on(row, on))


def _overtake_packs(session: Session, viewer: Viewer, row: models.TestRecord, on: date) -> None:
    """Mark the packs that show a test's title, which no coverage rests on."""
    because = corrected(row.ref)
    packs = [
        pack
        for pack in packs_holding(session, [row.id])
        if shown_in_full(session, Viewer("", pack.owner_id), on, [row.id])
    ]
    keep_reopened(session, viewer.actor, overtaken(packs, because, on), because, on)


def _because(row: models.TestRecord, changes: Collection[str], on: date) -> str:
    """Why what leans on the test has to be looked at again; empty where no field bears on it."""
    if "standing" in changes:
        return because_of(row.ref, row.standing, on)
    return corrected(row.ref) if set(changes) - TELLS_NOTHING else ""


def zones_it_bears_on(session: Session, row: models.TestRecord) -> Collection[int] | None:
    """The zones whose owners may see the test; None for everybody's."""
    return _bears_on(session, row, {Consent(row.consent)})


def _bears_on(
    session: Session, row: models.TestRecord, consents: Collection[Consent]
) -> Collection[int] | None:
    """The zones whose owners may see the test, before or after; None for everybody's."""
    if Consent.PUBLISHED in consents:
        return None
    named = (said.organisation_id for said in row.consents)
    owners = {row.organisation_id, *(owner for owner in named if owner is not None)}
    query = (
        sa.select(models.Zone.id)
        .join(models.Building)
        .where(models.Building.organisation_id.in_(owners))
    )
    return session.scalars(query).all()


def _facts(row: models.TestRecord) -> TestFacts:
    build_up = mapping.build_up_from_json(row.build_up, load_reference().vocabulary)
    told = {key: getattr(row, key) for key in _COLUMNS}
    return TestFacts(**told, leans_on=tuple(row.leans_on), build_up=build_up)


def _write(row: models.TestRecord, facts: TestFacts) -> None:
    for key in _COLUMNS:
        setattr(row, key, getattr(facts, key))
    row.leans_on = list(facts.leans_on)
    row.build_up = mapping.build_up_to_json(facts.build_up, load_reference().vocabulary)


def _check(
    session: Session,
    holder: int,
    facts: TestFacts,
    on: date,
    *,
    but: int | None = None,
    before: TestFacts | None = None,
) -> None:
    problems = []
    if before is None or before.ref != facts.ref:
        problems += _taken(session, holder, facts.ref, but)
    if facts.tested_on is not None and facts.tested_on > on:
        problems.append(Problem("This day has not come yet.", column="tested_on"))
    if facts.report_on is not None and facts.report_on > on:
        problems.append(Problem("This day has not come yet.", column="report_on"))
    if before is not None and facts.standing_note in ("", before.standing_note):
        if facts.standing is not before.standing:
            problems.append(Problem("The standing changes: say why.", column="standing_note"))
        if takes_failure_back(before, facts):
            message = "The test was recorded as failed: say why it no longer is."
            problems.append(Problem(message, column="standing_note"))
    if facts.author and facts.kind is EvidenceKind.TEST:
        problems.append(Problem("Only an assessment has an author.", column="kind"))
    if facts.ref in facts.leans_on:
        problems.append(Problem("A test cannot lean on itself.", column="leans_on"))
    if problems:
        raise InputError(problems)


def _taken(session: Session, holder: int, ref: str, but: int | None) -> list[Problem]:
    """A reference that another test of the holder has, or one that differs only in how letters
    and spaces are written."""
    kept = models.TestRecord
    others = sa.select(kept.ref).where(kept.organisation_id == holder, kept.id != (but or 0))
    alike = [other for other in session.scalars(others) if _even(other) == _even(ref)]
    if ref in alike:
        message = "Another test of this holder has this reference already."
    elif alike:
        message = f"Another test of this holder is called {alike[0]}: nobody could tell them apart."
    else:
        return []
    return [Problem(message, column="ref", value=ref)]


def _even(ref: str) -> str:
    return " ".join(ref.split()).casefold()


def _logged(facts: TestFacts) -> dict[str, Any]:
    told: dict[str, Any] = {key: getattr(facts, key) for key in _COLUMNS}
    told["leans_on"] = list(facts.leans_on)
    told["wall"] = build_up_in_words(facts.build_up)
    return told


def _log(
    session: Session,
    viewer: Viewer,
    row: models.TestRecord,
    action: str,
    changes: dict[str, Any],
    *,
    reason: str = "",
) -> None:
    entry = changelog.Entry(action, "test", row.id, row.ref, row.organisation_id, changes, reason)
    changelog.record(session, viewer.actor, [entry])

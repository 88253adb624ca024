"""Marks decisions for review when something that they rested on has changed.

Marks are added and never taken away: what changed and changed back has still changed. They end when
an engineer confirms the decision or records a later one on the zone.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.changelog import Actor, Entry, record
from portfolio.db.models import Building, Decision, TestRecord, Zone
from portfolio.db.rulings import DecisionConfirmation, DecisionMark
from portfolio.domain.coverage import Library, ZoneCoverage
from portfolio.domain.rested_on import (
    PAPER,
    Basis,
    Change,
    changes,
    named,
    refs_of_tests,
    with_changes,
)
from portfolio.services.gathering import GatheredZone
from portfolio.services.reliance import known_tests
from portfolio.services.rested_on import Saves, rested_on
from portfolio.services.stored import batches

PROGRAM = Actor("the program")


@dataclass(frozen=True, slots=True)
class Standing:
    """The decision that stands on a zone: `basis` is what it rested on when it was recorded or last
    confirmed, with what is known to have changed since; None where that was not kept."""

    decision_id: int
    zone_id: int
    confirmation_id: int | None
    basis: Basis | None


def keep_marks(
    session: Session,
    zones: Sequence[GatheredZone],
    found: Sequence[ZoneCoverage],
    library: Library,
) -> None:
    """Mark the decisions on these zones of one owner for what is another thing now."""
    places = {zone.zone_id: i for i, zone in enumerate(zones)}
    standing = [one for one in standing_decisions(session, places) if one.basis is not None]
    if not standing:
        return
    saves = saves_of_tests(session, zones[0].organisation_id, library)
    told = []
    for one in standing:
        basis = one.basis or {}
        place = places[one.zone_id]
        now = rested_on(zones[place], found[place], library, saves, refs_of_tests(basis))
        # documents are no part of what is computed: they are marked when they are taken away
        kept = {key: text for key, text in basis.items() if not key.startswith(PAPER)}
        told += [(one, change) for change in changes(kept, now)]
    add_marks(session, told, library.rules.on)


def add_marks(session: Session, told: Collection[tuple[Standing, Change]], on: date) -> None:
    """Keep the changes of what decisions rested on, and that they are marked for review."""
    if not told:
        return
    session.add_all(
        DecisionMark(
            decision_id=one.decision_id,
            confirmation_id=one.confirmation_id,
            what=change.what[:200],
            before=change.before,
            after=change.after,
            on=on,
        )
        for one, change in told
    )
    session.flush()
    places = _places(session, {one.zone_id for one, _ in told})
    by_decision: dict[int, tuple[Standing, dict[str, tuple[str, str]]]] = {}
    for one, change in told:
        _, changed = by_decision.setdefault(one.decision_id, (one, {}))
        changed[named(change.what)] = change.before, change.after
    record(
        session,
        PROGRAM,
        [
            Entry("marked for review", "decision", key, *places[one.zone_id], changed)
            for key, (one, changed) in by_decision.items()
        ],
    )


def mark_paper_gone(session: Session, decision_id: int, document: str, on: date) -> None:
    """Mark a decision, if it stands, for a document that no longer supports it."""
    row = session.get_one(Decision, decision_id)
    for one in standing_decisions(session, [row.zone_id]):
        if one.decision_id == decision_id:
            gone = Change(PAPER + document, "supports it", "no longer supports it")
            add_marks(session, [(one, gone)], on)


def mark_survey_paper_gone(
    session: Session, zone_id: int, survey: str, document: str, on: date
) -> None:
    """Mark the decision that stands on a zone for a document that no longer supports a survey of
    it."""
    for one in standing_decisions(session, [zone_id]):
        gone = Change(PAPER + document, f"supports {survey}", f"no longer supports {survey}")
        add_marks(session, [(one, gone)], on)


def standing_decisions(session: Session, zone_ids: Collection[int]) -> list[Standing]:
    """The latest decision on each zone, with what it is known to rest on."""
    latest = sa.select(sa.func.max(Decision.id)).group_by(Decision.zone_id)
    kept = sa.select(Decision.id, Decision.zone_id, Decision.rested_on)
    rows: list[Any] = []
    for batch in batches(zone_ids):
        mine = Decision.zone_id.in_(batch)
        wanted = kept.where(mine, Decision.id.in_(latest.where(mine)))
        rows += session.execute(wanted.order_by(Decision.id))
    ids = [row.id for row in rows]
    said = last_confirmations(session, ids)
    marked = open_marks(session, ids, {key: one.id for key, one in said.items()})
    found = []
    for row in rows:
        last = said.get(row.id)
        basis = row.rested_on if last is None else last.rested_on
        told = [Change(m.what, m.before, m.after) for m in marked.get(row.id, ())]
        found.append(
            Standing(
                row.id,
                row.zone_id,
                last.id if last else None,
                None if basis is None else with_changes(basis, told),
            )
        )
    return found


def last_confirmations(
    session: Session, decision_ids: Iterable[int], until: date | None = None
) -> dict[int, DecisionConfirmation]:
    """By decision: its last confirmation, of those entered `until` a day."""
    return {key: told[-1] for key, told in confirmations(session, decision_ids, until).items()}


def confirmations(
    session: Session, decision_ids: Iterable[int], until: date | None = None
) -> dict[int, list[DecisionConfirmation]]:
    """By decision: its confirmations, first to last."""
    kept = DecisionConfirmation
    by_day = sa.true() if until is None else kept.recorded_on <= until
    found: dict[int, list[DecisionConfirmation]] = {}
    for batch in batches(set(decision_ids)):
        query = sa.select(kept).where(kept.decision_id.in_(batch), by_day).order_by(kept.id)
        for row in session.scalars(query):
            found.setdefault(row.decision_id, []).append(row)
    return found


def open_marks(
    session: Session,
    decision_ids: Iterable[int],
    confirmed: Mapping[int, int],
    until: date | None = None,
) -> dict[int, list[DecisionMark]]:
    """By decision: what has changed since it was recorded, or since the confirmation given."""
    by_day = sa.true() if until is None else DecisionMark.on <= until
    found: dict[int, list[DecisionMark]] = {}
    for batch in batches(set(decision_ids)):
        query = sa.select(DecisionMark).where(DecisionMark.decision_id.in_(batch), by_day)
        for row in session.scalars(query.order_by(DecisionMark.id)):
            if row.confirmation_id == confirmed.get(row.decision_id):
                found.setdefault(row.decision_id, []).append(row)
    return found


def saves_of_tests(session: Session, organisation_id: int, library: Library) -> Saves:
    """How often each test's record was saved, by its owner's reference for it."""
    names = known_tests(session, organisation_id, library.rules.on).names
    wanted = {key for key, ref in names.items() if ref in {test.ref for test in library.tests}}
    found = {}
    for batch in batches(wanted):
        query = sa.select(TestRecord.id, TestRecord.revision).where(TestRecord.id.in_(batch))
        found.update({names[key]: revision for key, revision in session.execute(query)})
    return found


def _places(session: Session, zone_ids: Collection[int]) -> dict[int, tuple[str, Any]]:
    """By zone: its reference with its building's, and whose it is."""
    found = {}
    for batch in batches(zone_ids):
        query = (
            sa.select(Zone.id, Building.ref, Zone.ref, Building.organisation_id)
            .join(Building)
            .where(Zone.id.in_(batch))
        )
        for key, building, zone, owner in session.execute(query):
            found[key] = f"{building} / {zone}", owner
    return found

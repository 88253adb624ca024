"""Everything that the page of one test shows: facts, gates, wall, and the zones leaning on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import models
from portfolio.db.life import Concerned, Reopened, StandingChange
from portfolio.domain.errors import NotFoundError
from portfolio.domain.evidence import (
    Consent,
    Outcome,
    OutcomeRuling,
    TestRecord,
    outcome_from_criteria,
    outcome_of,
    outcomes_disagree,
    reference_only,
    ruling_in_force,
)
from portfolio.domain.gates import OF_A_WALL, Gate, Setting, gates
from portfolio.domain.rights import Right
from portfolio.domain.shelf import Shelf, shelf_of
from portfolio.domain.walls import parameters_of
from portfolio.reference.loader import load_reference
from portfolio.services.evidence import find_test
from portfolio.services.history import NO_HISTORY, History, history_of_test
from portfolio.services.leaning import LeaningZones, leaning_zones
from portfolio.services.reliance import known_tests, records_for
from portfolio.services.standing_log import standing_changes
from portfolio.services.to_look_at import reopened_of
from portfolio.services.viewer import Viewer
from portfolio.services.wall_drawings import DrawnSection, draw_wall
from portfolio.services.wall_words import LayerWords, layers_in_words, whole_wall_in_words

MOST_ZONES = 200


@dataclass(frozen=True, slots=True)
class GateLine:
    """One gate; `where` names the jurisdictions it was asked for, empty where it is the same."""

    gate: Gate
    where: str


@dataclass(frozen=True, slots=True)
class RecordPage:
    """One test: `row` as stored, `known` as this viewer may lean on it."""

    row: models.TestRecord
    known: TestRecord
    holder: str
    consent: Consent
    is_shown: bool
    outcome: Outcome
    from_criteria: Outcome
    disagree: bool
    gates: tuple[GateLine, ...]
    wall: tuple[tuple[str, str], ...]
    layers: tuple[LayerWords, ...]
    section: DrawnSection
    leaning: LeaningZones
    history: History
    may_edit: bool
    may_decide: bool
    ruled: OutcomeRuling | None
    standings: Sequence[StandingChange]
    reopened: Sequence[Reopened]


def record_page(session: Session, viewer: Viewer, test_id: int, on: date) -> RecordPage:
    """The test. Raises NotFoundError."""
    found = find_test(session, viewer, test_id, on)
    if found is None:
        raise NotFoundError("There is no such test.")
    row, whole = found.seen.row, found.seen.record()
    known = whole if found.seen.is_shown else reference_only(whole)
    return RecordPage(
        row,
        known,
        found.holder,
        found.seen.consent,
        found.seen.is_shown,
        outcome_of(known),
        outcome_from_criteria(known.criteria),
        outcomes_disagree(known),
        _gates(session, viewer, row, on) if found.seen.is_shown else (),
        whole_wall_in_words(known.build_up, substrate_from_part=known.substrate_from_part),
        layers_in_words(known.build_up),
        draw_wall(parameters_of(known.build_up), f"Test {row.ref}", id_prefix="tested"),
        leaning_zones(session, viewer, row, MOST_ZONES),
        history_of_test(session, viewer, test_id)
        if viewer.sees(row.organisation_id)
        else NO_HISTORY,
        viewer.may(Right.EDIT, row.organisation_id),
        viewer.may(Right.DECIDE, row.organisation_id),
        ruling_in_force(known),
        standing_changes(session, test_id) if found.seen.is_shown else (),
        reopened_of(session, Concerned.TEST, test_id) if viewer.sees(row.organisation_id) else (),
    )


def _gates(
    session: Session, viewer: Viewer, row: models.TestRecord, on: date
) -> tuple[GateLine, ...]:
    """Each gate that asks of the test once; those that depend on the place once for each place of
    the viewer's."""
    reference = load_reference()
    test, shelf = _shelved(session, viewer, row, on)
    asked: dict[Gate, list[str]] = {}
    places = _jurisdictions(session, viewer)
    for place in places:
        for gate in gates(test, reference.gate_facts, Setting(place), shelf, on):
            if gate.name != OF_A_WALL:
                asked.setdefault(gate, []).append(place or "not recorded")
    names = list(dict.fromkeys(gate.name for gate in asked))
    lines = [
        GateLine(gate, ", ".join(where) if len(where) < len(places) else "")
        for gate, where in asked.items()
    ]
    return tuple(sorted(lines, key=lambda line: names.index(line.gate.name)))


def _jurisdictions(session: Session, viewer: Viewer) -> list[str]:
    """Where the viewer's buildings stand; nowhere recorded when there are none."""
    mine = viewer.reads(models.Building.organisation_id, models.Building.id)
    query = sa.select(models.Building.jurisdiction).where(mine).distinct()
    return sorted(session.scalars(query)) or [""]


def _shelved(
    session: Session, viewer: Viewer, row: models.TestRecord, on: date
) -> tuple[TestRecord, Shelf]:
    """The test, with those that it leans on and all of the same report, as the viewer's own
    organisation knows them, or where it has none the holder."""
    organisation = viewer.organisation_id or row.organisation_id
    name = known_tests(session, organisation, on).names[row.id]
    beside = records_for(session, organisation, on, {name})
    return beside[row.id], shelf_of(list(beside.values()))

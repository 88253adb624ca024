"""Everything that the page of one test shows: facts, gates, wall, and the zones leaning on it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import mapping, models
from portfolio.domain.errors import NotFoundError
from portfolio.domain.evidence import (
    Consent,
    Outcome,
    Standing,
    TestRecord,
    outcome_from_criteria,
    outcome_of,
    outcomes_disagree,
)
from portfolio.domain.gates import Gate, gates
from portfolio.domain.walls import parameters_of
from portfolio.reference.loader import load_reference
from portfolio.services.coverage import tests_for
from portfolio.services.evidence import consent_for, visible_record
from portfolio.services.history import History, history_of_test
from portfolio.services.leaning import LeaningZones, leaning_zones
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


def record_page(session: Session, viewer: Viewer, test_id: int, on: date) -> RecordPage:
    """The test. Raises NotFoundError."""
    found = visible_record(session, viewer, test_id)
    if found is None:
        raise NotFoundError("There is no such test.")
    row, holder, given = found
    consent = consent_for(viewer, row, given)
    known = mapping.tested_wall_of(row, load_reference().vocabulary, consent)
    return RecordPage(
        row,
        known,
        holder,
        consent,
        outcome_of(known),
        outcome_from_criteria(known.criteria),
        outcomes_disagree(known),
        _gates(session, viewer, row, known, on),
        whole_wall_in_words(known.build_up),
        layers_in_words(known.build_up),
        draw_wall(parameters_of(known.build_up), f"Test {row.ref}", id_prefix="tested"),
        leaning_zones(session, viewer, row, MOST_ZONES),
        history_of_test(session, test_id),
        viewer.sees(row.organisation_id),
    )


def _gates(
    session: Session, viewer: Viewer, row: models.TestRecord, test: TestRecord, on: date
) -> tuple[GateLine, ...]:
    """Each gate once; those that depend on the place once for each place of the viewer's."""
    reference = load_reference()
    standing = _standing(session, viewer, row, test)
    asked: dict[Gate, list[str]] = {}
    places = _jurisdictions(session, viewer)
    for place in places:
        for gate in gates(
            test,
            pairings=reference.pairings,
            routes=reference.routes,
            jurisdiction=place,
            on=on,
            standing_outcomes=standing,
        ):
            asked.setdefault(gate, []).append(place or "not recorded")
    names = list(dict.fromkeys(gate.name for gate in asked))
    lines = [
        GateLine(gate, ", ".join(where) if len(where) < len(places) else "")
        for gate, where in asked.items()
    ]
    return tuple(sorted(lines, key=lambda line: names.index(line.gate.name)))


def _jurisdictions(session: Session, viewer: Viewer) -> list[str]:
    """Where the viewer's buildings stand; nowhere recorded when there are none."""
    mine = viewer.only(models.Building.organisation_id)
    query = sa.select(models.Building.jurisdiction).where(mine).distinct()
    return sorted(session.scalars(query)) or [""]


def _standing(
    session: Session, viewer: Viewer, row: models.TestRecord, test: TestRecord
) -> dict[str, tuple[Standing, Outcome]]:
    """Standing and outcome of the tests that this one leans on, directly or not."""
    if not test.leans_on:
        return {}
    organisation = viewer.organisation_id or row.organisation_id
    return {
        leaned.ref: (leaned.standing, outcome_of(leaned))
        for leaned in _leaned_on(session, organisation, test)
    }


def _leaned_on(session: Session, organisation_id: int, test: TestRecord) -> Iterable[TestRecord]:
    return tests_for(session, organisation_id, set(test.leans_on))

"""The failing tests that an organisation sees, as far as a wall is asked about them.

A page asks for all of them at once: nothing but their walls, outcomes and standing is read.
"""

from __future__ import annotations

import json
from datetime import date
from functools import lru_cache

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import mapping
from portfolio.db.models import TestRecord
from portfolio.domain import evidence
from portfolio.domain.evidence import Answer3, Outcome, outcome_of
from portfolio.domain.walls import BuildUp
from portfolio.reference.loader import load_reference
from portfolio.services.reliance import known_tests, visible_tests

_CRITERIA = (
    TestRecord.external_spread,
    TestRecord.internal_spread,
    TestRecord.burn_through,
    TestRecord.no_flames_above_rig,
    TestRecord.no_early_end,
)
_RULING = (
    TestRecord.ruled_outcome,
    TestRecord.ruled_by,
    TestRecord.ruled_on,
    TestRecord.ruled_printed,
    TestRecord.ruled_criteria,
)


def failed_for(session: Session, organisation_id: int, on: date) -> list[evidence.TestRecord]:
    """Of the tests that an organisation sees, those of walls that failed, by their names."""
    return list(failed_by_id(session, organisation_id, on).values())


def failed_by_id(
    session: Session, organisation_id: int, on: date
) -> dict[int, evidence.TestRecord]:
    """The same, by the id of each."""
    names = known_tests(session, organisation_id, on).names
    # some of these an engineer has ruled to have passed
    may_have_failed = sa.or_(
        TestRecord.printed_outcome == Outcome.FAILED,
        *(criterion == Answer3.NOT_MET for criterion in _CRITERIA),
    )
    query = visible_tests(organisation_id, on).where(may_have_failed)
    told = query.with_only_columns(
        TestRecord.id,
        TestRecord.standard,
        TestRecord.part,
        TestRecord.printed_outcome,
        TestRecord.standing,
        *_CRITERIA,
        *_RULING,
        sa.cast(TestRecord.build_up, sa.Text).label("wall"),
    )
    records = {
        row.id: mapping.judged_wall_of(row, names[row.id], _build_up(row.wall))
        for row in session.execute(told)
    }
    return {i: record for i, record in records.items() if outcome_of(record) is Outcome.FAILED}


@lru_cache(maxsize=5_000)
def _build_up(text: str) -> BuildUp:
    """A stored wall; the same text is the same wall, whoever asks."""
    return mapping.build_up_from_json(json.loads(text), load_reference().vocabulary)

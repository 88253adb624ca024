"""A named engineer settles which outcome of a test counts, where report and criteria disagree."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy.orm import Session

from portfolio.db import changelog, mapping
from portfolio.db.models import TestRecord
from portfolio.domain import evidence
from portfolio.domain.errors import InputError, NotFoundError, Problem
from portfolio.domain.evidence import Outcome, outcome_from_criteria, outcomes_disagree
from portfolio.domain.rights import Right
from portfolio.reference.loader import load_reference
from portfolio.services.editing import Saved, recompute
from portfolio.services.editing_tests import zones_it_bears_on
from portfolio.services.reopening import reopen, watch
from portfolio.services.telling import saved_as_told
from portfolio.services.touched import changing, touched_by
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class OutcomeFacts:
    """Which of the two outcomes counts, by whose word, and why."""

    outcome: Outcome
    by: str
    on: date | None
    reason: str
    qualification: str = ""
    document: str = ""


def contradiction(session: Session, viewer: Viewer, test_id: int) -> evidence.TestRecord:
    """The test whose outcomes contradict each other, for the holder's engineer.

    Raises NotFoundError, ForbiddenError, and InputError where they do not.
    """
    return _contradicting(_row(session, viewer, test_id))


def rule_on_outcome(
    session: Session, viewer: Viewer, test_id: int, facts: OutcomeFacts, on: date
) -> Saved:
    """Keep the ruling, compute coverage again, and re-open what leaned on the test.

    Raises what `contradiction` does, and InputError for a ruling without its reasons.
    """
    row = _row(session, viewer, test_id)
    known = _contradicting(row)
    _check(facts, on)
    zone_ids = zones_it_bears_on(session, row)
    watched = watch(session, [row.id], on, zone_ids)
    before = changing(session, row, zone_ids, on)
    told = {"outcome that counts": (row.ruled_outcome, facts.outcome), "by": (None, facts.by)}
    row.ruled_outcome, row.ruled_by, row.ruled_on = facts.outcome, facts.by, facts.on
    row.ruled_qualification, row.ruled_document = facts.qualification, facts.document
    row.ruled_reason = facts.reason
    row.ruled_printed = known.printed_outcome
    row.ruled_criteria = outcome_from_criteria(known.criteria)
    row.revision += 1
    entry = changelog.Entry(
        "outcome", "test", row.id, row.ref, row.organisation_id, told, facts.reason
    )
    changelog.record(session, viewer.actor, [entry])
    _, changed = recompute(session, on, zone_ids=touched_by(session, row, before, on))
    because = f"An engineer has settled that test {row.ref} counts as {facts.outcome.value}"
    reopen(session, viewer.actor, watched, because, on, changed=[row.id], zone_ids=zone_ids)
    return saved_as_told(session, viewer, row, changed, zone_ids)


def _row(session: Session, viewer: Viewer, test_id: int) -> TestRecord:
    row = session.get(TestRecord, test_id)
    if row is None:
        raise NotFoundError("There is no such test.")
    viewer.require(Right.DECIDE, row.organisation_id, what="test")
    return row


def _contradicting(row: TestRecord) -> evidence.TestRecord:
    known = mapping.tested_wall_of(row, load_reference().vocabulary, None)
    if not outcomes_disagree(known):
        raise InputError("The printed outcome and the criteria do not contradict each other.")
    return known


def _check(facts: OutcomeFacts, on: date) -> None:
    problems = []
    if facts.outcome is Outcome.NOT_TOLD:
        problems.append(Problem("Say which of the two counts.", column="outcome"))
    if not facts.by.strip():
        problems.append(Problem("Name the engineer.", column="by"))
    if not facts.reason.strip():
        problems.append(Problem("Give the reasons.", column="reason"))
    if facts.on is None or facts.on > on:
        problems.append(Problem("Give a day that has come.", column="on"))
    if problems:
        raise InputError(problems)

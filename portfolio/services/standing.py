"""Changes the standing of a test: shown beforehand, then saved with everything it re-opens."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import changelog
from portfolio.db.life import StandingChange
from portfolio.db.models import Building, TestRecord, Zone
from portfolio.domain import evidence
from portfolio.domain.errors import InputError, NotFoundError, Problem
from portfolio.domain.evidence import Consent, Standing
from portfolio.domain.leaning import Way
from portfolio.domain.rights import Right
from portfolio.services.editing import (
    Saved,
    StaleError,
    locked_test,
    recompute,
)
from portfolio.services.foreseeing import Effects, foreseen
from portfolio.services.reliance import known_tests
from portfolio.services.reopening import reopen, resting_on, watch, zones_leaning
from portfolio.services.standing_log import because_of, keep_change, standing_changes
from portfolio.services.telling import saved_as_told
from portfolio.services.touched import changing, touched_by
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class StandingFacts:
    """What is said of a test's standing from a day on, and why."""

    standing: Standing
    on: date | None = None
    reason: str = ""
    superseded_by: str = ""
    document: str = ""


@dataclass(frozen=True, slots=True)
class StandingPage:
    """A test's standing now, how it came about, and what leans on it."""

    test_id: int
    test_ref: str
    standing: Standing
    revision: int
    changes: Sequence[StandingChange]


def standing_page(session: Session, viewer: Viewer, test_id: int) -> StandingPage:
    """The holder's page. Raises NotFoundError, or ForbiddenError for the holder's readers."""
    row = session.get(TestRecord, test_id)
    if row is None:
        raise NotFoundError("There is no such test.")
    viewer.require(Right.EDIT, row.organisation_id, what="test")
    return StandingPage(
        row.id, row.ref, row.standing, row.revision, standing_changes(session, test_id)
    )


def effects_of(
    session: Session, viewer: Viewer, test_id: int, facts: StandingFacts, on: date
) -> Effects:
    """What the change would do; nothing is written. Raises InputError and NotFoundError."""
    standing_page(session, viewer, test_id)
    row = session.get_one(TestRecord, test_id)
    _check(session, row, facts, on)
    affected = _affected(session, row, facts.standing, on)

    def changed(test: evidence.TestRecord) -> evidence.TestRecord:
        return replace(test, standing=facts.standing)

    return foreseen(session, viewer, row, changed, affected, on=on)


def change_standing(
    session: Session,
    viewer: Viewer,
    test_id: int,
    facts: StandingFacts,
    *,
    revision: int,
    on: date,
) -> Saved:
    """Save the standing and re-open what leans on the test.

    Raises NotFoundError, ForbiddenError, InputError, and StaleError.
    """
    row = locked_test(session, viewer, test_id)
    if row.revision != revision:
        raise StaleError(StandingFacts(row.standing), row.revision)
    _check(session, row, facts, on)
    affected = _affected(session, row, facts.standing, on)
    watched = watch(session, [row.id], on, affected)
    stood = changing(session, row, _seeing(session, row, on), on)
    since = facts.on or on
    before = row.standing
    row.standing, row.standing_note = facts.standing, facts.reason
    row.revision += 1
    keep_change(
        session,
        row,
        before,
        on=since,
        by=viewer.name,
        reason=facts.reason,
        superseded_by=facts.superseded_by,
        document=facts.document,
    )
    told: dict[str, tuple[str, str]] = {"standing": (before.value, facts.standing.value)}
    if facts.superseded_by:
        told["superseded by"] = ("", facts.superseded_by)
    entry = changelog.Entry(
        "standing", "test", row.id, row.ref, row.organisation_id, told, facts.reason
    )
    changelog.record(session, viewer.actor, [entry])
    _, changed = recompute(session, on, zone_ids=touched_by(session, row, stood, on))
    reopen(
        session,
        viewer.actor,
        watched,
        because_of(row.ref, facts.standing, since, facts.superseded_by),
        on,
        changed=[row.id],
        zone_ids=affected,
    )
    return saved_as_told(session, viewer, row, changed, affected)


def _check(session: Session, row: TestRecord, facts: StandingFacts, on: date) -> None:
    problems = []
    if facts.on is None:
        problems.append(Problem("Give the day from which this is so.", column="on"))
    elif facts.on > on:
        problems.append(Problem("This day has not come yet.", column="on"))
    elif row.tested_on is not None and facts.on < row.tested_on:
        message = f"The test took place on {row.tested_on} only."
        expected = "that day or a later one"
        problems.append(Problem(message, expected, column="on", value=str(facts.on)))
    if not facts.reason.strip():
        problems.append(Problem("Say why.", column="reason"))
    if facts.standing is row.standing:
        problems.append(Problem("This is its standing already.", column="standing"))
    named = facts.superseded_by
    if facts.standing is Standing.SUPERSEDED and not named:
        problems.append(Problem("Name the test that takes its place.", column="superseded_by"))
    if named and facts.standing is not Standing.SUPERSEDED:
        message = "Only a test that is superseded has another one in its place."
        problems.append(Problem(message, column="superseded_by", value=named))
    elif (
        named and named not in known_tests(session, row.organisation_id, on).ids or named == row.ref
    ):
        message = "There is no other test of this reference."
        problems.append(Problem(message, column="superseded_by", value=named))
    if problems:
        raise InputError(problems)


def _affected(
    session: Session, row: TestRecord, standing: Standing, on: date
) -> Collection[int] | None:
    """The zones whose coverage the change could touch; None for everybody's.

    What stops standing can only touch zones whose coverage names it, or something that leans on
    it; what stands again could cover any zone whose owner sees it.
    """
    if row.standing is Standing.LIVE and standing is not Standing.LIVE:
        return zones_leaning(session, resting_on(session, [row.id], on), tuple(Way))
    return _seeing(session, row, on)


def _seeing(session: Session, row: TestRecord, on: date) -> Collection[int] | None:
    """The zones whose owners see the test or one that rests on it; None for everybody's."""
    tests = resting_on(session, [row.id], on)
    rows = session.scalars(sa.select(TestRecord).where(TestRecord.id.in_(tests))).all()
    if any(test.consent is Consent.PUBLISHED for test in rows):
        return None
    owners = {test.organisation_id for test in rows}
    named = (said.organisation_id for test in rows for said in test.consents)
    owners |= {owner for owner in named if owner is not None}
    query = sa.select(Zone.id).join(Building).where(Building.organisation_id.in_(owners))
    return session.scalars(query).all()

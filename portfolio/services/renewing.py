"""Brings coverage up to the day: dates pass without anybody changing anything.

A consent runs out, a survey or a test that was entered with a later date comes to count, a rule or
a route begins or ends.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import date
from itertools import chain
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.changelog import Actor
from portfolio.db.models import Settlement, Survey, TestConsent, TestRecord, ZoneResult
from portfolio.db.session import reading, writing
from portfolio.domain.evidence import Consent
from portfolio.reference.loader import load_reference
from portfolio.services.certificates_ending import certificates_ended, reopen_ended
from portfolio.services.coverage import refresh
from portfolio.services.editing import coverages
from portfolio.services.progress import count_day, is_counted
from portfolio.services.reliance import is_visible
from portfolio.services.reopening import Watch, reopen, zones_leaning
from portfolio.services.rules.in_force import days_of_own_rules
from portfolio.services.stored import batches

CALENDAR = Actor("the calendar")


def renew(engine: sa.Engine, on: date) -> int:
    """Compute again what a day that has come since then touches; returns how many zones.

    Then the day is counted, once. Nothing is written where nothing is due. Raises BusyError.
    """
    with reading(engine) as session:
        is_due = zones_due(session, on) or certificates_ended(session, on)
        if not is_due and is_counted(session, on):
            return 0
    with writing(engine) as session:
        due = zones_due(session, on)
        compared = _compute_again(session, due, on) if due else 0
        reopen_ended(session, CALENDAR, on)
        count_day(session, on)
        return compared


def _compute_again(session: Session, due: Collection[int], on: date) -> int:
    ended = _consents_ended(session, due, on)
    before = coverages(session, due)
    leaning = {owner: zones_leaning(session, tests) & set(due) for owner, tests in ended.items()}
    compared = refresh(session, on, zone_ids=due)
    for owner, tests in ended.items():
        watched = Watch(frozenset(tests), leaning[owner], before)
        because = f"The consent to lean on {_named(session, tests)} has ended"
        told = {"changed": tests, "zone_ids": due, "owners": [owner]}
        reopen(session, CALENDAR, watched, because, on, **told)
    others = Watch(frozenset(), frozenset(), before)
    because = "A day has come from which something dated counts, or no longer counts"
    owners = _owners(session, due) - ended.keys()
    reopen(session, CALENDAR, others, because, on, zone_ids=due, owners=owners)
    return compared


def _consents_ended(session: Session, due: Collection[int], on: date) -> dict[int, set[int]]:
    """By organisation: the tests on which it may no longer lean since its zones were computed."""
    since = _computed_since(session, on)
    query = sa.select(TestConsent).where(TestConsent.until < on)
    found: dict[int, set[int]] = {}
    for said in session.scalars(query):
        owner = said.organisation_id
        first = None if owner is None else since.get(owner)
        if owner is None or first is None or said.consent is not Consent.GIVEN:
            continue
        if said.until is not None and said.until >= first:
            found.setdefault(owner, set()).add(said.test_id)
    owners = _owners(session, due)
    return {owner: tests for owner, tests in found.items() if owner in owners}


def _owners(session: Session, zone_ids: Collection[int]) -> set[int]:
    found: set[int] = set()
    for batch in batches(zone_ids):
        query = sa.select(ZoneResult.organisation_id).where(ZoneResult.zone_id.in_(batch))
        found.update(session.scalars(query.distinct()))
    return found


def _named(session: Session, tests: Collection[int]) -> str:
    query = sa.select(TestRecord.ref).where(TestRecord.id.in_(tests)).order_by(TestRecord.ref)
    refs = session.scalars(query).all()
    return f"{'test' if len(refs) == 1 else 'tests'} {', '.join(refs)}"


def _computed_since(session: Session, on: date) -> dict[int, date]:
    """By organisation: the day of its oldest coverage that was computed before `on`."""
    computed = ZoneResult.computed_on
    query = sa.select(ZoneResult.organisation_id, sa.func.min(computed)).where(computed < on)
    rows = session.execute(query.group_by(ZoneResult.organisation_id))
    return {row[0]: row[1] for row in rows}


def zones_due(session: Session, on: date) -> set[int]:
    """The zones whose stored coverage rests on a day that is past."""
    computed = ZoneResult.computed_on
    since = _computed_since(session, on)
    if not since:
        return set()
    whole = [owner for owner, day in since.items() if _evidence_changed(session, owner, day, on)]
    found = set(
        session.scalars(
            sa.select(ZoneResult.zone_id)
            .where(ZoneResult.organisation_id.in_(whole))
            .where(computed < on)
        )
    )
    for kind in (Survey, Settlement):
        coming = (
            sa.select(ZoneResult.zone_id)
            .join(kind, kind.zone_id == ZoneResult.zone_id)
            .where(kind.on > computed, kind.on <= on)
        )
        found.update(session.scalars(coming))
    return found


def _evidence_changed(session: Session, organisation_id: int, since: date, on: date) -> bool:
    """Whether something of all the organisation's evidence began or ended after `since`."""
    days = chain(_days_of_reference(), days_of_own_rules(session, organisation_id))
    if any(since < day <= on for day in days):
        return True
    ran_out: Any = sa.select(TestConsent.id).where(
        TestConsent.organisation_id == organisation_id,
        TestConsent.until >= since,
        TestConsent.until < on,
    )
    mine = (TestConsent.test_id == TestRecord.id) & (TestConsent.organisation_id == organisation_id)
    dated = TestRecord.tested_on, TestRecord.report_on
    began = (
        sa.select(TestRecord.id)
        .outerjoin(TestConsent, mine)
        .where(is_visible(organisation_id, on))
        .where(sa.or_(*(day.between(since, on) & (day != since) for day in dated)))
    )
    return any(session.scalar(query.limit(1)) is not None for query in (ran_out, began))


def _days_of_reference() -> Iterable[date]:
    reference = load_reference()
    routes = ((route.effective_from, route.effective_to) for route in reference.routes)
    rules = ((rule.effective_from, rule.effective_to) for rule in reference.rules)
    return (day for day in chain.from_iterable(chain(routes, rules)) if day is not None)

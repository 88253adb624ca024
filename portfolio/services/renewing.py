"""Brings coverage up to the day: dates pass without anybody changing anything.

A consent runs out, a survey or a test that was entered with a later date comes to count, a rule or
a route begins or ends.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from itertools import chain
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Settlement, Survey, TestConsent, TestRecord, ZoneResult
from portfolio.db.session import reading, writing
from portfolio.reference.loader import load_reference
from portfolio.services.coverage import refresh
from portfolio.services.reliance import is_visible


def renew(engine: sa.Engine, on: date) -> int:
    """Compute again what a day that has come since then touches; returns how many zones.

    Nothing is written where nothing is due. Raises BusyError.
    """
    with reading(engine) as session:
        if not zones_due(session, on):
            return 0
    with writing(engine) as session:
        due = zones_due(session, on)
        return refresh(session, on, zone_ids=due) if due else 0


def zones_due(session: Session, on: date) -> set[int]:
    """The zones whose stored coverage rests on a day that is past."""
    computed = ZoneResult.computed_on
    query = sa.select(ZoneResult.organisation_id, sa.func.min(computed)).where(computed < on)
    since = {row[0]: row[1] for row in session.execute(query.group_by(ZoneResult.organisation_id))}
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
    if any(since < day <= on for day in _days_of_reference()):
        return True
    ran_out: Any = sa.select(TestConsent.id).where(
        TestConsent.organisation_id == organisation_id,
        TestConsent.until >= since,
        TestConsent.until < on,
    )
    mine = (TestConsent.test_id == TestRecord.id) & (TestConsent.organisation_id == organisation_id)
    began = (
        sa.select(TestRecord.id)
        .outerjoin(TestConsent, mine)
        .where(is_visible(organisation_id))
        .where(TestRecord.tested_on > since, TestRecord.tested_on <= on)
    )
    return any(session.scalar(query.limit(1)) is not None for query in (ran_out, began))


def _days_of_reference() -> Iterable[date]:
    reference = load_reference()
    routes = ((route.effective_from, route.effective_to) for route in reference.routes)
    rules = ((rule.effective_from, rule.effective_to) for rule in reference.rules)
    return (day for day in chain.from_iterable(chain(routes, rules)) if day is not None)

"""Keeps every change of a test's standing, by whatever way it came."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.life import StandingChange
from portfolio.db.models import TestRecord
from portfolio.domain.evidence import Standing


def keep_change(
    session: Session,
    row: TestRecord,
    before: Standing,
    *,
    on: date,
    by: str,
    reason: str,
    superseded_by: str = "",
    document: str = "",
) -> None:
    """Keep that the test, which has its new standing already, had another one before."""
    session.add(
        StandingChange(
            test_id=row.id,
            before=before,
            standing=row.standing,
            superseded_by=superseded_by,
            on=on,
            reason=reason,
            document=document,
            by=by,
        )
    )


def standing_changes(session: Session, test_id: int) -> Sequence[StandingChange]:
    """Every change of the test's standing, newest first."""
    query = sa.select(StandingChange).where(StandingChange.test_id == test_id)
    return session.scalars(query.order_by(StandingChange.id.desc())).all()


def because_of(ref: str, standing: Standing, on: date, superseded_by: str = "") -> str:
    """The change in words that everybody who leans on the test may read."""
    by = f" by {superseded_by}" if superseded_by else ""
    return f"Test {ref} is {standing.value}{by} since {on}"


def corrected(ref: str) -> str:
    """The same for a record that said something else before."""
    return f"The record of test {ref} was corrected"

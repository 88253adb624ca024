"""The rules that an organisation's walls are compared by: the shipped ones and its own."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date, timedelta

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.rule_mapping import version_from_row
from portfolio.db.rules import RuleVersion
from portfolio.domain.rules import ApplicationRule, RuleSet, rules_in_force
from portfolio.reference.loader import load_reference


def shipped_rules(on: date) -> RuleSet:
    """The rules of everybody: enough where walls are resolved and nothing is compared."""
    return rules_in_force(load_reference().rules, on)


def rules_for(session: Session, organisation_id: int, on: date) -> RuleSet:
    """The rules for the walls that an organisation owns, and for nobody else's.

    Of each of its own rules the latest version counts that had been entered by that day and had
    begun; an earlier one that it took the place of does not come back when it ends.
    """
    return rules_in_force((*load_reference().rules, *own_rules(session, organisation_id, on)), on)


def own_rules(session: Session, organisation_id: int, on: date) -> tuple[ApplicationRule, ...]:
    """An organisation's own rules on a day, those included that have ended since."""
    query = (
        sa.select(RuleVersion)
        .where(
            RuleVersion.organisation_id == organisation_id,
            RuleVersion.recorded_on <= on,
            RuleVersion.since <= on,
        )
        .order_by(RuleVersion.version)
    )
    latest = {row.key: row for row in session.scalars(query)}
    vocabulary = load_reference().vocabulary
    return tuple(version_from_row(row, vocabulary) for row in latest.values())


def with_proposed(rules: RuleSet, proposed: Iterable[ApplicationRule]) -> RuleSet:
    """The rules as they would be if what is proposed had begun already, on the same day."""
    told = {rule.id: rule for rule in proposed}
    kept = [rule for rule in rules.rules if rule.id not in told]
    begun = (replace(r, effective_from=min(r.effective_from, rules.on)) for r in told.values())
    return rules_in_force((*kept, *begun), rules.on)


def days_of_own_rules(session: Session, organisation_id: int) -> Iterator[date]:
    """The days on which one of its versions begins, or counts no longer."""
    query = sa.select(RuleVersion.since, RuleVersion.until).where(
        RuleVersion.organisation_id == organisation_id
    )
    for since, until in session.execute(query):
        yield since
        if until is not None:
            yield until + timedelta(days=1)

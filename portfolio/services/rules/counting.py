"""Which versions of a rule count on a day or later; the rest are history."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from portfolio.db.rules import RuleVersion


def versions_that_count(versions: Sequence[RuleVersion], on: date) -> list[RuleVersion]:
    """Of one rule's versions, by number: the one in force, if any, and those that will be. The
    latest is among them even where it has ended, so that a rule is never lost from sight."""
    kept: list[RuleVersion] = []
    taken_over = date.max
    for row in reversed(versions):
        begins = max(row.since, row.recorded_on, on)
        ended = row.until is not None and row.until < begins
        if not kept or (begins < taken_over and not ended):
            kept.append(row)
        taken_over = min(taken_over, begins)
    return kept[::-1]


def never_overtaken(versions: Sequence[RuleVersion]) -> list[RuleVersion]:
    """Of one rule's versions, by number: those that no later one keeps from ever counting."""
    return [
        row
        for at, row in enumerate(versions)
        if all(row.since < later.since for later in versions[at + 1 :])
    ]

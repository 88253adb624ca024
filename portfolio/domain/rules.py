"""Application rules: how far a parameter may differ from the test, each dated and sourced.

The shipped rules are "as tested": measuring tolerance only. An organisation's fire engineer adds
others; no limit of a standard is invented here.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import date

from portfolio.domain.parameters import PARAMETERS


@dataclass(frozen=True, slots=True)
class ApplicationRule:
    """A measure may lie within `amount` (in `unit`) of the tested one, on either side."""

    id: str
    title: str
    parameters: tuple[str, ...]
    amount: float
    unit: str
    source: str
    status: str
    effective_from: date
    effective_to: date | None = None
    author: str = ""

    def is_in_force(self, on: date) -> bool:
        return self.effective_from <= on and (self.effective_to is None or on < self.effective_to)

    def speaks_of(self, key: str) -> bool:
        """An amount in another unit is never taken for one in the parameter's own."""
        return key in self.parameters and self.unit == PARAMETERS[key].attribute.unit


@dataclass(frozen=True, slots=True)
class RuleSet:
    """The rules in force on one day, with a version that any change of them changes."""

    rules: tuple[ApplicationRule, ...]
    on: date
    version: str = field(init=False)

    def __post_init__(self) -> None:
        text = "\n".join(repr(rule) for rule in self.rules)
        object.__setattr__(self, "version", hashlib.sha256(text.encode()).hexdigest()[:12])

    def for_parameter(self, key: str) -> list[tuple[int, ApplicationRule]]:
        """The rules that speak of a parameter, with their place in the set."""
        return [(i, rule) for i, rule in enumerate(self.rules) if rule.speaks_of(key)]

    def tolerances(self) -> dict[str, float]:
        """How far two measurements may lie apart and still be one: the as-tested tolerances,
        the narrowest where there are several."""
        found: dict[str, float] = {}
        for rule in self.rules:
            for key in rule.parameters:
                if rule.status == "house" and rule.speaks_of(key):
                    found[key] = min(rule.amount, found.get(key, rule.amount))
        return found


def rules_in_force(rules: Collection[ApplicationRule], on: date) -> RuleSet:
    """The rule set of a day, in an order that does not depend on how the rules came in."""
    return RuleSet(tuple(sorted((r for r in rules if r.is_in_force(on)), key=_place)), on)


def _place(rule: ApplicationRule) -> tuple[str, str]:
    return rule.id, repr(rule)

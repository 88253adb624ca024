"""Application rules: how far a parameter may differ from the test, each dated and sourced.

The shipped rules are "as tested": measuring tolerance only. An organisation's fire engineer adds
others; no limit of a standard is invented here. A rule only ever allows what would differ, and
never anything unknown; it says nothing of failing tests.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from portfolio.domain.parameters import PARAMETERS, Kind


class RuleKind(StrEnum):
    """In which way a rule lets a zone differ from the test."""

    WITHIN = "within"
    NOT_MORE = "not-more"
    NOT_LESS = "not-less"
    EQUALS = "equals"
    NOT_WORSE = "not-worse"
    PRESENT = "present"

    @property
    def label(self) -> str:
        return _LABELS[self]


_LABELS = {
    RuleKind.WITHIN: "within an amount of the tested one, on either side",
    RuleKind.NOT_MORE: "not more than tested",
    RuleKind.NOT_LESS: "not less than tested",
    RuleKind.EQUALS: "one of a list that count as equals",
    RuleKind.NOT_WORSE: "not worse in class than tested",
    RuleKind.PRESENT: "present, as in the test",
}
OF_NUMBERS = frozenset({RuleKind.WITHIN, RuleKind.NOT_MORE, RuleKind.NOT_LESS})
RANKED = frozenset({"fire-class", "core-category"})
"""Categories whose words have an order from milder to worse."""


@dataclass(frozen=True, slots=True)
class Condition:
    """Another parameter, known of the zone and of the test to be one of `keys`."""

    parameter: str
    keys: frozenset[str]


@dataclass(frozen=True, slots=True)
class ApplicationRule:
    """How a zone may differ from the test in some parameters.

    `amount`, in `unit`, is how far: on either side (WITHIN), or in the one direction (NOT_MORE,
    NOT_LESS; None without a limit there). `equals` are the words of EQUALS. The rule holds only
    where the conditions are known to be met, for walls of one of `families`, in one of
    `jurisdictions`; an empty one asks nothing.
    """

    id: str
    title: str
    parameters: tuple[str, ...]
    amount: float | None
    unit: str
    source: str
    status: str
    effective_from: date
    effective_to: date | None = None
    author: str = ""
    kind: RuleKind = RuleKind.WITHIN
    equals: frozenset[str] = frozenset()
    families: frozenset[str] = frozenset()
    jurisdictions: frozenset[str] = frozenset()
    conditions: tuple[Condition, ...] = ()

    @property
    def is_conditional(self) -> bool:
        """Whether it holds for some pairs of walls and tests only."""
        return bool(self.families or self.jurisdictions or self.conditions)

    @property
    def all_conditions(self) -> tuple[Condition, ...]:
        """The conditions, with the system families among them."""
        families = Condition("wall.system_family", self.families)
        return (*([families] if self.families else []), *self.conditions)

    def is_in_force(self, on: date) -> bool:
        return self.effective_from <= on and (self.effective_to is None or on < self.effective_to)

    def speaks_of(self, key: str) -> bool:
        """A rule of measures speaks of measures in its own unit, and never of another's; one of
        words speaks of words."""
        if key not in self.parameters:
            return False
        parameter = PARAMETERS[key]
        if self.kind in OF_NUMBERS:
            return parameter.kind is Kind.NUMBER and self.unit == parameter.attribute.unit
        if parameter.kind is not Kind.CATEGORY:
            return False
        return self.kind is not RuleKind.NOT_WORSE or parameter.attribute.category in RANKED


@dataclass(frozen=True, slots=True)
class RuleSet:
    """The rules in force on one day, with a version that any change of them changes."""

    rules: tuple[ApplicationRule, ...]
    on: date
    version: str = field(init=False)

    def __post_init__(self) -> None:
        text = "\n".join(_told(rule) for rule in self.rules)
        object.__setattr__(self, "version", hashlib.sha256(text.encode()).hexdigest()[:12])

    def for_parameter(
        self, key: str, *, conditional: bool = False
    ) -> list[tuple[int, ApplicationRule]]:
        """The rules that speak of a parameter, with their place in the set: those that hold for
        every pair, or those that hold for some."""
        return [
            (i, rule)
            for i, rule in enumerate(self.rules)
            if rule.is_conditional is conditional and rule.speaks_of(key)
        ]

    def tolerances(self) -> dict[str, float]:
        """How far two measurements may lie apart and still be one: the as-tested tolerances,
        the narrowest where there are several."""
        found: dict[str, float] = {}
        for rule in self.rules:
            for key in rule.parameters:
                if rule.status == "house" and rule.speaks_of(key) and rule.amount is not None:
                    found[key] = min(rule.amount, found.get(key, rule.amount))
        return found


def rules_in_force(rules: Collection[ApplicationRule], on: date) -> RuleSet:
    """The rule set of a day, in an order that does not depend on how the rules came in."""
    return RuleSet(tuple(sorted((r for r in rules if r.is_in_force(on)), key=_place)), on)


def _place(rule: ApplicationRule) -> tuple[str, str]:
    return rule.id, _told(rule)


def _told(rule: ApplicationRule) -> str:
    """Everything that a rule says, alike in every process: sets have no order of their own."""
    sets = (rule.equals, rule.families, rule.jurisdictions)
    conditions = [(c.parameter, sorted(c.keys)) for c in rule.conditions]
    told = (
        rule.id,
        rule.title,
        rule.parameters,
        rule.kind.value,
        rule.amount,
        rule.unit,
        rule.source,
        rule.status,
        rule.effective_from.isoformat(),
        rule.effective_to and rule.effective_to.isoformat(),
        rule.author,
        *(sorted(keys) for keys in sets),
        sorted(conditions),
    )
    return repr(told)

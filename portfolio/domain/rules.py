"""Application rules: how far a parameter may differ from the test, each dated and sourced.

The shipped rules are "as tested": measuring tolerance only. An organisation's fire engineer adds
others; no limit of a standard is invented here. A rule only ever allows what would differ, and
never anything unknown; it says nothing of failing tests.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from portfolio.domain.parameters import ASKED_AFTER, PARAMETERS, Kind


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
PRESENCES = frozenset(key for key in ASKED_AFTER.values() if not PARAMETERS[key].is_decisive)
"""Parameters that tell whether a layer is there, and by what is there no test is ruled out."""
HOUSE, ENGINEERS = "house", "engineer"
"""Two of the words for where a rule has its authority from: our tolerances, a named engineer."""


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
    `jurisdictions`; an empty one asks nothing. With `share` it is never farther than that part of
    the tested measure: a tolerance for metres is none for millimetres. `version` counts the
    versions of an organisation's own rule, whose `source` is a document.
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
    version: int = 0
    share: float | None = None

    @property
    def is_own(self) -> bool:
        """Whether it is an organisation's own, not one that the program ships."""
        return self.version > 0

    @property
    def name(self) -> str:
        """How a reader finds it again, and who answers for it."""
        if not self.is_own:
            return self.id
        return f"{self.id} (version {self.version}, by {self.author}: {self.source})"

    @property
    def authority(self) -> str:
        """On what it rests: where it is an organisation's own, also whose it is."""
        if not self.is_own:
            return self.source
        return f"version {self.version}, by {self.author}: {self.source}"

    @property
    def is_conditional(self) -> bool:
        """Whether it holds for some pairs of walls and tests only: an own rule never for a test
        whose wall its engineers are not shown."""
        return self.is_own or bool(self.families or self.jurisdictions or self.conditions)

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
        if key not in self.parameters or not can_speak_of(self.kind, key):
            return False
        return self.kind not in OF_NUMBERS or self.unit == PARAMETERS[key].attribute.unit


def can_speak_of(kind: RuleKind, key: str) -> bool:
    """Whether rules of this kind mean anything for a parameter."""
    parameter = PARAMETERS[key]
    if kind in OF_NUMBERS:
        return parameter.kind is Kind.NUMBER
    if kind is RuleKind.PRESENT:
        return key in PRESENCES
    if kind is RuleKind.NOT_WORSE:
        return parameter.attribute.category in RANKED
    return parameter.kind is Kind.CATEGORY


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
        every pair, or those that hold for some. The widest come first, whatever their places,
        and shipped ones last: the last that allows is the one to tell."""
        found = [
            (i, rule)
            for i, rule in enumerate(self.rules)
            if rule.speaks_of(key) and rule.is_conditional is conditional
        ]
        return sorted(found, key=lambda each: _widest_first(each[1])) if found[1:] else found

    def tolerances(self) -> dict[str, float]:
        """How far two measurements may lie apart and still be one: the as-tested tolerances,
        the narrowest where there are several."""
        found: dict[str, float] = {}
        for rule in self.rules:
            for key in rule.parameters:
                if rule.status == HOUSE and rule.speaks_of(key) and rule.amount is not None:
                    found[key] = min(rule.amount, found.get(key, rule.amount))
        return found


def rules_in_force(rules: Collection[ApplicationRule], on: date) -> RuleSet:
    """The rule set of a day, in an order that does not depend on how the rules came in."""
    return RuleSet(tuple(sorted((r for r in rules if r.is_in_force(on)), key=_place)), on)


def _widest_first(rule: ApplicationRule) -> tuple[bool, float, tuple[str, str]]:
    return not rule.is_own, -math.inf if rule.amount is None else -rule.amount, _place(rule)


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
        rule.share,
        rule.unit,
        rule.source,
        rule.status,
        rule.effective_from.isoformat(),
        rule.effective_to and rule.effective_to.isoformat(),
        rule.author,
        rule.version,
        *(sorted(keys) for keys in sets),
        sorted(conditions),
    )
    return repr(told)

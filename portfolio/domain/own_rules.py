"""An application rule that a named engineer of an organisation owns, with what it rests on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from portfolio.domain.columns import Answer
from portfolio.domain.rule_examples import RuleExample, answer_of
from portfolio.domain.rules import ENGINEERS, ApplicationRule, Condition, RuleKind


@dataclass(frozen=True, slots=True)
class OwnRule:
    """What an engineer says. The sets are empty where the rule asks nothing; both days count."""

    key: str
    title: str
    parameter: str
    kind: RuleKind
    amount: float | None
    unit: str
    equals: frozenset[str]
    families: frozenset[str]
    jurisdictions: frozenset[str]
    conditions: tuple[Condition, ...]
    since: date
    until: date | None
    document: str
    clause: str
    author: str
    reason: str
    examples: tuple[RuleExample, ...]

    def as_version(self, version: int) -> ApplicationRule:
        """The rule as walls are compared by it."""
        return ApplicationRule(
            self.key,
            self.title,
            (self.parameter,),
            self.amount,
            self.unit,
            ", ".join(filter(None, (self.document, self.clause))),
            ENGINEERS,
            self.since,
            None if self.until is None else self.until + timedelta(days=1),
            self.author,
            self.kind,
            self.equals,
            self.families,
            self.jurisdictions,
            self.conditions,
            version,
        )

    def outcomes(self) -> tuple[Answer, ...]:
        """What each example comes out as, the rule being asked alone."""
        rule = self.as_version(1)
        return tuple(answer_of(rule, example) for example in self.examples)

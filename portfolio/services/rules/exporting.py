"""The rules of a viewer's organisation, as they would be written into a file or checked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from portfolio.db.rule_mapping import rule_from_row
from portfolio.db.rules import RuleVersion
from portfolio.domain.columns import Answer
from portfolio.domain.own_rules import OwnRule
from portfolio.reference.loader import load_reference
from portfolio.services.rules.counting import versions_that_count
from portfolio.services.rules.texts import ExampleTexts, write_rule
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class StoredRule:
    """A version of a rule, with the reference of its organisation."""

    organisation: str
    version: int
    rule: OwnRule


@dataclass(frozen=True, slots=True)
class CheckedExample:
    """One example of a stored rule, and what it comes out as."""

    stored: StoredRule
    number: int
    texts: ExampleTexts
    found: Answer

    @property
    def is_so(self) -> bool:
        return self.found.word == self.texts.expect


def stored_rules(
    session: Session, viewer: Viewer, on: date, owner: str = ""
) -> Sequence[StoredRule]:
    """Every version that counts that day or later, of the rules that the viewer may see: by
    organisation, key and number. Of a rule that has ended it is the latest version."""
    query = (
        sa.select(RuleVersion)
        .options(joinedload(RuleVersion.organisation))
        .where(viewer.only(RuleVersion.organisation_id))
        .order_by(RuleVersion.version)
    )
    by_rule: dict[tuple[str, str], list[RuleVersion]] = {}
    for row in session.scalars(query):
        if owner in ("", row.organisation.ref):
            by_rule.setdefault((row.organisation.ref, row.key), []).append(row)
    vocabulary = load_reference().vocabulary
    return [
        StoredRule(ref, row.version, rule_from_row(row, vocabulary))
        for (ref, key) in sorted(by_rule)
        for row in versions_that_count(by_rule[ref, key], on)
    ]


def checked_examples(stored: Sequence[StoredRule]) -> Sequence[CheckedExample]:
    """Every example of the rules, run now."""
    return [
        CheckedExample(each, number, texts, answer)
        for each in stored
        for number, (texts, answer) in enumerate(
            zip(write_rule(each.rule).examples, each.rule.outcomes(), strict=True), start=1
        )
    ]

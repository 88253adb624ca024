"""The rules of a viewer's organisation, as they would be written into a file or checked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from portfolio.db.rule_mapping import rule_from_row
from portfolio.db.rules import RuleVersion
from portfolio.domain.columns import Answer
from portfolio.domain.own_rules import OwnRule
from portfolio.reference.loader import load_reference
from portfolio.services.rules.texts import ExampleTexts, write_rule
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class StoredRule:
    """The latest version of a rule, with the reference of its organisation."""

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


def stored_rules(session: Session, viewer: Viewer, owner: str = "") -> Sequence[StoredRule]:
    """The latest version of every rule that the viewer may see, by organisation and key."""
    query = (
        sa.select(RuleVersion)
        .options(joinedload(RuleVersion.organisation))
        .where(viewer.only(RuleVersion.organisation_id))
        .order_by(RuleVersion.version)
    )
    latest: dict[tuple[str, str], RuleVersion] = {}
    for row in session.scalars(query):
        if owner in ("", row.organisation.ref):
            latest[row.organisation.ref, row.key] = row
    vocabulary = load_reference().vocabulary
    return [
        StoredRule(ref, row.version, rule_from_row(row, vocabulary))
        for (ref, _), row in sorted(latest.items())
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

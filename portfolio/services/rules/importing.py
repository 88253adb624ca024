"""Takes rules in from a file, all of them or none, and tells beforehand what that would change."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Organisation
from portfolio.db.rule_mapping import rule_from_row
from portfolio.db.rules import RuleVersion
from portfolio.domain.errors import InputError, Problem
from portfolio.domain.own_rules import OwnRule
from portfolio.domain.rule_bounds import cautions
from portfolio.reference.loader import load_reference
from portfolio.services.editing import CoverageChange
from portfolio.services.foreseeing import foreseen_of_rules
from portfolio.services.rules.counting import never_overtaken
from portfolio.services.rules.files import FiledRule, read_rules
from portfolio.services.rules.recording import add_versions, latest_versions, renew_zones
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class RulesPlan:
    """What a file would do: by organisation, its rules that are new, or would be a further
    version; those that stand so already are counted."""

    new: dict[int, list[OwnRule]] = field(default_factory=dict)
    replaced: dict[int, list[OwnRule]] = field(default_factory=dict)
    unchanged: int = 0

    def of(self, organisation_id: int) -> Sequence[OwnRule]:
        """What is to be written for one organisation."""
        return [*self.new.get(organisation_id, ()), *self.replaced.get(organisation_id, ())]

    @property
    def cautions(self) -> Sequence[tuple[str, str]]:
        """(Key of a rule to be written, what to know before leaning on it)."""
        written = (rule for owner in self.organisations for rule in self.of(owner))
        return [(rule.key, told) for rule in written for told in cautions(rule.as_version(1))]

    @property
    def organisations(self) -> Sequence[int]:
        return sorted({*self.new, *self.replaced})

    def counts(self) -> tuple[int, int, int]:
        """How many rules are new, would be replaced, and stay as they are."""
        new, replaced = (sum(map(len, each.values())) for each in (self.new, self.replaced))
        return new, replaced, self.unchanged


def plan_rules(session: Session, name: str, content: bytes, *, to_apply: bool = False) -> RulesPlan:
    """What the file would do. Raises InputError with every problem there is.

    Where the plan is `to_apply`, nobody else writes rules of these organisations until the session
    ends: another import, or an engineer at the form, waits and then sees what was written.
    """
    filed = read_rules(name, content)
    organisations = _organisations(session, name, filed)
    if to_apply:
        for owner in sorted(organisations.values()):
            session.get(Organisation, owner, with_for_update={"key_share": True})
    new: dict[int, list[OwnRule]] = {}
    replaced: dict[int, list[OwnRule]] = {}
    unchanged = 0
    stored = {owner: _stored(session, owner) for owner in organisations.values()}
    versions: dict[tuple[int, str], list[OwnRule]] = {}
    for each in filed:
        place = organisations[each.organisation], each.rule.key
        versions.setdefault(place, []).append(each.rule)
    for (owner, key), said in versions.items():
        kept = stored[owner].get(key, [])
        alike = _begun_with(kept, said)
        unchanged += alike
        first = 0 if kept else 1
        new.setdefault(owner, []).extend(said[:first])
        replaced.setdefault(owner, []).extend(said[max(first, alike) :])
    return RulesPlan(_filled(new), _filled(replaced), unchanged)


def _stored(session: Session, owner: int) -> dict[str, list[OwnRule]]:
    """By key, the versions of an organisation's rules that ever count, by number."""
    query = sa.select(RuleVersion).where(RuleVersion.organisation_id == owner)
    by_key: dict[str, list[RuleVersion]] = {}
    for row in session.scalars(query.order_by(RuleVersion.version)):
        by_key.setdefault(row.key, []).append(row)
    vocabulary = load_reference().vocabulary
    return {
        key: [rule_from_row(row, vocabulary) for row in never_overtaken(rows)]
        for key, rows in by_key.items()
    }


def _begun_with(kept: Sequence[OwnRule], said: Sequence[OwnRule]) -> int:
    """With how many of the versions that are kept last the file begins: those stand already."""
    return next(
        (n for n in range(min(len(kept), len(said)), 0, -1) if [*kept[-n:]] == [*said[:n]]), 0
    )


def _filled(rules: dict[int, list[OwnRule]]) -> dict[int, list[OwnRule]]:
    return {owner: found for owner, found in rules.items() if found}


def foresee_plan(
    session: Session, viewer: Viewer, plan: RulesPlan, on: date
) -> tuple[CoverageChange, ...]:
    """Which zones would change, and how, once the rules have begun; nothing is written."""
    found: list[CoverageChange] = []
    for owner in plan.organisations:
        stored = latest_versions(session, owner)
        versions = {key: row.version for key, row in stored.items()}
        proposed = [rule.as_version(versions.get(rule.key, 0) + 1) for rule in plan.of(owner)]
        found += foreseen_of_rules(session, viewer, owner, proposed, on=on)
    return tuple(found)


def apply_plan(
    session: Session, viewer: Viewer, plan: RulesPlan, on: date
) -> tuple[CoverageChange, ...]:
    """Write what is new or changed; tells how coverage changed."""
    found: list[CoverageChange] = []
    for owner in plan.organisations:
        rows = add_versions(session, viewer, owner, plan.of(owner), on)
        found += renew_zones(session, viewer, owner, rows, on)
    return tuple(found)


def _organisations(session: Session, name: str, filed: Iterable[FiledRule]) -> dict[str, int]:
    rows = session.execute(sa.select(Organisation.ref, Organisation.id))
    known: dict[str, int] = {row.ref: row.id for row in rows}
    problems = [
        Problem(
            "There is no such organisation.",
            "the reference of an organisation",
            file=name,
            line=each.line,
            entry=each.rule.key,
            column="organisation",
            value=each.organisation,
        )
        for each in filed
        if each.organisation not in known
    ]
    if problems:
        raise InputError(problems)
    return {each.organisation: known[each.organisation] for each in filed}

"""Keeps the rules that engineers write: versions are added, never changed."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import changelog
from portfolio.db.models import Organisation
from portfolio.db.rule_mapping import rule_from_row, values_of_row
from portfolio.db.rules import RuleVersion
from portfolio.domain.errors import InputError, NotFoundError, Problem
from portfolio.domain.own_rules import OwnRule
from portfolio.domain.rights import Right
from portfolio.domain.rule_bounds import cautions
from portfolio.reference.loader import load_reference
from portfolio.services.editing import CoverageChange, Saved, StaleError, coverages, recompute
from portfolio.services.foreseeing import foreseen_of_rules, zones_of_owner
from portfolio.services.reopening import Watch, reopen
from portfolio.services.rules.texts import RuleTexts, read_rule, write_rule
from portfolio.services.telling import told_to
from portfolio.services.viewer import Viewer

_LONGEST_BECAUSE = 400


@dataclass(frozen=True, slots=True)
class EditableRule:
    """A rule to write a further version of. `version` is the latest there is; 0 for a new rule."""

    rule_id: int
    organisation_id: int
    texts: RuleTexts
    version: int


def editable_rule(session: Session, viewer: Viewer, rule_id: int) -> EditableRule:
    """The latest version of the rule. Raises NotFoundError, ForbiddenError."""
    row = session.get(RuleVersion, rule_id)
    if row is None:
        raise NotFoundError("There is no such rule.")
    viewer.require(Right.DECIDE, row.organisation_id, what="rule")
    latest = latest_versions(session, row.organisation_id)[row.key]
    texts = write_rule(rule_from_row(latest, load_reference().vocabulary))
    return EditableRule(latest.id, latest.organisation_id, texts, latest.version)


def effects_of_rule(
    session: Session,
    viewer: Viewer,
    organisation_id: int,
    texts: RuleTexts,
    *,
    version: int,
    on: date,
) -> tuple[CoverageChange, ...]:
    """What the rule would change; nothing is written.

    Raises InputError, NotFoundError, ForbiddenError, StaleError.
    """
    rule = _checked(session, viewer, organisation_id, texts, version)
    proposed = [rule.as_version(version + 1)]
    return foreseen_of_rules(session, viewer, organisation_id, proposed, on=on)


def cautions_of(texts: RuleTexts) -> tuple[str, ...]:
    """What its author is to be told before the rule is saved. Raises InputError."""
    return cautions(read_rule(texts).as_version(1))


def record_rule(
    session: Session,
    viewer: Viewer,
    organisation_id: int,
    texts: RuleTexts,
    *,
    version: int,
    on: date,
) -> Saved:
    """Keep a rule, or a further version of it over the latest that the author saw.

    Raises InputError, NotFoundError, ForbiddenError, StaleError.
    """
    held = session.get(Organisation, organisation_id, with_for_update={"key_share": True})
    rule = _checked(session, viewer, organisation_id, texts, version)
    if held is None:
        raise NotFoundError("There is no such organisation.")
    [row] = add_versions(session, viewer, organisation_id, [rule], on)
    changes = renew_zones(session, viewer, organisation_id, [row], on)
    compared = len(zones_of_owner(session, organisation_id))
    return Saved(row.id, f"{row.key}, version {row.version}", compared, changes)


def latest_versions(session: Session, organisation_id: int) -> dict[str, RuleVersion]:
    """By key, the latest version of each of an organisation's own rules."""
    query = sa.select(RuleVersion).where(RuleVersion.organisation_id == organisation_id)
    return {row.key: row for row in session.scalars(query.order_by(RuleVersion.version))}


def add_versions(
    session: Session,
    viewer: Viewer,
    organisation_id: int,
    rules: Sequence[OwnRule],
    on: date,
) -> list[RuleVersion]:
    """Write each rule as the next version of its key, with its entry in the change log."""
    vocabulary = load_reference().vocabulary
    latest = latest_versions(session, organisation_id)
    rows, entries = [], []
    for rule in rules:
        before = latest.get(rule.key)
        values = values_of_row(rule, vocabulary)
        row = RuleVersion(
            organisation_id=organisation_id,
            version=before.version + 1 if before else 1,
            recorded_on=on,
            **values,
        )
        session.add(row)
        session.flush()
        rows.append(row)
        latest[rule.key] = row
        old = _logged(rule_from_row(before, vocabulary)) if before else {}
        told: dict[str, tuple[Any, Any]] = {
            name: (old.get(name), text)
            for name, text in _logged(rule).items()
            if (text or "") != (old.get(name) or "")
        }
        told["version"] = (before.version if before else None, row.version)
        action = "replaced" if before else "created"
        entries.append(
            changelog.Entry(action, "rule", row.id, row.key, organisation_id, told, rule.reason)
        )
    changelog.record(session, viewer.actor, entries)
    return rows


def _logged(rule: OwnRule) -> dict[str, Any]:
    """What the change log keeps of a rule: each field as it is written."""
    texts = write_rule(rule)
    examples = (
        f"zone {e.zone}, tested {e.tested}"
        + "".join(f", {key} {text}" for key, text in (*e.others, ("in", e.jurisdiction)) if text)
        + f": {e.expect}"
        for e in texts.examples
    )
    return asdict(texts) | {
        "conditions": "; ".join(f"{c.parameter}: {c.words}" for c in texts.conditions),
        "examples": "; ".join(examples),
    }


def renew_zones(
    session: Session,
    viewer: Viewer,
    organisation_id: int,
    rows: Collection[RuleVersion],
    on: date,
) -> tuple[CoverageChange, ...]:
    """Compare the organisation's zones by its rules as they are now, and re-open those whose
    coverage is another one."""
    zone_ids = zones_of_owner(session, organisation_id)
    watched = Watch(frozenset(), frozenset(), coverages(session, zone_ids))
    _, changes = recompute(session, on, zone_ids=zone_ids)
    told = ", ".join(f"{row.key} (version {row.version}, by {row.author})" for row in rows)
    because = f"{'A rule was' if len(rows) == 1 else 'Rules were'} written: {told}"
    reopen(session, viewer.actor, watched, because[:_LONGEST_BECAUSE], on, zone_ids=zone_ids)
    return told_to(session, viewer, changes)


def _checked(
    session: Session, viewer: Viewer, organisation_id: int, texts: RuleTexts, version: int
) -> OwnRule:
    viewer.require(Right.DECIDE, organisation_id, what="organisation")
    rule = read_rule(texts)
    latest = latest_versions(session, organisation_id).get(rule.key)
    if latest is None and version == 0:
        return rule
    if version == 0:
        message = "There is a rule of this key already: write a further version of it."
        raise InputError([Problem(message, column="key", value=rule.key)])
    if latest is None:
        message = "A rule keeps its key in all its versions."
        raise InputError([Problem(message, column="key", value=rule.key)])
    vocabulary = load_reference().vocabulary
    stored = rule_from_row(latest, vocabulary)
    if latest.version != version:
        raise StaleError(write_rule(stored), latest.version)
    if stored == rule:
        raise InputError("This is what the latest version says already.")
    return rule

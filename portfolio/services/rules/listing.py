"""The rules that a viewer's walls are compared by: listed, and one with all its versions."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from portfolio.db.rule_mapping import rule_from_row
from portfolio.db.rules import RuleVersion
from portfolio.domain.errors import NotFoundError
from portfolio.domain.own_rules import OwnRule
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.rights import Right
from portfolio.domain.rule_bounds import cautions
from portfolio.domain.rules import ApplicationRule
from portfolio.reference.loader import load_reference
from portfolio.services.rules.counting import versions_that_count
from portfolio.services.rules.in_force import shipped_rules
from portfolio.services.rules.texts import ExampleTexts, write_rule
from portfolio.services.rules.words import holds_where, says
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class RuleLine:
    """One version of a rule, in words. `rule_id` is None for a shipped rule; `state` tells
    whether it counts on the day asked for; `cautions` what to know before leaning on it."""

    rule_id: int | None
    organisation: str
    rule: ApplicationRule
    parameters: str
    says: str
    where: str
    until: date | None
    state: str
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ExampleLine:
    """A worked example, and what it comes out as."""

    texts: ExampleTexts
    others: tuple[tuple[str, str], ...]
    found: str


@dataclass(frozen=True, slots=True)
class VersionPage:
    """One version as it was written. `recorded_on` is the day on which it was entered."""

    line: RuleLine
    document: str
    clause: str
    reason: str
    recorded_on: date
    examples: tuple[ExampleLine, ...]


@dataclass(frozen=True, slots=True)
class RulePage:
    """A rule of an organisation: the latest version, and those before it, newest first."""

    organisation_id: int
    latest: VersionPage
    earlier: tuple[VersionPage, ...]


@dataclass(frozen=True, slots=True)
class RuleList:
    """Of a viewer's own rules the versions in force and to come, and the shipped rules."""

    own: tuple[RuleLine, ...]
    shipped: tuple[RuleLine, ...]


def list_rules(session: Session, viewer: Viewer, on: date) -> RuleList:
    """Every rule of the viewer's organisation, and those that the program ships."""
    by_rule: dict[tuple[int, str], list[RuleVersion]] = {}
    for row in _rows(session, viewer.only(RuleVersion.organisation_id)):
        by_rule.setdefault((row.organisation_id, row.key), []).append(row)
    own = (
        _own_line(row, _counting(rows, on), on)
        for rows in by_rule.values()
        for row in versions_that_count(rows, on)
    )
    return RuleList(tuple(own), tuple(_line(rule, "in force") for rule in shipped_rules(on).rules))


def rule_page(session: Session, viewer: Viewer, rule_id: int, on: date) -> RulePage:
    """The rule that a version belongs to. Raises NotFoundError."""
    found = session.get(RuleVersion, rule_id)
    if found is None:
        raise NotFoundError("There is no such rule.")
    viewer.require(Right.READ, found.organisation_id, what="rule")
    of_rule = RuleVersion.organisation_id == found.organisation_id, RuleVersion.key == found.key
    rows = list(_rows(session, *of_rule))
    counting = _counting(rows, on)
    pages = [_page(row, counting, on) for row in reversed(rows)]
    return RulePage(found.organisation_id, pages[0], tuple(pages[1:]))


def _rows(session: Session, *which: sa.ColumnElement[bool]) -> Iterable[RuleVersion]:
    """Versions by organisation, key and number."""
    order = RuleVersion.organisation_id, RuleVersion.key, RuleVersion.version
    query = sa.select(RuleVersion).options(joinedload(RuleVersion.organisation)).where(*which)
    return session.scalars(query.order_by(*order))


def _counting(rows: Iterable[RuleVersion], on: date) -> int:
    """The number of the latest version that has begun; 0 where none has."""
    return max((row.version for row in rows if _has_begun(row, on)), default=0)


def _has_begun(row: RuleVersion, on: date) -> bool:
    return row.since <= on and row.recorded_on <= on


def _state(row: RuleVersion, counting: int, on: date) -> str:
    """What became of a version where `counting` is the latest that has begun."""
    if row.version > counting:
        return "to come"
    if row.version < counting:
        return "replaced"
    return "ended" if row.until is not None and row.until < on else "in force"


def _own_line(row: RuleVersion, counting: int, on: date) -> RuleLine:
    told = rule_from_row(row, load_reference().vocabulary)
    return _line(told.as_version(row.version), _state(row, counting, on), row)


def _line(rule: ApplicationRule, state: str, row: RuleVersion | None = None) -> RuleLine:
    return RuleLine(
        row.id if row else None,
        row.organisation.name if row else "",
        rule,
        "; ".join(PARAMETERS[key].title for key in rule.parameters),
        says(rule),
        holds_where(rule),
        _last_day(rule),
        state,
        cautions(rule) if rule.is_own else (),
    )


def _last_day(rule: ApplicationRule) -> date | None:
    return None if rule.effective_to is None else rule.effective_to - timedelta(days=1)


def _page(row: RuleVersion, counting: int, on: date) -> VersionPage:
    told = rule_from_row(row, load_reference().vocabulary)
    return VersionPage(
        _own_line(row, counting, on),
        told.document,
        told.clause,
        told.reason,
        row.recorded_on,
        example_lines(told),
    )


def example_lines(rule: OwnRule) -> tuple[ExampleLine, ...]:
    """The rule's examples, run now."""
    return tuple(
        ExampleLine(
            texts,
            tuple((PARAMETERS[key].title, text) for key, text in texts.others),
            answer.word,
        )
        for texts, answer in zip(write_rule(rule).examples, rule.outcomes(), strict=True)
    )

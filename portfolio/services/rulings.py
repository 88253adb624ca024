"""Keeps what named people rule: decisions on a zone, and which survey to believe.

A decision stands beside the computed coverage and never changes it; a settlement ends a conflict
between surveys, and coverage is computed anew.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from portfolio.db import changelog, models
from portfolio.domain.errors import InputError, Problem
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.rights import Right
from portfolio.domain.surveys import Fact, Wall
from portfolio.services.editing import Saved, coverage_value, locked_zone, recompute
from portfolio.services.gathering import gather_zones
from portfolio.services.rules.in_force import shipped_rules
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class DecisionFacts:
    """A named engineer's ruling, as entered."""

    ruling: str
    by: str
    qualification: str
    on: date
    valid_until: date | None
    reasons: str
    documents: str


@dataclass(frozen=True, slots=True)
class SettlementFacts:
    """A named person's word on which survey to believe about one parameter."""

    parameter: str
    survey_ref: str
    by: str
    on: date
    reason: str
    everywhere: bool = False
    """Believe the survey about everything on which it is one of those that disagree."""


def record_decision(
    session: Session, viewer: Viewer, zone_id: int, facts: DecisionFacts, on: date
) -> Saved:
    """Keep a decision beside the coverage as it is now. Raises NotFoundError, InputError."""
    zone = locked_zone(session, viewer, zone_id, Right.DECIDE)
    problems = [Problem(_FUTURE, column="on")] if facts.on > on else []
    if facts.valid_until is not None and facts.valid_until < facts.on:
        problems.append(Problem("It would end before it begins.", column="valid_until"))
    if problems:
        raise InputError(problems)
    result = session.get(models.ZoneResult, zone_id)
    then = ""
    if result is not None:
        then = coverage_value(result.coverage, by_inference=result.by_inference)
    row = models.Decision(zone_id=zone_id, coverage_then=then, **asdict(facts))
    session.add(row)
    session.flush()
    told = {key: (None, value) for key, value in asdict(facts).items() if value}
    changelog.record(session, viewer.actor, [_entry(zone, "decision", row, told)])
    return Saved(zone_id, zone.ref)


_FUTURE = "This day has not come yet."


def settle(
    session: Session, viewer: Viewer, zone_id: int, facts: SettlementFacts, on: date
) -> Saved:
    """Believe one survey about one parameter, or about every one on which it is contradicted.

    Raises NotFoundError, InputError.
    """
    zone = locked_zone(session, viewer, zone_id, Right.DECIDE)
    wall = _wall(session, zone_id, on)
    _check_settlement(wall, facts, on)
    parameters = [facts.parameter]
    if facts.everywhere:
        parameters = [key for key in wall.conflicts if facts.survey_ref in _refs(wall.facts[key])]
    for parameter in parameters:
        row = models.Settlement(
            zone_id=zone_id,
            parameter=parameter,
            survey_ref=facts.survey_ref,
            by=facts.by,
            on=facts.on,
            reason=facts.reason,
        )
        session.add(row)
        session.flush()
        told = {
            "about": (None, PARAMETERS[parameter].title),
            "survey believed": (None, facts.survey_ref),
            "by": (None, facts.by),
            "on": (None, facts.on),
            "reason": (None, facts.reason),
        }
        changelog.record(session, viewer.actor, [_entry(zone, "settlement", row, told)])
    compared, changed = recompute(session, on, zone_ids=[zone_id])
    return Saved(zone_id, zone.ref, compared, changed)


def _wall(session: Session, zone_id: int, on: date) -> Wall:
    rules = shipped_rules(on)
    [zone] = gather_zones(session, rules, {zone_id})
    return zone.wall


def _refs(fact: Fact) -> list[str]:
    """The surveys that disagree about a fact."""
    return [claim.survey.ref for claim in (fact.claim, *fact.in_conflict)]


def _check_settlement(wall: Wall, facts: SettlementFacts, on: date) -> None:
    fact = wall.facts.get(facts.parameter)
    problems = []
    if fact is None or not fact.in_conflict:
        message = "The surveys do not, or no longer, disagree on this."
        problems.append(Problem(message, column="parameter"))
    else:
        if facts.survey_ref not in _refs(fact):
            message = "This survey is not one of those that disagree."
            problems.append(Problem(message, column="survey_ref"))
        newest = max(claim.survey.on for claim in (fact.claim, *fact.others))
        if facts.on < newest:
            message = f"The newest of the surveys is of {newest}: nobody can rule on it earlier."
            problems.append(Problem(message, column="on"))
    if facts.on > on:
        problems.append(Problem(_FUTURE, column="on"))
    if problems:
        raise InputError(problems)


def _entry(zone: models.Zone, subject: str, row: Any, told: dict[str, Any]) -> changelog.Entry:
    building = zone.building
    ref = f"{building.ref} / {zone.ref}"
    return changelog.Entry("created", subject, row.id, ref, building.organisation_id, told)

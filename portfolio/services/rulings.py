"""Keeps what named people rule: decisions on a zone, and which survey to believe.

A decision stands beside the computed coverage and never changes it, and keeps what it rested on, so
that what changes afterwards marks it for review until it is confirmed or replaced; a settlement
ends a conflict between surveys, and coverage is computed anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from portfolio.db import changelog, models
from portfolio.db.rulings import DecisionConfirmation
from portfolio.domain.assessing import assess
from portfolio.domain.coverage import ZoneCase
from portfolio.domain.errors import InputError, NotFoundError, Problem
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.plain_text import is_blank
from portfolio.domain.rested_on import fingerprint
from portfolio.domain.rights import Right
from portfolio.domain.surveys import Fact, Wall
from portfolio.services.coverage import library_of
from portfolio.services.editing import Saved, coverage_value, locked_zone, recompute
from portfolio.services.explaining import refs_behind
from portfolio.services.gathering import gather_zones
from portfolio.services.marking import saves_of_tests
from portfolio.services.reliance import records_for
from portfolio.services.rested_on import rested_on
from portfolio.services.rules.in_force import rules_for, shipped_rules
from portfolio.services.ruling_days import (
    confirmed_too_early,
    older_than_standing,
    said_already,
    standing_ruling,
    too_early,
)
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
    valid_from: date | None = None


@dataclass(frozen=True, slots=True)
class ConfirmationFacts:
    """A named engineer's word that a decision still holds, as entered.

    `valid_until` is its last day from now on; None: no end set, which must be said by `no_last_day`
    where the decision had one.
    """

    by: str
    qualification: str
    on: date
    reason: str
    valid_until: date | None = None
    no_last_day: bool = False


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
    session: Session,
    viewer: Viewer,
    zone_id: int,
    facts: DecisionFacts,
    on: date,
    *,
    seen: str | None = None,
) -> Saved:
    """Keep a decision beside the coverage as it is now, with all that it rests on; it takes the
    place of earlier ones on the zone.

    `seen` is the fingerprint of what the engineer had before them: where something of it has
    changed meanwhile, or where it is empty, nothing is kept; None asks for no such check. Raises
    NotFoundError, InputError.
    """
    zone = locked_zone(session, viewer, zone_id, Right.DECIDE)
    basis = basis_of(session, zone_id, on)
    standing = standing_ruling(session, zone_id)
    problems = [
        *_days(facts.on, facts.valid_from or facts.on, facts.valid_until, on),
        *older_than_standing(standing, facts.on),
        *too_early(session, zone_id, standing, facts.on, on),
        *_counts_already(facts.valid_from, on),
        *_unsaid(facts, ("ruling", "by", "qualification", "reasons")),
        *said_already(standing, asdict(facts) | {"rested_on": basis}, confirms=False),
    ]
    if seen is not None and seen != fingerprint(basis):
        problems.append(Problem(_MEANWHILE))
    if problems:
        raise InputError(problems)
    row = models.Decision(
        zone_id=zone_id,
        coverage_then=_coverage_of(session, zone_id),
        rested_on=basis,
        **asdict(facts),
    )
    session.add(row)
    session.flush()
    told = {key: (None, value) for key, value in asdict(facts).items() if value}
    told["rests on"] = (None, f"coverage {basis['coverage']}; fingerprint {fingerprint(basis)}")
    changelog.record(session, viewer.actor, [_entry(zone, "decision", row, told)])
    return Saved(zone_id, zone.ref)


def confirm_decision(
    session: Session,
    viewer: Viewer,
    decision_id: int,
    facts: ConfirmationFacts,
    on: date,
    *,
    seen: str | None = None,
) -> Saved:
    """Keep that a decision still holds; what it rests on is from now on what is known today.

    `seen` as for `record_decision`: nobody confirms what they were not shown. Raises NotFoundError,
    and InputError where a later decision stands in its place.
    """
    row = session.get(models.Decision, decision_id)
    if row is None:
        raise NotFoundError("There is no such decision.")
    zone = locked_zone(session, viewer, row.zone_id, Right.DECIDE)
    problems = [
        *_days(facts.on, facts.on, facts.valid_until, on),
        *_unsaid(facts, ("by", "qualification", "reason")),
    ]
    kept = asdict(facts)
    del kept["no_last_day"]
    basis = basis_of(session, row.zone_id, on)
    standing = standing_ruling(session, row.zone_id)
    if standing is None or standing.row.id != row.id:
        problems.append(Problem("A later decision stands in the place of this one."))
    else:
        problems += confirmed_too_early(standing, facts.on)
        problems += _ends(standing.valid_until, facts)
        problems += too_early(session, row.zone_id, standing, facts.on, on)
        problems += said_already(standing, kept | {"rested_on": basis}, confirms=True)
    if seen is not None and seen != fingerprint(basis):
        problems.append(Problem(_MEANWHILE))
    if problems:
        raise InputError(problems)
    said = DecisionConfirmation(decision_id=row.id, rested_on=basis, recorded_on=on, **kept)
    session.add(said)
    session.flush()
    told = {key: (None, value) for key, value in asdict(facts).items() if value}
    told["rests on"] = (None, f"coverage {basis['coverage']}; fingerprint {fingerprint(basis)}")
    entry = replace(_entry(zone, "decision", row, told), action="confirmed")
    changelog.record(session, viewer.actor, [entry])
    return Saved(zone.id, zone.ref)


def basis_of(session: Session, zone_id: int, on: date) -> dict[str, str]:
    """What a ruling on the zone would rest on today, compared with the tests that its stored
    coverage rests on, as on the zone's page: to read all of them takes too long for a page."""
    [zone] = gather_zones(session, shipped_rules(on), {zone_id})
    rules = rules_for(session, zone.organisation_id, on)
    stored = session.get(models.ZoneResult, zone_id)
    refs = None if stored is None else refs_behind(stored)
    tests = records_for(session, zone.organisation_id, on, refs)
    library = library_of(list(tests.values()), {zone.setting}, rules)
    [coverage] = assess([ZoneCase(zone.wall, zone.setting)], library)
    return rested_on(
        zone, coverage, library, saves_of_tests(session, zone.organisation_id, library)
    )


def _coverage_of(session: Session, zone_id: int) -> str:
    result = session.get(models.ZoneResult, zone_id)
    if result is None:
        return ""
    return coverage_value(result.coverage, by_inference=result.by_inference)


def _days(said: date, first: date, last: date | None, on: date) -> Iterator[Problem]:
    if said > on:
        yield Problem(_FUTURE, column="on")
    if last is not None and last < first:
        yield Problem("It would end before it begins.", column="valid_until")


def _counts_already(first: date | None, on: date) -> Iterator[Problem]:
    """One that is to count later would take the place of the one that counts until then."""
    if first is not None and first > on:
        message = "A decision counts from the day it is recorded or an earlier one."
        yield Problem(message, column="valid_from")


def _ends(until: date | None, facts: ConfirmationFacts) -> Iterator[Problem]:
    """Nobody makes a decision that had a last day unlimited without saying so."""
    if facts.no_last_day and facts.valid_until is not None:
        yield Problem("There is a last day here, and the words that there is none.", column=_UNTIL)
    elif until is not None and facts.valid_until is None and not facts.no_last_day:
        message = f"The decision had a last day, {until}."
        yield Problem(message, "a new last day, or a tick at “No last day”", column=_UNTIL)


def _unsaid(facts: DecisionFacts | ConfirmationFacts, keys: Iterable[str]) -> Iterator[Problem]:
    """What must be said and is not, or only in characters that nobody sees."""
    for key in keys:
        if is_blank(getattr(facts, key)):
            yield Problem(_MUST_SAY[key], column=key)


_MUST_SAY = {
    "ruling": "Say what is decided.",
    "by": "Name the engineer.",
    "qualification": "Give the engineer's qualification.",
    "reasons": "Give the reasons.",
    "reason": "Say why it still holds.",
}
_MEANWHILE = (
    "What this would rest on has changed since you opened this page. Look at what is shown now, "
    "and save again if it still holds."
)
_UNTIL = "valid_until"
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

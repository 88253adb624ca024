"""Everything that the page of one zone shows, gathered in one go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload, selectinload

from portfolio.db import models
from portfolio.db.life import Concerned, Reopened
from portfolio.domain.errors import NotFoundError
from portfolio.domain.findings import Way, findings
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.rights import Right
from portfolio.domain.settling import Settling
from portfolio.domain.surveys import Claim, Survey, Wall
from portfolio.domain.walls import parameters_of
from portfolio.services.close_failures import CloseTest, close_to
from portfolio.services.explaining import (
    ComparisonRow,
    Explanation,
    TestComparison,
    explain,
    explain_fully,
    value_text,
)
from portfolio.services.gathering import gather_zones
from portfolio.services.history import History, history_of_zones
from portfolio.services.interpolating import Candidate, candidates
from portfolio.services.reliance import known_tests, with_a_page
from portfolio.services.route_words import ToldRoute, told_route
from portfolio.services.rules.in_force import shipped_rules
from portfolio.services.ruling_review import Ruling, rulings_of_zones
from portfolio.services.settling import sets_of, settling_of
from portfolio.services.to_look_at import reopened_of
from portfolio.services.viewer import Viewer
from portfolio.services.wall_drawings import DrawnSection, draw_pair, draw_wall
from portfolio.services.wall_words import LayerWords, layers_in_words, whole_wall_in_words
from portfolio.services.zone_sentence import sentence_for

MOST_TESTS = 12
"""How many tests a page lists beside the one that it compares."""


@dataclass(frozen=True, slots=True)
class ConflictingClaim:
    """One side of a conflict."""

    survey_ref: str
    basis: str
    on: date
    source: str
    value: str


@dataclass(frozen=True, slots=True)
class Conflict:
    """A parameter on which surveys of equal strength disagree."""

    parameter: str
    title: str
    claims: tuple[ConflictingClaim, ...]


@dataclass(frozen=True, slots=True)
class SurveyLine:
    """One survey as it was made."""

    survey: Survey
    wall: tuple[tuple[str, str], ...]
    layers: tuple[LayerWords, ...]
    is_to_come: bool
    """Dated in the future: nothing in it counts before that day."""


@dataclass(frozen=True, slots=True)
class ToFindOut:
    """What one way of looking would tell: (layer, its attributes)."""

    way: Way
    layers: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class ZonePage:
    """One zone: `row` and its building as stored, the explanation, and what follows from it."""

    row: models.Zone
    explained: Explanation
    sentence: str
    between: tuple[Candidate, ...]
    close: tuple[CloseTest, ...]
    settling: Settling
    chosen: TestComparison | None
    chosen_has_page: bool
    section: DrawnSection
    to_find_out: tuple[ToFindOut, ...]
    conflicts: tuple[Conflict, ...]
    surveys: tuple[SurveyLine, ...]
    history: History
    compares_all: bool
    otherwise_asked: bool
    reopened: Sequence[Reopened]
    route: ToldRoute
    rulings: tuple[Ruling, ...]

    def rows(self, *answers: str) -> tuple[ComparisonRow, ...]:
        """The comparison's rows that have one of these answers, decisive ones first."""
        found = self.chosen.rows if self.chosen else ()
        kept = [row for row in found if row.answer in answers]
        return tuple(sorted(kept, key=lambda row: not row.is_decisive))


def zone_page(
    session: Session,
    viewer: Viewer,
    zone_id: int,
    on: date,
    *,
    test_id: int | None = None,
    compare_all: bool = False,
    otherwise: bool = False,
) -> ZonePage:
    """The zone with its comparison against one test, the nearest unless another is chosen, and with
    what its facts would do that are found otherwise, if asked.

    Raises NotFoundError for a zone, or a test, that is not there or not for this viewer.
    """
    row = zone_row(session, viewer, zone_id)
    owner = row.building.organisation_id
    also = [] if test_id is None else [_name_of(session, owner, test_id, on)]
    if compare_all:
        explained = explain_fully(session, viewer, zone_id, on, most=MOST_TESTS, also=also)
    else:
        explained = explain(session, viewer, zone_id, on, also=also)
    chosen = _chosen(explained, test_id)
    zone, coverage = explained.gathered, explained.coverage
    return ZonePage(
        row,
        explained,
        sentence_for(explained),
        candidates(explained),
        close_to(session, viewer, explained, on),
        settling_of(session, zone, coverage, on)
        if otherwise
        else Settling(sets_of(session, zone, coverage)),
        chosen,
        chosen is not None and bool(with_a_page(session, viewer, on, [chosen.test_id])),
        _section(row, explained.wall, chosen),
        _to_find_out(explained),
        _conflicts(explained.wall),
        _survey_lines(explained.surveys, on),
        history_of_zones(session, viewer, [zone_id]),
        compare_all,
        otherwise,
        reopened_of(session, Concerned.ZONE, zone_id),
        told_route(zone, on),
        tuple(rulings_of_zones(session, [zone_id], on).get(zone_id, ())),
    )


def zone_row(session: Session, viewer: Viewer, zone_id: int) -> models.Zone:
    """The zone as stored, with its building and rulings. Raises NotFoundError."""
    query = (
        sa.select(models.Zone)
        .options(
            joinedload(models.Zone.building).joinedload(models.Building.organisation),
            joinedload(models.Zone.result),
            selectinload(models.Zone.settlements),
        )
        .where(models.Zone.id == zone_id)
    )
    row = session.scalars(query).first()
    if row is None or not viewer.may(Right.READ, row.building.organisation_id, row.building_id):
        raise NotFoundError("There is no such zone.")
    return row


def _name_of(session: Session, owner: int, test_id: int, on: date) -> str:
    """The reference by which the zone's owner knows the test; its holder's may be another's too."""
    name = known_tests(session, owner, on).names.get(test_id)
    if name is None:
        raise NotFoundError("There is no such test.")
    return name


def _chosen(explained: Explanation, test_id: int | None) -> TestComparison | None:
    if test_id is not None:
        for comparison in explained.comparisons:
            if comparison.test_id == test_id:
                return comparison
        # either not there, or not among the evidence that the zone's owner may see
        raise NotFoundError("There is no such test.")
    by_ref = {comparison.test.ref: comparison for comparison in explained.comparisons}
    preferred = explained.coverage.tests or explained.coverage.against
    return next((by_ref[ref] for ref in preferred if ref in by_ref), None)


def _section(row: models.Zone, wall: Wall, chosen: TestComparison | None) -> DrawnSection:
    values = {key: fact.value for key, fact in wall.facts.items()}
    name = f"Zone {row.ref}, as far as known"
    if chosen is None:
        return draw_wall(values, name, id_prefix="wall")
    answers = {compared.parameter: compared.answer for compared in chosen.rows}
    names = name, f"Test {chosen.test.ref}"
    tested = parameters_of(chosen.test.build_up)
    return draw_pair(values, tested, names, answers, id_prefix="walls")


def _to_find_out(explained: Explanation) -> tuple[ToFindOut, ...]:
    """What is missing, cheapest way first; nothing where the zone is covered."""
    if not explained.coverage.coverage.is_gap:
        return ()
    by_way: dict[Way, dict[str, list[str]]] = {}
    for finding in findings(explained.coverage.unknowns):
        layer, _, attribute = finding.title.rpartition(": ")
        by_way.setdefault(finding.way, {}).setdefault(layer or "whole wall", []).append(attribute)
    return tuple(
        ToFindOut(way, tuple((layer, ", ".join(told)) for layer, told in layers.items()))
        for way, layers in by_way.items()
    )


def conflict_of(
    session: Session, viewer: Viewer, zone_id: int, parameter: str, on: date
) -> Conflict:
    """One conflict of a zone, to be settled. Raises NotFoundError when there is none."""
    rules = shipped_rules(on)
    zone = next(iter(gather_zones(session, rules, {zone_id})), None)
    if zone is not None:
        viewer.require(Right.DECIDE, zone.organisation_id, zone.building_id, what="zone")
        for conflict in _conflicts(zone.wall):
            if conflict.parameter == parameter:
                return conflict
    raise NotFoundError("There is no such conflict.")


def _conflicts(wall: Wall) -> tuple[Conflict, ...]:
    return tuple(
        Conflict(
            key,
            PARAMETERS[key].title,
            tuple(_claim(claim) for claim in (wall.facts[key].claim, *wall.facts[key].in_conflict)),
        )
        for key in wall.conflicts
    )


def _claim(claim: Claim) -> ConflictingClaim:
    survey = claim.survey
    value = value_text(claim.parameter, claim.value)
    return ConflictingClaim(survey.ref, survey.basis.label, survey.on, survey.source, value)


def _survey_lines(surveys: Sequence[Survey], on: date) -> tuple[SurveyLine, ...]:
    newest_first = sorted(surveys, key=lambda survey: (survey.on, survey.ref), reverse=True)
    return tuple(
        SurveyLine(
            s, whole_wall_in_words(s.build_up), layers_in_words(s.build_up), is_to_come=s.on > on
        )
        for s in newest_first
    )

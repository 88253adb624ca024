"""Why a zone has the coverage it has: every comparison with every test, best first."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import models
from portfolio.domain.arrays import Bools
from portfolio.domain.assessing import assess
from portfolio.domain.columns import Answer, Column
from portfolio.domain.comparing import means_something
from portfolio.domain.coverage import Library, ZoneCase, ZoneCoverage
from portfolio.domain.errors import NotFoundError
from portfolio.domain.evidence import (
    Answer3,
    EvidenceKind,
    Outcome,
    TestRecord,
    outcome_of,
    reference_only,
)
from portfolio.domain.gates import Gate, by_reference, together
from portfolio.domain.matching import (
    Compared,
    Compiled,
    compile_walls,
    explain_pair,
)
from portfolio.domain.measures import show_value
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.readings import ALL, read_walls
from portfolio.domain.rights import Right
from portfolio.domain.rules import RuleSet
from portfolio.domain.surveys import Fact, Survey, Wall
from portfolio.domain.values import NOT_APPLICABLE, Value
from portfolio.reference.loader import load_reference
from portfolio.services.coverage import library_of
from portfolio.services.gathering import GatheredZone, gather_zones
from portfolio.services.milder_words import side_of_difference
from portfolio.services.reliance import records_for, shown_in_full
from portfolio.services.rules.in_force import rules_for, shipped_rules
from portfolio.services.viewer import Viewer
from portfolio.services.wall_words import FROM_ITS_PART

WITHHELD = "not shown: reference and outcome only"
_SUBSTRATE = "wall.substrate"
_VERDICTS = ("covers", "assessable", "open", "apart", "failed")


@dataclass(frozen=True, slots=True)
class ComparisonRow:
    """One parameter of the zone against one test, in words. `own_rule` names the rule that allows
    it where it is not a shipped one."""

    parameter: str
    title: str
    zone_value: str
    test_value: str
    answer: str
    rule: str
    source: str
    own_rule: str
    provenance: str
    too_weak: bool
    is_decisive: bool
    side: str = ""
    """Of a difference from a failing test: whether the wall is milder in it, or none can say."""


@dataclass(frozen=True, slots=True)
class TestComparison:
    """One test against the zone: what it may be used for, and every parameter."""

    __test__ = False

    test: TestRecord
    test_id: int
    verdict: str
    outcome: Outcome
    gates: tuple[Gate, ...]
    rows: tuple[ComparisonRow, ...]

    def counted(self, answer: str) -> int:
        """How many parameters have this answer."""
        return sum(row.answer == answer for row in self.rows)


@dataclass(frozen=True, slots=True)
class Explanation:
    """A zone's coverage with everything behind it."""

    zone_id: int
    gathered: GatheredZone
    coverage: ZoneCoverage
    comparisons: tuple[TestComparison, ...]
    rule_version: str
    compared: int
    """With how many tests it was compared; `comparisons` may tell only the nearest of them."""

    @property
    def surveys(self) -> tuple[Survey, ...]:
        return self.gathered.surveys

    @property
    def wall(self) -> Wall:
        return self.gathered.wall


def find_zone(
    session: Session, viewer: Viewer, building_ref: str, zone_ref: str, owner: str = ""
) -> int:
    """The id of a zone by the references people use. Raises NotFoundError."""
    query = (
        sa.select(models.Zone.id)
        .join(models.Building)
        .join(models.Organisation)
        .where(models.Building.ref == building_ref, models.Zone.ref == zone_ref)
        .where(viewer.reads(models.Building.organisation_id, models.Building.id))
    )
    if owner:
        query = query.where(models.Organisation.ref == owner)
    found = session.scalars(query).all()
    if not found:
        raise NotFoundError(f'There is no zone "{zone_ref}" of a building "{building_ref}".')
    if len(found) > 1:
        raise NotFoundError(
            f'Several owners have a building "{building_ref}" with a zone "{zone_ref}": '
            "name the owner."
        )
    return found[0]


def explain(
    session: Session, viewer: Viewer, zone_id: int, on: date, *, also: Collection[str] = ()
) -> Explanation:
    """Compare one zone with the tests its stored coverage rests on, and with those of `also`.

    Raises NotFoundError.
    """
    stored = session.get(models.ZoneResult, zone_id)
    if stored is None:
        return explain_fully(session, viewer, zone_id, on)
    return _explain(session, viewer, zone_id, on, {*refs_behind(stored), *also})


def refs_behind(stored: models.ZoneResult) -> set[str]:
    """The tests that a stored coverage rests on, as the zone's owner knows them."""
    told = stored.details
    nearest = (found["test"] for found in told["nearest"])
    return {*nearest, *told["against"], *told["doubts"]}


def explain_fully(
    session: Session,
    viewer: Viewer,
    zone_id: int,
    on: date,
    *,
    most: int | None = None,
    also: Collection[str] = (),
) -> Explanation:
    """Compare one zone with every test its owner may see, and tell the nearest `most` of them.

    The tests that the coverage rests on, and those of `also`, are told in any case. Raises
    NotFoundError.
    """
    return _explain(session, viewer, zone_id, on, None, most=most, also=also)


def _explain(
    session: Session,
    viewer: Viewer,
    zone_id: int,
    on: date,
    refs: Collection[str] | None,
    *,
    most: int | None = None,
    also: Collection[str] = (),
) -> Explanation:
    zone = next(iter(gather_zones(session, shipped_rules(on), {zone_id})), None)
    if zone is None or not viewer.may(Right.READ, zone.organisation_id, zone.building_id):
        raise NotFoundError("There is no such zone.")
    tests = records_for(session, zone.organisation_id, on, refs)
    rules = rules_for(session, zone.organisation_id, on)
    library = library_of(list(tests.values()), {zone.setting}, rules)
    ids = {test.ref: test_id for test_id, test in tests.items()}
    shown = shown_in_full(session, viewer, on, list(tests))
    return explained_by(zone, library, ids, shown, most=most, also=also)


def verdict_of(
    zone: GatheredZone, tests: Mapping[int, TestRecord], test_id: int, rules: RuleSet
) -> str:
    """What one test says of a zone, gates and comparisons together; `tests` are it and what its
    gates ask of, by id, as the zone's owner sees them."""
    library = library_of(list(tests.values()), {zone.setting}, rules)
    compiled = compile_walls(
        read_walls([zone.wall]), library.compiled, rules, [zone.setting.jurisdiction]
    )
    records = library.compiled.records
    places = _places(compiled, zone, library)
    return next(p.verdict for p in places if records[p.index].ref == tests[test_id].ref)


def explained_by(
    zone: GatheredZone,
    library: Library,
    test_ids: Mapping[str, int],
    shown: Collection[int],
    *,
    most: int | None = None,
    also: Collection[str] = (),
) -> Explanation:
    """The zone compared with every test of a library; those not in `shown` without their walls.

    With `most` only the nearest are told, those that the coverage rests on, and those of `also`.
    """
    [coverage] = assess([ZoneCase(zone.wall, zone.setting)], library)
    tests = library.compiled
    compiled = compile_walls(
        read_walls([zone.wall]), tests, library.rules, [zone.setting.jurisdiction]
    )
    places = sorted(_places(compiled, zone, library), key=lambda place: place.order)
    told = {*(found.test for found in coverage.nearest), *coverage.tests, *also}
    comparisons = []
    for rank, place in enumerate(places):
        test = tests.records[place.index]
        if most is not None and rank >= most and test.ref not in told:
            continue
        compared = explain_pair(compiled, zone.wall, 0, place.index)
        rows = tuple(_row(row, zone.wall, test) for row in compared if means_something(row))
        found = TestComparison(
            test,
            test_ids[test.ref],
            place.verdict,
            outcome_of(test),
            library.gates[zone.setting][test.ref],
            rows,
        )
        comparisons.append(found if found.test_id in shown else _withheld(found))
    return Explanation(
        zone.zone_id, zone, coverage, tuple(comparisons), library.rules.version, len(places)
    )


def _withheld(found: TestComparison) -> TestComparison:
    """The comparison where only reference and outcome of the test may be shown.

    The answers stay, since the zone's owner must know what to find out; the tested values go, and
    so do reasons of gates that tell editions, papers or what else the report leans on.
    """
    rows = tuple(replace(row, test_value=WITHHELD, side="") for row in found.rows)
    shown = reference_only(found.test)
    gates = tuple(by_reference(gate, shown) for gate in found.gates)
    return replace(found, test=shown, gates=gates, rows=rows)


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a test stands among the others for one zone: the smaller `order`, the nearer."""

    index: int
    verdict: str
    order: tuple[int, int, int, int, str]


def _places(compiled: Compiled, zone: GatheredZone, library: Library) -> list[_Place]:
    """Every test's place, counted column by column: words are made for those that are told."""
    tests = compiled.tests
    every = np.arange(len(tests.records), dtype=np.int32)
    here = np.zeros_like(every)
    decisive, differs, unknown = np.zeros((3, len(every)), dtype=np.int16)
    unsure = np.zeros(len(every), dtype=np.bool_)
    for at, parameter in enumerate(ALL):
        answers = compiled.answers(at, here, every)
        counts = ~_mean_nothing(zone.wall.as_resolved(parameter.key), tests.columns[at])
        unsure |= answers == Answer.UNKNOWN
        unknown += (answers == Answer.UNKNOWN) & counts
        differs += (answers == Answer.DIFFERS) & counts
        decisive += (answers == Answer.DIFFERS) & parameter.is_decisive
    found = []
    for index, test in enumerate(tests.records):
        through = together(library.gates[zone.setting][test.ref])
        apart, told = int(decisive[index]), int(differs[index])
        verdict = _verdict(
            test, through, apart=apart > 0, unsure=bool(unsure[index]), differs=told > 0
        )
        # a failing test stands with the passing ones that are as near
        usable = 3 if apart or verdict == "apart" else min(_VERDICTS.index(verdict), 2)
        order = usable, apart, told, int(unknown[index]), test.ref
        found.append(_Place(index, verdict, order))
    return found


def _verdict(
    test: TestRecord, through: Answer3, *, apart: bool, unsure: bool, differs: bool
) -> str:
    """What the test says of the wall, gates and comparisons together."""
    if outcome_of(test) is Outcome.FAILED:
        return "failed"
    if apart or through is Answer3.NOT_MET:
        return "apart"
    if unsure or through is Answer3.UNKNOWN:
        return "open"
    return "assessable" if differs or test.kind is EvidenceKind.ASSESSMENT else "covers"


def _mean_nothing(zone_value: Value, tests: Column) -> Bools:
    """For which tests neither wall has the layer, and nobody doubts it."""
    absent = np.array([value is NOT_APPLICABLE for value in tests.uniques], dtype=np.bool_)
    return np.array(absent[tests.codes] & (zone_value is NOT_APPLICABLE), dtype=np.bool_)


def _row(row: Compared, wall: Wall, test: TestRecord) -> ComparisonRow:
    parameter = PARAMETERS[row.parameter]
    taken = row.parameter == _SUBSTRATE and test.substrate_from_part
    fact = wall.facts.get(row.parameter)
    return ComparisonRow(
        row.parameter,
        parameter.title,
        value_text(row.parameter, row.zone_value),
        value_text(row.parameter, row.test_value) + (FROM_ITS_PART if taken else ""),
        row.answer.word,
        row.rule.id if row.rule else "",
        row.rule.authority if row.rule else "",
        row.rule.name if row.rule and row.rule.is_own else "",
        provenance(fact) + (", not enough to lean on" if row.too_weak else ""),
        row.too_weak,
        parameter.is_decisive,
        side_of_difference(row.parameter, wall, row.test_value)
        if row.answer is Answer.DIFFERS and outcome_of(test) is Outcome.FAILED
        else "",
    )


def value_text(parameter: str, value: Value) -> str:
    """A parameter's value for a reader."""
    return show_value(PARAMETERS[parameter].attribute, value, load_reference().vocabulary)


def provenance(fact: Fact | None) -> str:
    """Where a fact comes from: basis, date, survey, and whether surveys disagree on it."""
    if fact is None:
        return "no survey says"
    survey = fact.claim.survey
    text = f"{survey.basis.label}, {survey.on.isoformat()}, survey {survey.ref}"
    if fact.in_conflict:
        against = ", ".join(claim.survey.ref for claim in fact.in_conflict)
        text += f"; in conflict with {against}"
    if fact.said_since:
        said = ", ".join(f"{c.survey.basis.label} {c.survey.ref}" for c in fact.said_since)
        text += f"; said otherwise since, by a weaker source: {said}"
    if fact.settlement is not None:
        text += f"; settled by {fact.settlement.by}, {fact.settlement.on.isoformat()}"
    return text

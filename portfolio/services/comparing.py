"""Compares any zone or test with any other, line by line, with where each value comes from.

Who compares sees what their other pages show: zones that they read, tests that they see; beside a
zone a test that the zone's owner may lean on. Where only reference and outcome of a test may be
shown no line is told, since whoever knows the other wall would read the tested one off the answers:
only, beside a zone, what the test says of it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from portfolio.domain.comparing import Likeness, compare_walls, likeness, wall_as_tested
from portfolio.domain.errors import NotFoundError
from portfolio.domain.evidence import Outcome, TestRecord, outcome_of
from portfolio.domain.matching import Compared
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.rights import Right
from portfolio.domain.rules import RuleSet
from portfolio.domain.surveys import Wall
from portfolio.domain.values import UNKNOWN, Value
from portfolio.services.compared_documents import Paper, papers_of_test, papers_of_zone
from portfolio.services.evidence import find_test
from portfolio.services.explaining import WITHHELD, provenance, value_text, verdict_of
from portfolio.services.gathering import GatheredZone, gather_zones
from portfolio.services.references import TEST_MARK, Kind, Thing
from portfolio.services.reliance import (
    known_tests,
    names_for,
    records_for,
    shown_in_full,
    with_a_page,
)
from portfolio.services.route_words import told_route
from portfolio.services.rules.in_force import rules_for, shipped_rules
from portfolio.services.viewer import Viewer
from portfolio.services.wall_drawings import DrawnSection, draw_pair
from portfolio.services.wall_words import FROM_ITS_PART

_SUBSTRATE = "wall.substrate"


@dataclass(frozen=True, slots=True)
class Side:
    """One of the two: `name` within a sentence, `ref` as a command takes it. `outcome` is a
    test's. Where `is_shown` is not set, nothing but reference and outcome may be told."""

    thing: Thing
    name: str
    ref: str
    about: str
    outcome: Outcome | None
    is_shown: bool
    has_page: bool
    substrate_from_part: bool
    wall: Wall
    papers: Mapping[str, tuple[Paper, ...]]


@dataclass(frozen=True, slots=True)
class Told:
    """One side of a line: the value in words, where it comes from, and what supports that."""

    value: str
    source: str
    papers: tuple[Paper, ...]


@dataclass(frozen=True, slots=True)
class Line:
    """One parameter of the two walls."""

    parameter: str
    title: str
    left: Told
    right: Told
    answer: str
    rule: str
    rule_source: str
    is_decisive: bool


@dataclass(frozen=True, slots=True)
class ComparedWalls:
    """The two walls where all of both may be shown."""

    lines: tuple[Line, ...]
    likeness: Likeness
    section: DrawnSection


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two walls line by line, differences first; none of it where of a test only reference and
    outcome may be told. `verdict` is what a test says of a zone, as the zone's page has it; empty
    where two zones or two tests are compared, and so is `route`."""

    left: Side
    right: Side
    walls: ComparedWalls | None
    rule_version: str
    verdict: str
    route: str
    """Which route was applied to the zone, and why, where a zone stands beside a test."""

    @property
    def lines(self) -> tuple[Line, ...]:
        """The lines that may be told."""
        return self.walls.lines if self.walls else ()

    @property
    def in_words(self) -> str:
        """What the comparison comes to in a sentence, or why it is not told."""
        if self.walls is not None:
            return self.walls.likeness.in_words
        kept = " and ".join(side.name for side in (self.left, self.right) if not side.is_shown)
        return (
            f"Only reference and outcome of {kept} may be shown to your organisation: "
            "the walls are not compared line by line."
        )

    def with_answer(self, *answers: str) -> tuple[Line, ...]:
        """The lines that have one of these answers."""
        return tuple(line for line in self.lines if line.answer in answers)


def compare(session: Session, viewer: Viewer, left: Thing, right: Thing, on: date) -> Comparison:
    """The two walls beside each other.

    Raises NotFoundError, alike for what is not there and what the viewer may not compare.
    """
    zones = _zones(session, viewer, [left, right], shipped_rules(on))
    tests = _tests(session, viewer, [left, right], zones, on)
    rules = _rules(session, zones, tests, on)
    first, second = (
        _zone_side(session, viewer, zones[thing.id], on)
        if thing.kind is Kind.ZONE
        else _test_side(session, viewer, thing.id, tests[thing.id], on)
        for thing in (left, right)
    )
    is_shown = first.is_shown and second.is_shown
    return Comparison(
        first,
        second,
        _compared(first, second, rules, zones) if is_shown else None,
        rules.version,
        _verdict(left if left.kind is Kind.TEST else right, zones, tests, rules),
        told_route(next(iter(zones.values())), on).sentence if zones and tests else "",
    )


def _rules(
    session: Session, zones: Mapping[int, GatheredZone], tests: Mapping[int, TestRecord], on: date
) -> RuleSet:
    """A zone beside a test goes by the rules of the zone's owner; two of a kind go by the
    shipped ones, which favour neither."""
    if zones and tests:
        [zone] = zones.values()
        return rules_for(session, zone.organisation_id, on)
    return shipped_rules(on)


def _compared(
    left: Side, right: Side, rules: RuleSet, zones: Mapping[int, GatheredZone]
) -> ComparedWalls:
    if right.thing.kind is Kind.ZONE and left.thing.kind is Kind.TEST:
        # a rule asks how a zone differs from a test, never the other way round
        place = zones[right.thing.id].setting.jurisdiction
        found = tuple(
            replace(row, zone_value=row.test_value, test_value=row.zone_value)
            for row in compare_walls(right.wall, left.wall, rules, place)
        )
    else:
        stands = zones.get(left.thing.id) if left.thing.kind is Kind.ZONE else None
        place = stands.setting.jurisdiction if stands else ""
        found = compare_walls(left.wall, right.wall, rules, place)
    lines = tuple(_line(row, left, right) for row in found)
    return ComparedWalls(lines, likeness(found), _section(left, right, found))


def comparison_fields(found: Comparison) -> dict[str, Any]:
    """The comparison as plain data, for scripts."""
    return {
        "left": found.left.ref,
        "right": found.right.ref,
        "sentence": found.in_words,
        "verdict": found.verdict,
        "route": found.route,
        "rule_version": found.rule_version,
        "comparisons": [
            {
                "parameter": line.parameter,
                "left_value": line.left.value,
                "right_value": line.right.value,
                "answer": line.answer,
                "rule": line.rule,
                "source": line.rule_source,
                "left_source": line.left.source,
                "right_source": line.right.source,
                "decisive": line.is_decisive,
            }
            for line in found.lines
        ],
    }


def _zones(
    session: Session, viewer: Viewer, things: Sequence[Thing], rules: RuleSet
) -> dict[int, GatheredZone]:
    wanted = {thing.id for thing in things if thing.kind is Kind.ZONE}
    found = {
        zone.zone_id: zone
        for zone in (gather_zones(session, rules, wanted) if wanted else ())
        if viewer.may(Right.READ, zone.organisation_id, zone.building_id)
    }
    if found.keys() != wanted:
        raise NotFoundError("There is no such zone.")
    return found


def _tests(
    session: Session,
    viewer: Viewer,
    things: Sequence[Thing],
    zones: Mapping[int, GatheredZone],
    on: date,
) -> dict[int, TestRecord]:
    """The tests by id: beside a zone as its owner sees them, with what their gates ask of, else as
    the viewer does."""
    wanted = [thing.id for thing in things if thing.kind is Kind.TEST]
    if not wanted:
        return {}
    if zones:
        [zone], [test_id] = zones.values(), wanted
        owner = zone.organisation_id
        name = known_tests(session, owner, on).names.get(test_id)
        if name is None:
            raise NotFoundError("There is no such test.")
        return records_for(session, owner, on, {name})
    known = names_for(session, viewer, on)
    found = {}
    for test_id in wanted:
        if (one := find_test(session, viewer, test_id, on)) is None:
            raise NotFoundError("There is no such test.")
        found[test_id] = one.seen.record(known)
    return found


def _zone_side(session: Session, viewer: Viewer, zone: GatheredZone, on: date) -> Side:
    building = zone.building
    return Side(
        Thing(Kind.ZONE, zone.zone_id),
        f"zone {zone.zone.ref} of {building.name or building.ref}",
        f"{building.ref}/{zone.zone.ref}",
        zone.zone.description,
        None,
        is_shown=True,
        has_page=True,
        substrate_from_part=False,
        wall=zone.wall,
        papers=papers_of_zone(session, viewer, zone.zone_id, zone.wall, on),
    )


def _test_side(session: Session, viewer: Viewer, test_id: int, test: TestRecord, on: date) -> Side:
    is_shown = test_id in shown_in_full(session, viewer, on, [test_id])
    return Side(
        Thing(Kind.TEST, test_id),
        f"test {test.ref}",
        f"{TEST_MARK}{test.ref}",
        test.title if is_shown else WITHHELD,
        outcome_of(test),
        is_shown,
        has_page=bool(with_a_page(session, viewer, on, [test_id])),
        substrate_from_part=test.substrate_from_part,
        wall=wall_as_tested(test),
        papers=papers_of_test(session, viewer, test_id, test.build_up, on) if is_shown else {},
    )


def _line(row: Compared, left: Side, right: Side) -> Line:
    return Line(
        row.parameter,
        PARAMETERS[row.parameter].title,
        _told(left, row, row.zone_value),
        _told(right, row, row.test_value),
        row.answer.word,
        row.rule.id if row.rule else "",
        row.rule.authority if row.rule else "",
        PARAMETERS[row.parameter].is_decisive,
    )


def _told(side: Side, row: Compared, value: Value) -> Told:
    text = value_text(row.parameter, value)
    papers = side.papers.get(row.parameter, ())
    if side.thing.kind is Kind.TEST:
        from_part = side.substrate_from_part and row.parameter == _SUBSTRATE
        return Told(
            text + (FROM_ITS_PART if from_part else ""), f"the record of {side.name}", papers
        )
    is_weak = value is not UNKNOWN and side.wall.as_relied_on(row.parameter) is UNKNOWN
    source = provenance(side.wall.facts.get(row.parameter))
    return Told(
        text, source + (", not enough to lean on" if is_weak and row.too_weak else ""), papers
    )


def _section(left: Side, right: Side, compared: Sequence[Compared]) -> DrawnSection:
    return draw_pair(
        _drawn(left),
        _drawn(right),
        (_named(left), _named(right)),
        {row.parameter: row.answer.word for row in compared},
        id_prefix="walls",
        sides=_short(left, right),
    )


def _drawn(side: Side) -> dict[str, Value]:
    return {key: fact.value for key, fact in side.wall.facts.items()}


def _named(side: Side) -> str:
    known = ", as far as known" if side.thing.kind is Kind.ZONE else ""
    return side.name[0].upper() + side.name[1:] + known


def _short(left: Side, right: Side) -> tuple[str, str]:
    """What tells the two apart in a few letters: what they are, or where they are drawn."""
    kinds = left.thing.kind, right.thing.kind
    return (kinds[0].value, kinds[1].value) if kinds[0] is not kinds[1] else ("above", "below")


def _verdict(
    test: Thing,
    zones: Mapping[int, GatheredZone],
    tests: Mapping[int, TestRecord],
    rules: RuleSet,
) -> str:
    """What the one test says of the one zone, gates included."""
    if not (zones and tests):
        return ""
    [zone] = zones.values()
    return verdict_of(zone, tests, test.id, rules)

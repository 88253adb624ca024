"""Compares any zone or test with any other, line by line, with where each value comes from.

Who compares sees what their other pages show: zones that they read, tests that they see; beside a
zone a test that the zone's owner may lean on. Of a test of which only reference and outcome may be
shown the answers stay, and everything that its report says goes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from portfolio.db import models
from portfolio.domain.comparing import Likeness, compare_walls, likeness, wall_as_tested
from portfolio.domain.errors import NotFoundError
from portfolio.domain.evidence import Outcome, outcome_of
from portfolio.domain.matching import Compared
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.rights import Right
from portfolio.domain.rules import RuleSet, rules_in_force
from portfolio.domain.surveys import Wall
from portfolio.domain.values import UNKNOWN, Value
from portfolio.reference.loader import load_reference
from portfolio.services.compared_documents import Paper, papers_of_test, papers_of_zone
from portfolio.services.evidence import find_test
from portfolio.services.explaining import WITHHELD, provenance, value_text, verdict_of
from portfolio.services.gathering import GatheredZone, gather_zones
from portfolio.services.references import TEST_MARK, Kind, Thing
from portfolio.services.reliance import Seen, seen_tests, shown_in_full, with_a_page
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
class Comparison:
    """Two walls line by line, differences first. `verdict` is what a test says of a zone, as the
    zone's page has it; empty where two zones or two tests are compared."""

    left: Side
    right: Side
    lines: tuple[Line, ...]
    likeness: Likeness
    section: DrawnSection
    rule_version: str
    verdict: str

    def with_answer(self, *answers: str) -> tuple[Line, ...]:
        """The lines that have one of these answers."""
        return tuple(line for line in self.lines if line.answer in answers)


def compare(session: Session, viewer: Viewer, left: Thing, right: Thing, on: date) -> Comparison:
    """The two walls beside each other.

    Raises NotFoundError, alike for what is not there and what the viewer may not compare.
    """
    rules = rules_in_force(load_reference().rules, on)
    zones = _zones(session, viewer, [left, right], rules)
    tests = _tests(session, viewer, [left, right], zones, on)
    sides = [
        _zone_side(session, viewer, zones[thing.id], on)
        if thing.kind is Kind.ZONE
        else _test_side(session, viewer, tests[thing.id], on)
        for thing in (left, right)
    ]
    compared = compare_walls(sides[0].wall, sides[1].wall, rules)
    return Comparison(
        sides[0],
        sides[1],
        tuple(_line(row, sides[0], sides[1]) for row in compared),
        likeness(compared),
        _section(sides[0], sides[1], compared),
        rules.version,
        _verdict(session, zones, tests, rules),
    )


def comparison_fields(found: Comparison) -> dict[str, Any]:
    """The comparison as plain data, for scripts."""
    return {
        "left": found.left.ref,
        "right": found.right.ref,
        "sentence": found.likeness.in_words,
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
) -> dict[int, Seen]:
    """The tests: as the zone's owner sees them beside a zone, else as the viewer does."""
    found = {}
    for thing in (thing for thing in things if thing.kind is Kind.TEST):
        seen = None
        if zones:
            [zone] = zones.values()
            seen = _seen_by_owner(session, zone, thing.id, on)
        elif (one := find_test(session, viewer, thing.id, on)) is not None:
            seen = one.seen
        if seen is None:
            raise NotFoundError("There is no such test.")
        found[thing.id] = seen
    return found


def _seen_by_owner(session: Session, zone: GatheredZone, test_id: int, on: date) -> Seen | None:
    """The test, if it is the one that the zone's owner means by its reference."""
    row = session.get(models.TestRecord, test_id)
    if row is None:
        return None
    seen = seen_tests(session, zone.organisation_id, on, {row.ref}).get(row.ref)
    return seen if seen is not None and seen.row.id == test_id else None


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


def _test_side(session: Session, viewer: Viewer, seen: Seen, on: date) -> Side:
    test = seen.record()
    is_shown = seen.row.id in shown_in_full(session, viewer, on, [seen.row.id])
    return Side(
        Thing(Kind.TEST, seen.row.id),
        f"test {test.ref}",
        f"{TEST_MARK}{test.ref}",
        test.title if is_shown else WITHHELD,
        outcome_of(test),
        is_shown,
        has_page=bool(with_a_page(session, viewer, on, [seen.row.id])),
        substrate_from_part=test.substrate_from_part,
        wall=wall_as_tested(test),
        papers=papers_of_test(session, viewer, seen.row.id, test.build_up, on) if is_shown else {},
    )


def _line(row: Compared, left: Side, right: Side) -> Line:
    return Line(
        row.parameter,
        PARAMETERS[row.parameter].title,
        _told(left, row, row.zone_value),
        _told(right, row, row.test_value),
        row.answer.word,
        row.rule,
        row.source,
        PARAMETERS[row.parameter].is_decisive,
    )


def _told(side: Side, row: Compared, value: Value) -> Told:
    if not side.is_shown:
        return Told(WITHHELD, f"the record of {side.name}", ())
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
    """What may be drawn of a wall: nothing where only reference and outcome may be shown."""
    if not side.is_shown:
        return {}
    return {key: fact.value for key, fact in side.wall.facts.items()}


def _named(side: Side) -> str:
    known = ", as far as known" if side.thing.kind is Kind.ZONE else ""
    return side.name[0].upper() + side.name[1:] + known


def _short(left: Side, right: Side) -> tuple[str, str]:
    """What tells the two apart in a few letters: what they are, or where they are drawn."""
    kinds = left.thing.kind, right.thing.kind
    return (kinds[0].value, kinds[1].value) if kinds[0] is not kinds[1] else ("above", "below")


def _verdict(
    session: Session,
    zones: Mapping[int, GatheredZone],
    tests: Mapping[int, Seen],
    rules: RuleSet,
) -> str:
    """What the one test says of the one zone, gates included."""
    if not (zones and tests):
        return ""
    [zone], [seen] = zones.values(), tests.values()
    return verdict_of(session, zone, seen.row.ref, rules)

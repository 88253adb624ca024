"""Stores what was computed of zones, and throws it away: results are derived, all of them."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping, Sequence

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import mapping, models
from portfolio.db.bulk import Rows, insert_rows
from portfolio.db.results import ZoneSettling, ZoneTest
from portfolio.domain.composites import combustible_composite
from portfolio.domain.coverage import Coverage, ZoneCoverage
from portfolio.domain.demand import wall_key
from portfolio.domain.leaning import tests_named
from portfolio.domain.measures import show_value
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.priorities import Gap, position_after, reasons, steps_of
from portfolio.domain.rules import RuleSet
from portfolio.domain.surveys import Wall
from portfolio.domain.values import OneOf
from portfolio.reference.loader import Reference, load_reference
from portfolio.services.gathering import GatheredZone
from portfolio.services.reliance import known_tests
from portfolio.services.stored import batches
from portfolio.services.totals import NO_GAP, forget_totals

_RESULT = (
    "zone_id",
    "building_id",
    "organisation_id",
    "coverage",
    "by_inference",
    "covered_too",
    "is_gap",
    "has_conflict",
    "position",
    "details",
    "wall_key",
    "wall_text",
    "metal_composite",
    "computed_on",
    "rule_version",
)
_ZONE_TEST = ("zone_id", "test_id", "way", "building_id", "organisation_id")
_WALL_WORDS = ("facing.1.material", "facing.1.core_category", "insulation.1.material")


def forget_results(session: Session) -> None:
    """Throw away everything computed; `refresh` makes it again."""
    forget_zones(session, None)
    forget_totals(session)


def forget_zones(session: Session, zone_ids: Collection[int] | None) -> None:
    for kind in (ZoneSettling, ZoneTest, models.ZoneResult):
        if zone_ids is None:
            session.execute(sa.delete(kind))
            continue
        for batch in batches(zone_ids):
            session.execute(sa.delete(kind).where(kind.zone_id.in_(batch)))


def store_zones(
    session: Session,
    zones: Sequence[GatheredZone],
    found: Sequence[ZoneCoverage],
    rules: RuleSet,
) -> None:
    words = _Words(load_reference())
    rows: Rows = []
    for zone, coverage in zip(zones, found, strict=True):
        is_gap = coverage.coverage.is_gap
        place, why = words.placed(zone, coverage)
        alike, text = words.wall(zone.wall)
        rows.append(
            (
                zone.zone_id,
                zone.building_id,
                zone.organisation_id,
                coverage.coverage,
                coverage.by_inference,
                coverage.covered_too,
                is_gap,
                bool(coverage.conflicts),
                place if is_gap else NO_GAP + place,
                words.details(coverage, why),
                alike,
                text,
                combustible_composite(zone.wall),
                rules.on,
                rules.version,
            )
        )
    insert_rows(session, models.ZoneResult, _RESULT, rows)
    if zones:
        ids = known_tests(session, zones[0].organisation_id, rules.on).ids
        insert_rows(session, ZoneTest, _ZONE_TEST, _tests_of(zones, found, ids))


class _Words:
    """What is alike for many zones, said once: a wall's words, what its coverage rests on, and how
    the order places a gap. Walls and coverages are known by identity: equal ones are shared."""

    def __init__(self, reference: Reference) -> None:
        self._reference = reference
        self._walls: dict[int, tuple[str, str]] = {}
        self._details: dict[int, str] = {}
        self._steps: dict[tuple[int, Coverage, bool], tuple[str, str]] = {}

    def wall(self, wall: Wall) -> tuple[str, str]:
        """The wall's key and its text."""
        if id(wall) not in self._walls:
            self._walls[id(wall)] = wall_key(wall), wall_in_words(wall, self._reference)
        return self._walls[id(wall)]

    def details(self, coverage: ZoneCoverage, why: str) -> str:
        """What lists show of the coverage, and why it has its place, as JSON."""
        if id(coverage) not in self._details:
            self._details[id(coverage)] = json.dumps(mapping.result_details(coverage))[:-1]
        return f'{self._details[id(coverage)]}, "reasons": {why}}}'

    def placed(self, zone: GatheredZone, coverage: ZoneCoverage) -> tuple[str, str]:
        """The zone's position, and its reasons as JSON; the steps ask of a zone only its
        coverage."""
        gap = Gap(zone.building, zone.zone, coverage)
        key = zone.building_id, coverage.coverage, coverage.by_inference
        if key not in self._steps:
            order = self._reference.order
            texts = [reason.text for reason in reasons(gap, order)]
            self._steps[key] = steps_of(gap, order), json.dumps(texts)
        steps, why = self._steps[key]
        return position_after(steps, gap), why


def _tests_of(
    zones: Sequence[GatheredZone], found: Sequence[ZoneCoverage], ids: Mapping[str, int]
) -> Rows:
    """The tests that bear on each zone, as the records that its owner means by them."""
    named = {
        key: [(ids[ref], way) for ref, way in tests_named(coverage)]
        for key, coverage in {id(coverage): coverage for coverage in found}.items()
    }
    return [
        (zone.zone_id, test_id, way, zone.building_id, zone.organisation_id)
        for zone, coverage in zip(zones, found, strict=True)
        for test_id, way in named[id(coverage)]
    ]


def wall_in_words(wall: Wall, reference: Reference) -> str:
    """Facing, core and insulation in a line, as the strongest source has them."""
    words = []
    for key in _WALL_WORDS:
        attribute = PARAMETERS[key].attribute
        value = wall.as_resolved(key)
        if isinstance(value, OneOf):
            words.append(show_value(attribute, value, reference.vocabulary))
        elif key.endswith("material"):
            words.append(f"{key.split('.')[0]} unknown")
    return ", ".join(words)

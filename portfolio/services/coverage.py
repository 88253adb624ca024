"""Computes coverage and the order of gaps, for the zones that a change touched or for all."""

from __future__ import annotations

import gc
import json
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload, selectinload

from portfolio.db import mapping, models
from portfolio.db.results import ZoneTest
from portfolio.domain.buildings import Building, Zone
from portfolio.domain.coverage import Coverage, Library, ZoneCase, ZoneCoverage, assess
from portfolio.domain.demand import wall_key
from portfolio.domain.evidence import TestRecord
from portfolio.domain.gates import Gate, gates, what_stands
from portfolio.domain.leaning import tests_named
from portfolio.domain.measures import show_value
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.priorities import Gap, position_after, reasons, steps_of
from portfolio.domain.rules import RuleSet, rules_in_force
from portfolio.domain.surveys import Settlement, Survey, Wall, resolve
from portfolio.domain.values import OneOf
from portfolio.domain.walls import BuildUp
from portfolio.reference.loader import Reference, load_reference
from portfolio.services.reliance import tests_for, visible_tests
from portfolio.services.stored import batches
from portfolio.services.totals import NO_GAP, forget_totals, insert_plain, insert_rows, renew_totals

_WALL_WORDS = ("facing.1.material", "facing.1.core_category", "insulation.1.material")
_BATCH = 500

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class GatheredZone:
    """One zone with its building and wall, as the domain knows them."""

    zone_id: int
    building_id: int
    organisation_id: int
    building: Building
    zone: Zone
    wall: Wall
    surveys: tuple[Survey, ...]

    @property
    def group(self) -> str:
        """The gates depend on who relies and on where the building stands."""
        return self.building.jurisdiction


def refresh(
    session: Session,
    on: date,
    *,
    zone_ids: Collection[int] | None = None,
    progress: Progress | None = None,
) -> int:
    """Compute and store the coverage of the given zones, or of all; returns how many.

    `progress` is called with zones done and zones in all.
    """
    with _no_garbage_collection():
        return _refresh(session, on, zone_ids, progress)


@contextmanager
def _no_garbage_collection() -> Iterator[None]:
    """Millions of small records live at once here, none in cycles: looking for garbage among
    them takes as long as the work itself."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _refresh(
    session: Session, on: date, zone_ids: Collection[int] | None, progress: Progress | None
) -> int:
    rules = rules_in_force(load_reference().rules, on)
    gathered = gather_zones(session, rules, zone_ids)
    by_organisation: dict[int, list[GatheredZone]] = {}
    for zone in gathered:
        by_organisation.setdefault(zone.organisation_id, []).append(zone)
    _forget(session, zone_ids)
    done = 0
    for organisation_id, zones in sorted(by_organisation.items()):
        library = library_for(session, organisation_id, {z.group for z in zones}, rules)
        found = assess([ZoneCase(str(z.zone_id), z.wall, z.group) for z in zones], library)
        _store(session, zones, found, rules)
        done += len(zones)
        if progress is not None:
            progress(done, len(gathered))
    refresh_buildings(session, {zone.building_id for zone in gathered} if zone_ids else None)
    return len(gathered)


def gather_zones(
    session: Session, rules: RuleSet, zone_ids: Collection[int] | None = None
) -> list[GatheredZone]:
    """The zones with their resolved walls, in the order of their ids."""
    surveys = _surveys(session, zone_ids)
    settlements = _settlements(session, zone_ids)
    buildings = _buildings(session, zone_ids)
    tolerances = rules.tolerances()
    # a wall seen alike in many zones is resolved once, and shared, since it never changes
    walls: dict[Any, Wall] = {}
    table = models.Zone.__table__
    query = sa.select(table).order_by(table.c.id)
    found = []
    for row in _chosen_rows(session, query, table.c.id, zone_ids):
        organisation_id, building = buildings[row.building_id]
        told = tuple(surveys.get(row.id, ()))
        ruled = tuple(settlements.get(row.id, ()))
        seen = tuple(id(survey) for survey in told), ruled
        if (wall := walls.get(seen)) is None:
            wall = walls[seen] = resolve(told, ruled, tolerances)
        zone = mapping.zone_of(row, building.ref)
        found.append(
            GatheredZone(row.id, row.building_id, organisation_id, building, zone, wall, told)
        )
    return found


def library_for(
    session: Session,
    organisation_id: int,
    jurisdictions: Iterable[str],
    rules: RuleSet,
    *,
    refs: Collection[str] | None = None,
) -> Library:
    """The evidence that an organisation may see, with its gates for each jurisdiction.

    `refs` keeps it to some tests, and to those that they lean on.
    """
    return library_of(tests_for(session, organisation_id, rules.on, refs), jurisdictions, rules)


def library_of(
    tests: Sequence[TestRecord], jurisdictions: Iterable[str], rules: RuleSet
) -> Library:
    """The tests with their gates for each jurisdiction on the rules' day."""
    reference = load_reference()
    known = what_stands(tests)
    by_jurisdiction: dict[str, dict[str, tuple[Gate, ...]]] = {
        jurisdiction: {
            test.ref: gates(
                test,
                pairings=reference.pairings,
                routes=reference.routes,
                jurisdiction=jurisdiction,
                on=rules.on,
                standing_outcomes=known,
            )
            for test in tests
        }
        for jurisdiction in jurisdictions
    }
    return Library(tests, by_jurisdiction, rules, reference.judge)


def test_ids(session: Session, organisation_id: int) -> dict[str, int]:
    """The ids of the tests that an organisation sees, by the references it knows them by."""
    visible = visible_tests(organisation_id)
    rows = session.execute(visible.with_only_columns(models.TestRecord.ref, models.TestRecord.id))
    return {row.ref: row.id for row in rows}


def _surveys(session: Session, zone_ids: Collection[int] | None) -> dict[int, list[Survey]]:
    """Surveys by zone. Two that say the same on the same authority are one and the same here."""
    vocabulary = load_reference().vocabulary
    found: dict[int, list[Survey]] = {}
    told = models.Survey
    build_ups: dict[str, BuildUp] = {}
    surveys: dict[tuple[Any, ...], Survey] = {}
    text = sa.cast(told.build_up, sa.Text).label("text")
    query = sa.select(told.zone_id, told.ref, told.basis, told.on, told.source, text)
    for zone_id, *facts, wall in _chosen_rows(
        session, query.order_by(told.id), told.zone_id, zone_ids
    ):
        key = (*facts, wall)
        if (survey := surveys.get(key)) is None:
            if (build_up := build_ups.get(wall)) is None:
                build_up = mapping.build_up_from_json(json.loads(wall), vocabulary)
                build_ups[wall] = build_up
            ref, basis, on, source = facts
            survey = surveys[key] = Survey(ref, basis, on, source, build_up)
        found.setdefault(zone_id, []).append(survey)
    return found


def _settlements(session: Session, zone_ids: Collection[int] | None) -> dict[int, list[Settlement]]:
    found: dict[int, list[Settlement]] = {}
    query = sa.select(models.Settlement)
    for row in _chosen(session, query, models.Settlement.zone_id, zone_ids):
        found.setdefault(row.zone_id, []).append(mapping.settlement_of(row))
    return found


def _buildings(
    session: Session, zone_ids: Collection[int] | None
) -> dict[int, tuple[int, Building]]:
    query = sa.select(models.Building).options(
        selectinload(models.Building.heights), joinedload(models.Building.organisation)
    )
    if zone_ids is None:
        rows: Iterable[models.Building] = session.scalars(query)
    else:
        held = sa.select(models.Zone.building_id)
        ids = _chosen(session, held, models.Zone.id, zone_ids)
        rows = _chosen(session, query, models.Building.id, set(ids))
    return {
        row.id: (row.organisation_id, mapping.building_of(row, row.organisation.ref))
        for row in rows
    }


def _chosen(
    session: Session, query: Any, column: Any, ids: Collection[int] | None
) -> Iterable[Any]:
    """The things that a query finds, kept to some ids."""
    return (row[0] for row in _chosen_rows(session, query, column, ids))


def _chosen_rows(
    session: Session, query: Any, column: Any, ids: Collection[int] | None
) -> Iterable[Any]:
    """The rows of a query, kept to some ids in batches that both databases accept."""
    if ids is None:
        return session.execute(query)
    ordered = sorted(ids)
    batches = (ordered[i : i + _BATCH] for i in range(0, len(ordered), _BATCH))
    return [row for batch in batches for row in session.execute(query.where(column.in_(batch)))]


def forget_results(session: Session) -> None:
    """Throw away everything computed; `refresh` makes it again."""
    _forget(session, None)
    forget_totals(session)


def _forget(session: Session, zone_ids: Collection[int] | None) -> None:
    for kind in (ZoneTest, models.ZoneResult):
        if zone_ids is None:
            session.execute(sa.delete(kind))
            continue
        for batch in batches(zone_ids):
            session.execute(sa.delete(kind).where(kind.zone_id.in_(batch)))


def _store(
    session: Session,
    zones: Sequence[GatheredZone],
    found: Sequence[ZoneCoverage],
    rules: RuleSet,
) -> None:
    words = _Words(load_reference())
    rows = []
    for zone, coverage in zip(zones, found, strict=True):
        is_gap = coverage.coverage.is_gap
        place, why = words.placed(zone, coverage)
        alike, text = words.wall(zone.wall)
        rows.append(
            {
                "zone_id": zone.zone_id,
                "building_id": zone.building_id,
                "organisation_id": zone.organisation_id,
                "coverage": coverage.coverage,
                "by_inference": coverage.by_inference,
                "covered_too": coverage.covered_too,
                "is_gap": is_gap,
                "has_conflict": bool(coverage.conflicts),
                "position": place if is_gap else NO_GAP + place,
                "details": mapping.result_details(coverage) | {"reasons": why},
                "wall_key": alike,
                "wall_text": text,
                "computed_on": rules.on,
                "rule_version": rules.version,
            }
        )
    insert_rows(session, models.ZoneResult, rows)
    if zones:
        ids = test_ids(session, zones[0].organisation_id)
        insert_plain(session, ZoneTest, _tests_of(zones, found, ids))


class _Words:
    """What is alike for many zones, said once: a wall's words, and how the order places a gap."""

    def __init__(self, reference: Reference) -> None:
        self._reference = reference
        self._walls: dict[int, tuple[str, str]] = {}
        self._steps: dict[tuple[int, Coverage, bool], tuple[str, list[str]]] = {}

    def wall(self, wall: Wall) -> tuple[str, str]:
        """The wall's key and its text."""
        if id(wall) not in self._walls:
            self._walls[id(wall)] = wall_key(wall), wall_in_words(wall, self._reference)
        return self._walls[id(wall)]

    def placed(self, zone: GatheredZone, coverage: ZoneCoverage) -> tuple[str, list[str]]:
        """The zone's position and its reasons; the steps ask of a zone only its coverage."""
        gap = Gap(zone.building, zone.zone, coverage)
        key = zone.building_id, coverage.coverage, coverage.by_inference
        if key not in self._steps:
            order = self._reference.order
            texts = [reason.text for reason in reasons(gap, order)]
            self._steps[key] = steps_of(gap, order), texts
        steps, texts = self._steps[key]
        return position_after(steps, gap), texts


def _tests_of(
    zones: Sequence[GatheredZone], found: Sequence[ZoneCoverage], ids: Mapping[str, int]
) -> list[dict[str, Any]]:
    """The tests that bear on each zone, as the records that its owner means by them."""
    return [
        {
            "zone_id": zone.zone_id,
            "test_id": ids[ref],
            "way": way.value,
            "building_id": zone.building_id,
            "organisation_id": zone.organisation_id,
        }
        for zone, coverage in zip(zones, found, strict=True)
        for ref, way in tests_named(coverage)
    ]


def refresh_buildings(session: Session, building_ids: Collection[int] | None = None) -> None:
    """Make the totals of some buildings, or of all, anew."""
    renew_totals(session, building_ids)


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

"""Computes coverage and the order of gaps, for the zones that a change touched or for all."""

from __future__ import annotations

import gc
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date

from sqlalchemy.orm import Session

from portfolio.domain.assessing import assess
from portfolio.domain.coverage import Library, ZoneCase
from portfolio.domain.evidence import TestRecord
from portfolio.domain.gates import Gate, Setting, evidence_gates, setting_gates, with_setting
from portfolio.domain.matching import compile_tests
from portfolio.domain.rules import RuleSet
from portfolio.domain.settling import smallest_sets
from portfolio.domain.shelf import shelf_of
from portfolio.reference.loader import load_reference
from portfolio.services.gathering import GatheredZone, gather_buildings, gather_zones
from portfolio.services.marking import keep_marks
from portfolio.services.reliance import Read, records_for
from portfolio.services.results import forget_zones, store_zones
from portfolio.services.rules.in_force import rules_for, shipped_rules
from portfolio.services.settled_kinds import renew_to_find
from portfolio.services.settling import store_sets
from portfolio.services.totals import renew_totals

Progress = Callable[[int, int], None]


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
    buildings = gather_buildings(session) if zone_ids is None else None
    gathered = gather_zones(session, shipped_rules(on), zone_ids, buildings)
    by_organisation: dict[int, list[GatheredZone]] = {}
    for zone in gathered:
        by_organisation.setdefault(zone.organisation_id, []).append(zone)
    forget_zones(session, zone_ids)
    done = 0
    read: Read = {}
    for organisation_id, zones in sorted(by_organisation.items()):
        rules = rules_for(session, organisation_id, on)
        tests = records_for(session, organisation_id, on, read=read)
        library = library_of(list(tests.values()), {zone.setting for zone in zones}, rules)
        cases = [ZoneCase(zone.wall, zone.setting) for zone in zones]
        found = assess(cases, library)
        store_zones(session, zones, found, rules)
        store_sets(session, zones, smallest_sets(cases, found, library))
        keep_marks(session, zones, found, library)
        done += len(zones)
        if progress is not None:
            progress(done, len(gathered))
    renewed = None if zone_ids is None else {zone.building_id for zone in gathered}
    renew_totals(session, renewed, buildings)
    renew_to_find(session, renewed)
    return len(gathered)


def library_of(tests: Sequence[TestRecord], settings: Iterable[Setting], rules: RuleSet) -> Library:
    """The tests with their gates for each setting on the rules' day."""
    reference = load_reference()
    shelf = shelf_of(tests)
    facts, on = reference.gate_facts, rules.on
    of_evidence = {test.ref: evidence_gates(test, facts, shelf, on) for test in tests}
    by_setting: dict[Setting, dict[str, tuple[Gate, ...]]] = {}
    for setting in settings:
        here = setting_gates(facts, setting, on)
        by_setting[setting] = {ref: with_setting(told, here) for ref, told in of_evidence.items()}
    return Library(compile_tests(tests), by_setting, rules, reference.judge)


def refresh_buildings(session: Session, building_ids: Collection[int] | None = None) -> None:
    """Make the totals of some buildings, or of all, anew."""
    renew_totals(session, building_ids)
    renew_to_find(session, building_ids)

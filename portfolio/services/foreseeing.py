"""What a change of a test or of rules would do, worked out beside what is stored; nothing is
written."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Building, TestRecord, Zone
from portfolio.domain import evidence
from portfolio.domain.assessing import assess
from portfolio.domain.coverage import ZoneCase
from portfolio.domain.rules import ApplicationRule, RuleSet
from portfolio.services.coverage import library_of
from portfolio.services.editing import CoverageChange, coverage_value, coverages
from portfolio.services.gathering import GatheredZone, gather_zones
from portfolio.services.packs_made import packs_holding
from portfolio.services.reliance import records_for
from portfolio.services.reopening import resting_on, zones_leaning
from portfolio.services.rules.in_force import rules_for, shipped_rules, with_proposed
from portfolio.services.stored import batches
from portfolio.services.telling import told_to
from portfolio.services.viewer import Viewer

Change = Callable[[evidence.TestRecord], evidence.TestRecord]


@dataclass(frozen=True, slots=True)
class ReopenedZone:
    """A zone that a change would re-open."""

    id: int
    ref: str
    building_id: int
    building_ref: str


@dataclass(frozen=True, slots=True)
class Effects:
    """What a change of a test would do, as far as the viewer may read it.

    `zones` would change their coverage; `leaning` are these and all others that lean on the test,
    which would be re-opened; `tests` rest on it; `packs` were handed out and would be overtaken.
    """

    zones: tuple[CoverageChange, ...]
    leaning: tuple[ReopenedZone, ...]
    tests: tuple[str, ...]
    packs: tuple[str, ...]

    @property
    def buildings(self) -> int:
        """In how many buildings zones would be re-opened."""
        return len({zone.building_id for zone in self.leaning})


def foreseen(
    session: Session,
    viewer: Viewer,
    row: TestRecord,
    change: Change,
    affected: Collection[int] | None,
    *,
    on: date,
) -> Effects:
    """What it would do if `row` were as `change` makes it; `affected` are the zones whose coverage
    that could touch, None for everybody's."""
    tests = resting_on(session, [row.id], on)

    def changed(test_id: int, test: evidence.TestRecord) -> evidence.TestRecord:
        return change(test) if test_id == row.id else test

    changes = told_to(session, viewer, _would_change(session, affected, on, tests_as=changed))
    moved = {found.zone_id for found in changes}
    leaning = _read_by(session, viewer, zones_leaning(session, tests) | moved)
    others = sa.select(TestRecord.ref, TestRecord.organisation_id).where(
        TestRecord.id.in_(tests - {row.id})
    )
    return Effects(
        changes,
        leaning,
        tuple(sorted(ref for ref, owner in session.execute(others) if viewer.sees(owner))),
        tuple(pack.words for pack in packs_holding(session, tests, read_by=viewer)),
    )


def foreseen_of_rules(
    session: Session,
    viewer: Viewer,
    organisation_id: int,
    proposed: Collection[ApplicationRule],
    *,
    on: date,
) -> tuple[CoverageChange, ...]:
    """How the coverage of an organisation's zones would come out if these rules of its own had
    begun already, everything else being as it is today."""

    def changed(rules: RuleSet) -> RuleSet:
        return with_proposed(rules, proposed)

    zone_ids = zones_of_owner(session, organisation_id)
    return told_to(session, viewer, _would_change(session, zone_ids, on, rules_as=changed))


def zones_of_owner(session: Session, organisation_id: int) -> Sequence[int]:
    """The zones of the buildings that an organisation owns."""
    query = sa.select(Zone.id).join(Building).where(Building.organisation_id == organisation_id)
    return session.scalars(query.order_by(Zone.id)).all()


def _would_change(
    session: Session,
    affected: Collection[int] | None,
    on: date,
    *,
    tests_as: Callable[[int, evidence.TestRecord], evidence.TestRecord] = lambda _, test: test,
    rules_as: Callable[[RuleSet], RuleSet] = lambda rules: rules,
) -> list[CoverageChange]:
    """How coverage would come out, computed beside what is stored: with the tests of each owner
    as `tests_as` makes them, and its rules as `rules_as` does."""
    stored = coverages(session, affected)
    by_owner: dict[int, list[GatheredZone]] = {}
    for zone in gather_zones(session, shipped_rules(on), affected):
        by_owner.setdefault(zone.organisation_id, []).append(zone)
    found = []
    for owner, zones in by_owner.items():
        tests = [tests_as(*each) for each in records_for(session, owner, on).items()]
        for zone, value in _judged(tests, zones, rules_as(rules_for(session, owner, on))):
            before = stored.get(zone.zone_id)
            if before != value:
                place = zone.building.ref, zone.zone.ref
                found.append(CoverageChange(zone.zone_id, *place, before, value))
    return sorted(found, key=lambda change: (change.building_ref, change.zone_ref))


def _judged(
    tests: Sequence[evidence.TestRecord], zones: Sequence[GatheredZone], rules: RuleSet
) -> list[tuple[GatheredZone, str]]:
    library = library_of(tests, {zone.setting for zone in zones}, rules)
    found = assess([ZoneCase(z.wall, z.setting) for z in zones], library)
    return [
        (zone, coverage_value(judged.coverage, by_inference=judged.by_inference))
        for zone, judged in zip(zones, found, strict=True)
    ]


def _read_by(
    session: Session, viewer: Viewer, zone_ids: Collection[int]
) -> tuple[ReopenedZone, ...]:
    """Of the zones given, those that the viewer may read, in order of their references."""
    found: list[ReopenedZone] = []
    for batch in batches(zone_ids):
        query = (
            sa.select(Zone.id, Zone.ref, Building.id, Building.ref)
            .join(Building)
            .where(Zone.id.in_(batch), viewer.reads(Building.organisation_id, Building.id))
        )
        found += (ReopenedZone(*row) for row in session.execute(query))
    return tuple(sorted(found, key=lambda zone: (zone.building_ref, zone.ref, zone.id)))

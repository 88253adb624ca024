"""What a change of a test would do, worked out beside what is stored; nothing is written."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Building, TestRecord, Zone
from portfolio.domain import evidence
from portfolio.domain.coverage import ZoneCase, assess
from portfolio.domain.rules import RuleSet, rules_in_force
from portfolio.reference.loader import load_reference
from portfolio.services.coverage import library_of
from portfolio.services.editing import CoverageChange, coverage_value, coverages
from portfolio.services.gathering import GatheredZone, gather_zones
from portfolio.services.packs_made import packs_holding
from portfolio.services.reliance import records_for
from portfolio.services.reopening import resting_on, zones_leaning
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
    changes = told_to(session, viewer, _would_change(session, row, change, affected, on))
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


def _would_change(
    session: Session,
    row: TestRecord,
    change: Change,
    affected: Collection[int] | None,
    on: date,
) -> list[CoverageChange]:
    """How coverage would come out, computed beside what is stored."""
    rules = rules_in_force(load_reference().rules, on)
    stored = coverages(session, affected)
    by_owner: dict[int, list[GatheredZone]] = {}
    for zone in gather_zones(session, rules, affected):
        by_owner.setdefault(zone.organisation_id, []).append(zone)
    found = []
    for owner, zones in by_owner.items():
        tests = [
            change(test) if test_id == row.id else test
            for test_id, test in records_for(session, owner, on).items()
        ]
        for zone, value in _judged(tests, zones, rules):
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

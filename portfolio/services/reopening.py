"""Evidence that changes re-opens what leaned on it: zones, other evidence, packs handed out.

Whoever changes evidence takes a `Watch` first, saves, computes coverage again, and then
re-opens. What was re-opened stands on the overview of those concerned until one of them has
looked at it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.changelog import Actor, Entry, record
from portfolio.db.life import Concerned, Reopened
from portfolio.db.models import Building, TestRecord, Zone
from portfolio.db.results import ZoneTest
from portfolio.domain.leaning import Way
from portfolio.domain.shelf import folded
from portfolio.services.editing import coverages
from portfolio.services.packs_made import HandedOut, packs_holding
from portfolio.services.reliance import known_tests
from portfolio.services.stored import batches
from portfolio.services.test_names import TestNames

_LEANS = (Way.COVERS, Way.AGAINST, Way.IN_DOUBT)


@dataclass(frozen=True, slots=True)
class Watch:
    """What leaned on some evidence before it changed.

    `tests` holds the tests and all that rest on them, `leaning` the zones, `buildings` those of
    which every pack is concerned.
    """

    tests: frozenset[int]
    leaning: frozenset[int]
    coverages: Mapping[int, str]
    buildings: frozenset[int] = frozenset()


def watch(
    session: Session, changing: Collection[int], on: date, zone_ids: Collection[int] | None = None
) -> Watch:
    """Note what leans on tests that are about to change; coverage of `zone_ids`, or of all."""
    tests = resting_on(session, changing, on)
    return Watch(tests, zones_leaning(session, tests), coverages(session, zone_ids))


def resting_on(session: Session, changing: Collection[int], on: date) -> frozenset[int]:
    """The tests, every other recorded from the same reports, and every one that in the end leans
    on one of them as its holder means it.

    A holder means what it sees: an assessment that names a test which is not shown to its holder
    tells nothing of that test.
    """
    query = sa.select(
        TestRecord.id, TestRecord.organisation_id, TestRecord.leans_on, TestRecord.report_ref
    )
    every = session.execute(query).all()
    leaning = [row for row in every if row.leans_on]
    reports = {row.id: folded(row.report_ref) for row in every if row.report_ref}
    owners = {row.organisation_id for row in leaning}
    known = {owner: known_tests(session, owner, on) for owner in owners}
    meant = {row.id: _meant(known[row.organisation_id], row) for row in leaning}
    found = set(changing)
    grows = True
    while grows:
        more = {row.id for row in leaning if not found.isdisjoint(meant[row.id])}
        of_found = {reports[test_id] for test_id in found if test_id in reports}
        more |= {test_id for test_id, report in reports.items() if report in of_found}
        grows = not more <= found
        found |= more
    return frozenset(found)


def _meant(known: TestNames, row: sa.Row[Any]) -> set[int]:
    """The ids of the tests that a record leans on, as its holder means them."""
    ids = known.ids
    return {ids.get(known.meant(ref, row.organisation_id), 0) for ref in row.leans_on}


def zones_leaning(
    session: Session, tests: Collection[int], ways: Collection[Way] = _LEANS
) -> frozenset[int]:
    """The zones, of whatever owner, whose coverage names one of the tests so."""
    found: set[int] = set()
    for batch in batches(tests):
        query = sa.select(ZoneTest.zone_id).where(
            ZoneTest.test_id.in_(batch), ZoneTest.way.in_(ways)
        )
        found.update(session.scalars(query))
    return frozenset(found)


def reopen(
    session: Session,
    actor: Actor,
    watched: Watch,
    because: str,
    on: date,
    *,
    changed: Collection[int] = (),
    zone_ids: Collection[int] | None = None,
    owners: Collection[int] | None = None,
) -> int:
    """Re-open what leaned on the tests, and every zone whose coverage is another one now.

    `changed` are the tests themselves, which their holder has just looked at; `owners` keeps it
    to what is theirs, where it is their leave to lean on a test that changed. Returns how many
    things were re-opened.
    """
    after = coverages(session, zone_ids)
    before = watched.coverages
    moved = {zone_id for zone_id, value in after.items() if before.get(zone_id, value) != value}
    rows = [
        *_zones(session, watched.leaning | moved, before, after, owners),
        *_tests(session, watched.tests - set(changed), owners),
        *overtaken(
            (
                pack
                for pack in packs_holding(session, watched.tests, watched.buildings)
                if owners is None or pack.owner_id in owners
            ),
            because,
            on,
        ),
    ]
    keep_reopened(session, actor, rows, because, on)
    return len(rows)


def keep_reopened(
    session: Session, actor: Actor, rows: Sequence[Reopened], because: str, on: date
) -> None:
    """Write what is re-opened, and that it is."""
    for row in rows:
        row.because, row.on = because, on
    session.add_all(rows)
    session.flush()
    record(session, actor, [_entry(row) for row in rows])


def _zones(
    session: Session,
    zone_ids: Iterable[int],
    before: Mapping[int, str],
    after: Mapping[int, str],
    owners: Collection[int] | None,
) -> list[Reopened]:
    found = []
    for batch in batches(zone_ids):
        query = (
            sa.select(Zone.id, Zone.ref, Building.id, Building.ref, Building.organisation_id)
            .join(Building)
            .where(Zone.id.in_(batch), _of(owners, Building.organisation_id))
            .order_by(Building.ref, Zone.ref)
        )
        for zone_id, ref, building_id, building_ref, owner in session.execute(query):
            found.append(
                Reopened(
                    organisation_id=owner,
                    building_id=building_id,
                    subject=Concerned.ZONE,
                    subject_id=zone_id,
                    subject_ref=f"{building_ref} / {ref}",
                    before=before.get(zone_id, ""),
                    after=after.get(zone_id, ""),
                )
            )
    return found


def _of(owners: Collection[int] | None, column: Any) -> sa.ColumnElement[bool]:
    found: sa.ColumnElement[bool] = sa.true() if owners is None else column.in_(owners)
    return found


def _tests(
    session: Session, tests: Collection[int], owners: Collection[int] | None
) -> list[Reopened]:
    rows: list[TestRecord] = []
    for batch in batches(tests):
        wanted = TestRecord.id.in_(batch), _of(owners, TestRecord.organisation_id)
        rows += session.scalars(sa.select(TestRecord).where(*wanted))
    return [
        Reopened(
            organisation_id=row.organisation_id,
            subject=Concerned.TEST,
            subject_id=row.id,
            subject_ref=row.ref,
        )
        for row in sorted(rows, key=lambda row: (row.ref, row.id))
    ]


def overtaken(packs: Iterable[HandedOut], because: str, on: date) -> list[Reopened]:
    """Mark packs as overtaken, and tell what has to be looked at again."""
    found = []
    for pack in packs:
        pack.row.overtaken_on, pack.row.overtaken_because = on, because
        found.append(
            Reopened(
                organisation_id=pack.owner_id,
                building_id=pack.row.building_id,
                subject=Concerned.PACK,
                subject_id=pack.row.id,
                subject_ref=pack.words,
            )
        )
    return found


def _entry(row: Reopened) -> Entry:
    moved = {"coverage": (row.before, row.after)} if row.before != row.after else {}
    return Entry(
        "re-opened",
        row.subject.value,
        row.subject_id,
        row.subject_ref,
        row.organisation_id,
        moved,
        row.because,
    )

"""Which zones a change of tests could touch: only these are computed again.

Every wall is still read and held against the changed tests, which takes far less than holding it
against all of them and writing it down again.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import mapping
from portfolio.db.models import Building, TestRecord, Zone
from portfolio.db.results import ZoneTest
from portfolio.domain import evidence
from portfolio.domain.assessing import walls_of
from portfolio.domain.coverage import ZoneCase
from portfolio.domain.gates import Setting
from portfolio.domain.leaning import Way
from portfolio.domain.touching import borne_on
from portfolio.reference.loader import load_reference
from portfolio.services.gathering import gather_walls
from portfolio.services.reopening import resting_on
from portfolio.services.rules.in_force import rules_for, shipped_rules
from portfolio.services.stored import batches

_NEAR = (Way.COVERS, Way.NEAREST)


@dataclass(frozen=True, slots=True)
class Changing:
    """Tests before they change: all that rest on the changed one, and those that its name could
    be mistaken for; `among` are the zones whose owners may see it, None for everybody's."""

    ids: frozenset[int]
    before: tuple[evidence.TestRecord, ...]
    among: Collection[int] | None


def changing(
    session: Session, row: TestRecord, among: Collection[int] | None, on: date
) -> Changing:
    """Note how things are before a test changes, or once a new one is there."""
    ids = _concerned(session, row, on)
    return Changing(ids, _records(session, ids), among)


def touched_by(session: Session, row: TestRecord, change: Changing, on: date) -> set[int]:
    """The zones whose coverage could name one of the tests, as they were or as they are.

    So could that of a zone that is told a far test for want of a nearer one, whatever changes.
    """
    session.flush()
    ids = change.ids | _concerned(session, row, on)
    records = [*change.before, *_records(session, ids)]
    found = _named(session, ids)
    by_owner: dict[int, list[tuple[int, str]]] = {}
    for zone_id, owner, jurisdiction, near in _zones(session, change.among):
        if near:
            by_owner.setdefault(owner, []).append((zone_id, jurisdiction))
        else:
            found.add(zone_id)
    for owner, zones in by_owner.items():
        found |= _borne_on(session, owner, zones, records, on)
    return found if change.among is None else found & set(change.among)


def _borne_on(
    session: Session,
    owner: int,
    zones: Sequence[tuple[int, str]],
    records: Sequence[evidence.TestRecord],
    on: date,
) -> set[int]:
    walls = gather_walls(session, shipped_rules(on), [zone_id for zone_id, _ in zones])
    cases = [
        ZoneCase(wall, Setting(jurisdiction))
        for wall, (_, jurisdiction) in zip(walls, zones, strict=True)
    ]
    kinds, _, kind = walls_of(cases).kinds()
    rules, judge = rules_for(session, owner, on), load_reference().judge
    borne = borne_on(kinds, records, rules, judge)[kind]
    return {zones[place][0] for place in np.flatnonzero(borne).tolist()}


def _concerned(session: Session, row: TestRecord, on: date) -> frozenset[int]:
    alike = session.scalars(sa.select(TestRecord.id).where(TestRecord.ref == row.ref)).all()
    return resting_on(session, {row.id, *alike}, on)


def _records(session: Session, ids: Collection[int]) -> tuple[evidence.TestRecord, ...]:
    vocabulary = load_reference().vocabulary
    rows = session.scalars(sa.select(TestRecord).where(TestRecord.id.in_(ids)))
    return tuple(mapping.tested_wall_of(row, vocabulary, None) for row in rows)


def _named(session: Session, ids: Collection[int]) -> set[int]:
    """The zones whose stored coverage names one of the tests, in whatever way."""
    query = sa.select(ZoneTest.zone_id)
    parts = (query.where(ZoneTest.test_id.in_(batch)) for batch in batches(ids))
    return {zone_id for part in parts for zone_id in session.scalars(part)}


def _zones(session: Session, among: Collection[int] | None) -> list[sa.Row[int, int, str, bool]]:
    """Each zone with its owner and jurisdiction, and whether its stored coverage names a near
    test."""
    near = sa.exists().where(ZoneTest.zone_id == Zone.id, ZoneTest.way.in_(_NEAR))
    query = sa.select(Zone.id, Building.organisation_id, Building.jurisdiction, near).join(Building)
    query = query.order_by(Zone.id)
    if among is None:
        return list(session.execute(query).all())
    parts = (query.where(Zone.id.in_(batch)) for batch in batches(among))
    return [row for part in parts for row in session.execute(part)]

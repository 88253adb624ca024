"""Kinds of zones that the same facts could settle, each read once however many zones are alike."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import mapping
from portfolio.db.bulk import Rows, insert_rows
from portfolio.db.models import Zone
from portfolio.db.results import BuildingToFind, ZoneSettling
from portfolio.services.stored import batches

_TO_FIND = (
    "building_id",
    "organisation_id",
    "parameter",
    "way",
    "zones",
    "alone",
    "area_m2",
    "area_unknown",
)


@dataclass(frozen=True, slots=True)
class SettledKind:
    """How many zones are of a kind, and its smallest sets; mapping.fact_told names the facts."""

    zones: int
    sets: Sequence[Sequence[str]]

    @property
    def facts(self) -> dict[str, bool]:
        """Every fact of the sets, and whether it is a set by itself."""
        alone = {one[0] for one in self.sets if len(one) == 1}
        return {fact: fact in alone for one in self.sets for fact in one}


def settled_kinds(session: Session, kept: sa.ColumnElement[bool]) -> dict[str, SettledKind]:
    """The kinds of the zones that meet the condition, by key.

    A kind is read off one of its zones: of another the tests may be others, the facts are the same.
    """
    counted = (
        sa.select(sa.func.min(ZoneSettling.zone_id).label("sample"), sa.func.count().label("zones"))
        .where(kept)
        .group_by(ZoneSettling.kind)
        .subquery()
    )
    query = sa.select(ZoneSettling.kind, ZoneSettling.sets, counted.c.zones).join(
        counted, counted.c.sample == ZoneSettling.zone_id
    )
    return {
        kind: SettledKind(zones, mapping.facts_told_in(sets))
        for kind, sets, zones in session.execute(query)
    }


def renew_to_find(session: Session, building_ids: Collection[int] | None = None) -> None:
    """Count the facts of the smallest sets in some buildings, or in all, out of what is stored of
    their zones. What was counted before went with the buildings' totals."""
    parts = [None] if building_ids is None else list(batches(building_ids))
    for part in parts:
        kept = sa.true() if part is None else ZoneSettling.building_id.in_(part)
        facts = {kind: told.facts for kind, told in settled_kinds(session, kept).items()}
        if facts:
            insert_rows(session, BuildingToFind, _TO_FIND, _counted(session, kept, facts))


def _counted(
    session: Session, kept: sa.ColumnElement[bool], facts: Mapping[str, Mapping[str, bool]]
) -> Rows:
    """A row for each building and fact; zones of one kind are counted by the store."""
    query = (
        sa.select(
            ZoneSettling.building_id,
            ZoneSettling.organisation_id,
            ZoneSettling.kind,
            sa.func.count(),
            sa.func.sum(Zone.area_m2),
            sa.func.count(Zone.area_m2),
        )
        .join(Zone, Zone.id == ZoneSettling.zone_id)
        .where(kept)
        .group_by(ZoneSettling.building_id, ZoneSettling.organisation_id, ZoneSettling.kind)
        .order_by(ZoneSettling.building_id, ZoneSettling.kind)
    )
    found: dict[tuple[int, int, str, str], list[float]] = {}
    for building_id, organisation_id, kind, zones, area, with_area in session.execute(query):
        for fact, is_alone in facts[kind].items():
            parameter, _, way = fact.partition(" ")
            counts = found.setdefault(
                (building_id, organisation_id, parameter, way), [0, 0, 0.0, 0]
            )
            added = zones, zones if is_alone else 0, area or 0.0, zones - with_area
            counts[:] = (count + more for count, more in zip(counts, added, strict=True))
    return [(*of, *counts) for of, counts in found.items()]

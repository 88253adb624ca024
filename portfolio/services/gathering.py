"""Gathers zones as the domain knows them: the building, the zone, and its wall out of all surveys.

What many zones have in common is read and resolved once, and shared, since it never changes.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload, selectinload

from portfolio.db import mapping, models
from portfolio.domain.buildings import Building, Zone
from portfolio.domain.gates import Setting
from portfolio.domain.heights import estimate_from_storeys
from portfolio.domain.routes import NewWork
from portfolio.domain.rules import RuleSet
from portfolio.domain.surveys import Settlement, Survey, Wall, resolve
from portfolio.domain.walls import BuildUp
from portfolio.reference.loader import load_reference
from portfolio.services.stored import batches


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
    def setting(self) -> Setting:
        """What the gates depend on."""
        place = self.building.jurisdiction, self.zone.is_attachment
        if not self.zone.is_new_work:
            return Setting(*place)
        building = self.building
        suggested = estimate_from_storeys(building.storeys) if building.storeys else None
        counted = self.zone.work_counted_on
        work = NewWork(counted, building.use, tuple(building.heights), suggested)
        return Setting(*place, work)


Buildings = Mapping[int, tuple[int, Building]]
"""Buildings by id, each with its owner's id."""


def gather_zones(
    session: Session,
    rules: RuleSet,
    zone_ids: Collection[int] | None = None,
    buildings: Buildings | None = None,
) -> list[GatheredZone]:
    """The zones with their resolved walls, in the order of their ids; `buildings` where theirs
    are known."""
    surveys = _surveys(session, zone_ids)
    walls = _resolved(session, surveys, rules, zone_ids)
    if buildings is None:
        buildings = gather_buildings(session, _of_zones(session, zone_ids))
    table = models.Zone.__table__
    query = sa.select(table).order_by(table.c.id)
    found = []
    for row in _chosen_rows(session, query, table.c.id, zone_ids):
        organisation_id, building = buildings[row.building_id]
        zone = mapping.zone_of(row, building.ref)
        told = tuple(surveys.get(row.id, ()))
        wall = walls.get(row.id, _UNSURVEYED)
        found.append(
            GatheredZone(row.id, row.building_id, organisation_id, building, zone, wall, told)
        )
    return found


def gather_walls(session: Session, rules: RuleSet, zone_ids: Collection[int]) -> list[Wall]:
    """The resolved walls of zones, without their buildings; walls alike may be one and the same."""
    walls = _resolved(session, _surveys(session, zone_ids), rules, zone_ids)
    return [walls.get(zone_id, _UNSURVEYED) for zone_id in zone_ids]


_UNSURVEYED = resolve(())


def _resolved(
    session: Session,
    surveys: Mapping[int, Sequence[Survey]],
    rules: RuleSet,
    zone_ids: Collection[int] | None,
) -> dict[int, Wall]:
    """The walls of the zones that were surveyed: those surveyed alike are resolved only once."""
    settlements = _settlements(session, zone_ids)
    tolerances = rules.tolerances()
    on = rules.on
    alike: dict[Any, Wall] = {}
    found = {}
    for zone_id, entered in surveys.items():
        # what is dated in the future has not been seen yet
        told = [survey for survey in entered if survey.on <= on]
        ruled = tuple(s for s in settlements.get(zone_id, ()) if s.on <= on)
        seen = tuple(id(survey) for survey in told), ruled
        if (wall := alike.get(seen)) is None:
            wall = alike[seen] = resolve(told, ruled, tolerances)
        found[zone_id] = wall
    return found


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


def gather_buildings(session: Session, building_ids: Collection[int] | None = None) -> Buildings:
    """Some buildings, or all."""
    query = (
        sa.select(models.Building)
        .options(selectinload(models.Building.heights), joinedload(models.Building.organisation))
        .order_by(models.Building.id)
    )
    return {
        row.id: (row.organisation_id, mapping.building_of(row, row.organisation.ref))
        for row in _chosen(session, query, models.Building.id, building_ids)
    }


def _of_zones(session: Session, zone_ids: Collection[int] | None) -> set[int] | None:
    """The buildings of some zones."""
    if zone_ids is None:
        return None
    held = sa.select(models.Zone.building_id)
    return set(_chosen(session, held, models.Zone.id, zone_ids))


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
    parts = (query.where(column.in_(batch)) for batch in batches(ids))
    return [row for part in parts for row in session.execute(part)]

"""Lists works with what tests say of their zones: two facts, side by side and never mixed."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload, selectinload

from portfolio.db.models import Building, BuildingResult, Organisation, ZoneResult
from portfolio.db.works import InterimMeasure, Works, WorksZone
from portfolio.domain.coverage import WORST_FIRST
from portfolio.domain.errors import NotFoundError
from portfolio.domain.rights import Right
from portfolio.domain.works import Objection, WorksStatus, lacking_for_complete
from portfolio.domain.works_due import SOON, Lateness, lateness
from portfolio.domain.works_money import Interim, cost_so_far
from portfolio.services.editing import coverage_value
from portfolio.services.history import SOMEBODY
from portfolio.services.viewer import Viewer
from portfolio.services.works.due import Due, due, due_of_works
from portfolio.services.works.recording import standing_now

_WORST = {
    coverage_value(coverage, by_inference=inferred): place
    for place, (coverage, inferred) in enumerate(WORST_FIRST)
}


@dataclass(frozen=True, slots=True)
class WorksFilter:
    """Which works. `due`: overdue or due-soon on the day asked for."""

    text: str = ""
    status: str = ""
    decided: str = ""
    programme: str = ""
    due: str = ""


@dataclass(frozen=True, slots=True)
class WorksLine:
    """Works in a list. `coverage` is the worst of their zones', None where none is computed;
    `dues` are what is overdue or due soon."""

    row: Works
    owner: str
    zones: tuple[str, ...]
    coverage: str | None
    dues: tuple[tuple[Due, Lateness], ...]


@dataclass(frozen=True, slots=True)
class WorksPage:
    """A page of works by owner, building and reference, and how many there are altogether."""

    rows: tuple[WorksLine, ...]
    total: int


@dataclass(frozen=True, slots=True)
class InterimLine:
    """An interim measure, with what it cost until today in minor units, where a cost is told."""

    id: int
    measure: str
    started_on: date
    review_on: date | None
    ended_on: date | None
    monthly_minor: int | None
    so_far_minor: int | None
    is_late: bool


@dataclass(frozen=True, slots=True)
class StepLine:
    """A status in the history, newest last."""

    status: WorksStatus
    on: date
    documents: str
    reason: str
    recorded_by: str
    recorded_on: date


@dataclass(frozen=True, slots=True)
class WorksOfBuilding:
    """Works with all that their page shows. `lacking`: what completing, or being complete, lacks;
    `dated` is every day that they are held to, earliest first."""

    line: WorksLine
    steps: tuple[StepLine, ...]
    interim: tuple[InterimLine, ...]
    interim_minor: int
    dated: tuple[tuple[Due, Lateness], ...]
    lacking: tuple[Objection, ...]


@dataclass(frozen=True, slots=True)
class BuildingWorks:
    """A building with its works."""

    building: Building
    works: tuple[WorksOfBuilding, ...]


def list_works(
    session: Session,
    viewer: Viewer,
    wanted: WorksFilter,
    today: date,
    *,
    limit: int | None = None,
    offset: int = 0,
) -> WorksPage:
    """A page of all works that the viewer reads; without a limit all of them."""
    near = _near(session, viewer, today) if wanted.due else {}
    kept = [viewer.reads(Building.organisation_id, Building.id), *_conditions(wanted, near)]
    counted = sa.select(sa.func.count()).select_from(Works).join(Building).where(*kept)
    query = (
        sa.select(Works, Organisation.ref)
        .join(Building, Building.id == Works.building_id)
        .join(Organisation, Organisation.id == Building.organisation_id)
        .options(joinedload(Works.building), _zones())
        .where(*kept)
        .order_by(Organisation.ref, Building.ref, Works.ref, Works.id)
        .limit(limit)
        .offset(offset)
    )
    found = [(row, owner) for row, owner in session.execute(query)]
    coverages = _coverages(session, [row for row, _ in found])
    if not wanted.due:
        shown = [row.id for row, _ in found]
        near = _near(session, viewer, today, shown if limit is not None else None)
    lines = tuple(
        _line(row, owner, coverages.get(row.id), near.get(row.id, ())) for row, owner in found
    )
    return WorksPage(lines, session.scalar(counted) or 0)


def programmes(session: Session, viewer: Viewer) -> list[str]:
    """The programmes that works which the viewer reads are in."""
    query = (
        sa.select(Works.programme)
        .join(Building, Building.id == Works.building_id)
        .where(Works.programme != "", viewer.reads(Building.organisation_id, Building.id))
        .distinct()
        .order_by(Works.programme)
    )
    return list(session.scalars(query))


def works_of_building(
    session: Session, viewer: Viewer, building_id: int, today: date
) -> BuildingWorks:
    """A building with its works. Raises NotFoundError."""
    building = session.get(Building, building_id, options=[joinedload(Building.organisation)])
    if building is None or not viewer.may(Right.READ, building.organisation_id, building.id):
        raise NotFoundError("There is no such building.")
    query = (
        sa.select(Works)
        .where(Works.building_id == building_id)
        .options(_zones(), selectinload(Works.steps), selectinload(Works.interim))
        .order_by(Works.ref)
    )
    rows = session.scalars(query).all()
    coverages = _coverages(session, rows)
    shown = []
    for row in rows:
        dated = _all_dated(row, building, today)
        near = tuple(pair for pair in dated if pair[1] is not Lateness.LATER)
        line = _line(row, building.organisation.ref, coverages.get(row.id), near)
        shown.append(_whole(session, viewer, line, dated, today))
    return BuildingWorks(building, tuple(shown))


def _whole(
    session: Session,
    viewer: Viewer,
    line: WorksLine,
    dated: tuple[tuple[Due, Lateness], ...],
    today: date,
) -> WorksOfBuilding:
    row = line.row
    interim = tuple(_interim(measure, today) for measure in row.interim)
    # what the next step will ask for is told before somebody is refused
    lacking = lacking_for_complete(standing_now(session, row)) if row.status.is_built else ()
    names_are_told = viewer.sees(row.building.organisation_id)
    steps = tuple(
        StepLine(
            step.status,
            step.on,
            step.documents,
            step.reason,
            step.recorded_by if names_are_told or step.recorded_by == viewer.name else SOMEBODY,
            step.recorded_on,
        )
        for step in row.steps
    )
    so_far = sum(measure.so_far_minor or 0 for measure in interim)
    return WorksOfBuilding(line, steps, interim, so_far, dated, lacking)


def _interim(row: InterimMeasure, today: date) -> InterimLine:
    cost = cost_so_far(Interim(row.started_on, row.ended_on, row.monthly_minor), today)
    late = row.ended_on is None and row.review_on is not None and row.review_on < today
    days = row.started_on, row.review_on, row.ended_on
    return InterimLine(row.id, row.measure, *days, row.monthly_minor, cost, late)


def _near(
    session: Session, viewer: Viewer, today: date, works_ids: Collection[int] | None = None
) -> Mapping[int, tuple[tuple[Due, Lateness], ...]]:
    """By works: what is overdue or due soon."""
    found: dict[int, tuple[tuple[Due, Lateness], ...]] = {}
    for one in due(session, viewer, today + SOON, works_ids=works_ids):
        found[one.works_id] = (*found.get(one.works_id, ()), (one, lateness(one.on, today)))
    return found


def _conditions(
    wanted: WorksFilter, near: Mapping[int, Sequence[tuple[Due, Lateness]]]
) -> list[sa.ColumnElement[bool]]:
    found: list[sa.ColumnElement[bool]] = []
    if wanted.text:
        words = (Works.ref, Works.title, Works.responsible, Building.search_text)
        found.append(sa.or_(*(c.icontains(wanted.text, autoescape=True) for c in words)))
    if wanted.status:
        found.append(Works.status == WorksStatus(wanted.status))
    if wanted.decided:
        found.append(Works.decided == wanted.decided)
    if wanted.programme:
        found.append(Works.programme == wanted.programme)
    if wanted.due:
        ids = [key for key, dues in near.items() if any(late == wanted.due for _, late in dues)]
        found.append(Works.id.in_(sorted(ids)))
    return found


def _zones() -> sa.orm.interfaces.ORMOption:
    return selectinload(Works.zones).joinedload(WorksZone.zone)


def _line(
    row: Works, owner: str, coverage: str | None, near: tuple[tuple[Due, Lateness], ...]
) -> WorksLine:
    zones = tuple(sorted(part.zone.ref for part in row.zones))
    return WorksLine(row, owner, zones, coverage, near)


def _all_dated(row: Works, building: Building, today: date) -> tuple[tuple[Due, Lateness], ...]:
    """Every day that works are held to, by the same rules as the list's."""
    found = sorted(due_of_works(row, building), key=lambda one: one.on)
    return tuple((one, lateness(one.on, today)) for one in found)


def _coverages(session: Session, rows: Collection[Works]) -> dict[int, str]:
    """By works: the worst coverage of their zones, or of their whole building."""
    whole = {row.building_id for row in rows if not row.zones}
    kept = BuildingResult
    query = sa.select(kept.building_id, kept.coverage, kept.by_inference).where(
        kept.building_id.in_(whole)
    )
    of_building = {
        building: coverage_value(coverage, by_inference=inferred)
        for building, coverage, inferred in session.execute(query)
    }
    zones = [part.zone_id for row in rows for part in row.zones]
    result = sa.select(ZoneResult.zone_id, ZoneResult.coverage, ZoneResult.by_inference).where(
        ZoneResult.zone_id.in_(zones)
    )
    of_zone = {
        zone: coverage_value(coverage, by_inference=inferred)
        for zone, coverage, inferred in session.execute(result)
    }
    found: dict[int, str] = {}
    for row in rows:
        known = [of_zone[part.zone_id] for part in row.zones if part.zone_id in of_zone]
        if not row.zones and row.building_id in of_building:
            known = [of_building[row.building_id]]
        if known:
            found[row.id] = min(known, key=lambda value: _WORST[value])
    return found

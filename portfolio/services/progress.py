"""Counts every day anew what is covered and what is missing, and tells how that has moved."""

from __future__ import annotations

import importlib.metadata
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.bulk import Rows, insert_rows
from portfolio.db.models import Building, BuildingResult, Organisation
from portfolio.db.progress import CountChange, CountedDay
from portfolio.db.results import BuildingCoverage, BuildingMissing
from portfolio.domain.moving import (
    BUILDINGS,
    FACTS,
    ZONES,
    Amount,
    Change,
    DayCount,
    Days,
    Facet,
    changes,
    day_counts,
)
from portfolio.services.editing import coverage_value
from portfolio.services.rules.in_force import rules_for
from portfolio.services.viewer import Viewer

_CHANGE = ("day", *Facet._fields, "count", "area_m2")
_PACKAGE = "portfolio-tracker"


@dataclass(frozen=True, slots=True)
class ProgressFilter:
    """Which buildings to look at; empty looks at all. As they were on each day."""

    owner: str = ""
    jurisdiction: str = ""
    use: str = ""
    height_band: str = ""


@dataclass(frozen=True, slots=True)
class Progress:
    """The counts at the start of each counted day, and as they are now."""

    days: tuple[DayCount, ...]
    now: DayCount

    @property
    def every(self) -> list[DayCount]:
        return [*self.days, self.now]


def is_counted(session: Session, on: date) -> bool:
    """Whether a day was counted, or there is nothing to count."""
    counted = sa.select(CountedDay.day).where(CountedDay.day >= on).limit(1)
    anything = sa.select(BuildingResult.building_id).limit(1)
    return session.scalar(counted) is not None or session.scalar(anything) is None


def count_day(session: Session, on: date) -> int:
    """Keep how things stand at the start of a day; returns how many counts changed.

    A day is counted once: what happens on it shows on the next day that the program is used.
    """
    if is_counted(session, on):
        return 0
    found = changes(_counted(session), dict(_now(session)))
    rows: Rows = [(on, *facet, *amount) for facet, amount in found]
    insert_rows(session, CountChange, _CHANGE, rows)
    for owner in session.scalars(sa.select(BuildingResult.organisation_id).distinct()).all():
        session.add(CountedDay(organisation_id=owner, day=on, method=_method(session, owner, on)))
    return len(found)


def progress(session: Session, viewer: Viewer, wanted: ProgressFilter, on: date) -> Progress:
    """How the viewer's buildings have moved, the present included."""
    mine = viewer.reads(CountChange.organisation_id, CountChange.building_id)
    kept = CountChange
    query = (
        sa.select(
            kept.day, kept.measure, kept.series, sa.func.sum(kept.count), sa.func.sum(kept.area_m2)
        )
        .where(mine, *_conditions(wanted, kept))
        .group_by(kept.day, kept.measure, kept.series)
    )
    if wanted.height_band:
        query = query.where(kept.height_band == wanted.height_band)
    found = [
        Change(row[0], row[1], row[2], Amount(row[3], row[4])) for row in session.execute(query)
    ]
    days = day_counts(found, _days(session, viewer, wanted))
    return Progress(tuple(days), DayCount(on, _present(session, viewer, wanted)))


def _days(session: Session, viewer: Viewer, wanted: ProgressFilter) -> Days:
    """The counted days of every owner of whose buildings something is read."""
    kept = CountedDay
    reads = viewer.reads(Building.organisation_id, Building.id)
    owners = sa.select(Building.organisation_id).where(reads)
    query = sa.select(kept.day, kept.organisation_id, kept.method).where(
        kept.organisation_id.in_(owners)
    )
    if wanted.owner:
        query = query.where(kept.organisation_id.in_(_called(wanted.owner)))
    methods: dict[date, set[str]] = {}
    for day, owner, method in session.execute(query):
        methods.setdefault(day, set()).add(f"{owner}: {method}")
    return Days({day: frozenset(told) for day, told in methods.items()})


def _called(owner: str) -> sa.Select[int]:
    return sa.select(Organisation.id).where(Organisation.ref == owner)


def _conditions(
    wanted: ProgressFilter, kept: type[CountChange | Building]
) -> list[sa.ColumnElement[bool]]:
    chosen: list[sa.ColumnElement[bool]] = []
    if wanted.owner:
        chosen.append(kept.organisation_id.in_(_called(wanted.owner)))
    if wanted.jurisdiction:
        chosen.append(kept.jurisdiction == wanted.jurisdiction)
    if wanted.use:
        chosen.append(kept.use == wanted.use)
    return chosen


def _present(
    session: Session, viewer: Viewer, wanted: ProgressFilter
) -> dict[str, dict[str, Amount]]:
    counts: dict[str, dict[str, Amount]] = {}
    reads = viewer.reads(Building.organisation_id, Building.id)
    conditions = [reads, *_conditions(wanted, Building)]
    for facet, amount in _now(session, *conditions):
        if wanted.height_band in ("", facet.height_band):
            series = counts.setdefault(facet.measure, {})
            was = series.get(facet.series, Amount())
            area = round(was.area_m2 + amount.area_m2, 2)
            series[facet.series] = Amount(was.number + amount.number, area)
    return counts


def _counted(session: Session) -> dict[Facet, Amount]:
    """What all changes until now add up to."""
    kept = CountChange
    facets = [getattr(kept, name) for name in Facet._fields]
    query = sa.select(*facets, sa.func.sum(kept.count), sa.func.sum(kept.area_m2)).group_by(*facets)
    found = {}
    for row in session.execute(query):
        amount = Amount(row[-2], round(row[-1], 2))
        if amount != Amount():
            found[Facet(*row[:-2])] = amount
    return found


def _now(session: Session, *conditions: sa.ColumnElement[bool]) -> Iterator[tuple[Facet, Amount]]:
    """Every count as it is, out of what is stored of the buildings; of several rows that are
    counted alike, each by itself."""
    of = Building.organisation_id, Building.id, Building.jurisdiction, Building.use
    result = BuildingResult
    joined = (
        sa.select(*of, result.height_band)
        .join(result, result.building_id == Building.id)
        .where(*conditions)
    )
    zones = joined.add_columns(
        BuildingCoverage.coverage,
        BuildingCoverage.by_inference,
        BuildingCoverage.zones,
        BuildingCoverage.area_m2,
    ).join(BuildingCoverage, BuildingCoverage.building_id == Building.id)
    for *place, coverage, by_inference, count, area in session.execute(zones):
        series = coverage_value(coverage, by_inference=by_inference)
        yield Facet._make((*place, ZONES, series)), Amount(count, area)
    buildings = joined.add_columns(result.coverage, result.by_inference).where(result.zones > 0)
    for *place, coverage, by_inference in session.execute(buildings):
        series = coverage_value(coverage, by_inference=by_inference)
        yield Facet._make((*place, BUILDINGS, series)), Amount(1)
    missing = (
        joined.add_columns(BuildingMissing.missing, sa.func.sum(BuildingMissing.gaps))
        .join(BuildingMissing, BuildingMissing.building_id == Building.id)
        .group_by(*of, result.height_band, BuildingMissing.missing)
    )
    for row in session.execute(missing):
        *place, kind, count = row
        yield Facet._make((*place, FACTS, str(kind.value))), Amount(count)


def _method(session: Session, owner: int, on: date) -> str:
    """What walls are judged by: the program, and the owner's rules."""
    try:
        program = importlib.metadata.version(_PACKAGE)
    except importlib.metadata.PackageNotFoundError:
        program = "not installed"
    return f"{program}, rules {rules_for(session, owner, on).version}"

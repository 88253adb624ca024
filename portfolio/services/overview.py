"""The portfolio at a glance: what is covered, what is not, what nobody knows, what comes first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from portfolio.db.results import Missing
from portfolio.domain.coverage import WORST_FIRST, Coverage
from portfolio.domain.parameters import PARAMETERS
from portfolio.reference.loader import load_reference
from portfolio.services import overview_counts
from portfolio.services.gaps import GapFilter, GapRow, first_gaps
from portfolio.services.ruling_review import RulingList, list_rulings
from portfolio.services.to_look_at import ToLookAt, reopened
from portfolio.services.viewer import Viewer
from portfolio.services.works.due import DueCounts, due_counts

_FIRST_GAPS = 10
_FIRST_REOPENED = 5
_FIRST_DUE = 5


@dataclass(frozen=True, slots=True)
class CoverageCount:
    """Zones of one coverage. `area_unknown` zones have no recorded area and add nothing."""

    coverage: Coverage
    by_inference: bool
    zones: int
    area_m2: float
    area_unknown: int


@dataclass(frozen=True, slots=True)
class BandCount:
    """The zones of one height band by coverage, worst first. No key: height unknown."""

    key: str
    label: str
    counts: tuple[CoverageCount, ...]

    @property
    def zones(self) -> int:
        return sum(count.zones for count in self.counts)


@dataclass(frozen=True, slots=True)
class ParameterCount:
    """At how many gaps a parameter is unknown, or in conflict."""

    key: str
    title: str
    is_decisive: bool
    zones: int


@dataclass(frozen=True, slots=True)
class Limit:
    """How many buildings could lie on either side of a height."""

    metres: float
    buildings: int


@dataclass(frozen=True, slots=True)
class NotRecorded:
    """Of how many buildings or zones nobody has said something."""

    heights: int
    either_side: tuple[Limit, ...]
    jurisdiction: int
    use: int
    evacuation: int
    buildings_without_zones: int
    zones_unsurveyed: int
    zones_in_conflict: int
    zones_not_computed: int


@dataclass(frozen=True, slots=True)
class Overview:
    """Everything on the overview, for one viewer."""

    buildings: int
    zones: int
    counts: tuple[CoverageCount, ...]
    bands: tuple[BandCount, ...]
    unknowns: tuple[ParameterCount, ...]
    conflicts: tuple[ParameterCount, ...]
    not_recorded: NotRecorded
    first_gaps: tuple[GapRow, ...]
    reopened: ToLookAt
    rulings: RulingList
    """Decisions to look at again."""
    works_due: DueCounts

    @property
    def gaps(self) -> int:
        return sum(count.zones for count in self.counts if count.coverage.is_gap)

    @property
    def area_m2(self) -> float:
        return sum(count.area_m2 for count in self.counts)

    @property
    def area_unknown(self) -> int:
        return sum(count.area_unknown for count in self.counts)


def overview(session: Session, viewer: Viewer, on: date) -> Overview:
    """Count the viewer's portfolio; what is overdue and due soon is so on that day."""
    by_band = overview_counts.coverage_by_band(session, viewer)
    buildings = overview_counts.buildings(session, viewer)
    zones = overview_counts.zones(session, viewer)
    return Overview(
        buildings.buildings,
        zones.zones,
        _counts(by_band),
        _bands(by_band),
        _parameters(overview_counts.parameters(session, viewer, Missing.UNKNOWN)),
        _parameters(overview_counts.parameters(session, viewer, Missing.CONFLICT)),
        _not_recorded(session, viewer, buildings, zones, sum(row.zones for row in by_band)),
        first_gaps(session, viewer, GapFilter(), limit=_FIRST_GAPS),
        reopened(session, viewer, limit=_FIRST_REOPENED),
        list_rulings(session, viewer, on, limit=_FIRST_REOPENED),
        due_counts(session, viewer, on, first=_FIRST_DUE),
    )


def _counts(rows: Sequence[Any]) -> tuple[CoverageCount, ...]:
    """One count for each coverage, worst first, also where there is none."""
    found = []
    for coverage, by_inference in WORST_FIRST:
        mine = [r for r in rows if (r.coverage, r.by_inference) == (coverage, by_inference)]
        found.append(
            CoverageCount(
                coverage,
                by_inference,
                sum(row.zones for row in mine),
                sum(row.area_m2 for row in mine),
                sum(row.area_unknown for row in mine),
            )
        )
    return tuple(found)


def _bands(rows: Sequence[Any]) -> tuple[BandCount, ...]:
    """The bands from the tallest down; what has no height stands first, like any unknown."""
    tallest_first = sorted(load_reference().order.bands, key=lambda band: -band.from_m)
    labels = {"": "height unknown"} | {band.key: band.label for band in tallest_first}
    return tuple(
        BandCount(key, label, _counts([row for row in rows if row.band == key]))
        for key, label in labels.items()
    )


def _parameters(counted: Sequence[tuple[str, int]]) -> tuple[ParameterCount, ...]:
    """Most zones first; of as many, decisive ones first, then from the inside of the wall out."""
    places = {key: place for place, key in enumerate(PARAMETERS)}
    known = [
        ParameterCount(key, PARAMETERS[key].title, PARAMETERS[key].is_decisive, zones)
        for key, zones in counted
    ]
    return tuple(sorted(known, key=lambda p: (-p.zones, not p.is_decisive, places[p.key])))


def _not_recorded(
    session: Session, viewer: Viewer, buildings: Any, zones: Any, computed: int
) -> NotRecorded:
    limits = [band for band in load_reference().order.bands if band.from_m > 0]
    either = overview_counts.either_side(session, viewer, limits)
    return NotRecorded(
        buildings.height,
        tuple(Limit(band.from_m, n) for band, n in zip(limits, either, strict=True)),
        buildings.jurisdiction,
        buildings.use,
        buildings.evacuation,
        buildings.zones,
        zones.unsurveyed,
        buildings.in_conflict,
        zones.zones - computed,
    )

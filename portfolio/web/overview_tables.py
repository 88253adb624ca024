"""The numbers of the overview as tables for files."""

from __future__ import annotations

from collections.abc import Sequence

from portfolio.services.overview import CoverageCount, Overview, ParameterCount
from portfolio.sheets.writing import Cell, Table
from portfolio.web.words import coverage_mark

TITLES = (
    "Coverage",
    "Coverage by height",
    "Unknown at gaps",
    "In conflict at gaps",
    "Not recorded",
    "Works due",
)


def tables(found: Overview) -> list[Table]:
    """One table for each picture or list of the overview."""
    return [
        Table(TITLES[0], ("Coverage", "Zones", "Area (m²)", "Zones without area"), _counts(found)),
        Table(TITLES[1], ("Height", *_coverage_labels(found.counts), "All zones"), _bands(found)),
        Table(TITLES[2], ("Parameter", "Gaps"), _parameters(found.unknowns)),
        Table(TITLES[3], ("Parameter", "Gaps"), _parameters(found.conflicts)),
        Table(TITLES[4], ("What nobody has said", "How many"), _not_recorded(found)),
        Table(TITLES[5], ("Dates of works", "Works"), _works_due(found)),
    ]


def _works_due(found: Overview) -> list[list[Cell]]:
    return [
        ["With something overdue", found.works_due.overdue],
        ["With something due within 30 days", found.works_due.soon],
    ]


def _coverage_labels(counts: Sequence[CoverageCount]) -> list[str]:
    return [coverage_mark(count.coverage, count.by_inference).label for count in counts]


def _counts(found: Overview) -> list[list[Cell]]:
    labels = _coverage_labels(found.counts)
    return [
        [label, count.zones, count.area_m2, count.area_unknown]
        for label, count in zip(labels, found.counts, strict=True)
    ]


def _bands(found: Overview) -> list[list[Cell]]:
    return [
        [band.label, *(count.zones for count in band.counts), band.zones] for band in found.bands
    ]


def _parameters(counted: Sequence[ParameterCount]) -> list[list[Cell]]:
    return [[count.title, count.zones] for count in counted]


def _not_recorded(found: Overview) -> list[list[Cell]]:
    missing = found.not_recorded
    either_side: list[list[Cell]] = [
        [f"Buildings that could lie on either side of {limit.metres:g} m", limit.buildings]
        for limit in missing.either_side
    ]
    return [
        ["Buildings without a height", missing.heights],
        *either_side,
        ["Buildings without a jurisdiction", missing.jurisdiction],
        ["Buildings without a use", missing.use],
        ["Buildings without a way of evacuation", missing.evacuation],
        ["Buildings without zones", missing.buildings_without_zones],
        ["Zones never surveyed", missing.zones_unsurveyed],
        ["Zones whose surveys are in conflict", missing.zones_in_conflict],
        ["Zones without an area", found.area_unknown],
        ["Zones not computed yet", missing.zones_not_computed],
    ]

"""The bars of the overview: coverage by zones, by façade area, and by height."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from flask import url_for
from markupsafe import Markup

from portfolio.drawings.bars import (
    BarRow,
    BarSegment,
    PlainBar,
    PlainBars,
    StackedBars,
    plain_bars,
    stacked_bars,
)
from portfolio.services.building_list import NOT_RECORDED
from portfolio.services.overview import BandCount, CoverageCount, Overview, ParameterCount
from portfolio.web.words import coverage_key

MOST_UNKNOWNS = 8


def charts(found: Overview) -> dict[str, Markup]:
    """The drawings by name. Each segment leads to the list of what it counts."""
    decisive = [unknown for unknown in found.unknowns if unknown.is_decisive]
    others = [unknown for unknown in found.unknowns if not unknown.is_decisive]
    return {
        "zones": _stacked("Coverage by zones", "zones", _whole("All zones", found, _zones)),
        "area": _stacked("Coverage by façade area", "area", _whole("Area", found, _area), "m²"),
        "bands": _stacked("Coverage by height", "bands", [_band(band) for band in found.bands]),
        "decisive": _unknowns(
            "Unknown, and decides which tests are relevant", "decisive", decisive
        ),
        "others": _unknowns("Otherwise unknown most often", "others", others[:MOST_UNKNOWNS]),
    }


def address(count: CoverageCount, band: str = "") -> str:
    """The list of the zones that a count counts."""
    coverage = coverage_key(count.coverage, by_inference=count.by_inference)
    return url_for("gaps.index", coverage=coverage, height_band=band or None)


def _stacked(title: str, name: str, rows: Sequence[BarRow], unit: str = "") -> Markup:
    return Markup(stacked_bars(StackedBars(title, tuple(rows), unit), id_prefix=f"chart-{name}"))


def _whole(label: str, found: Overview, amount: Callable[[CoverageCount], float]) -> list[BarRow]:
    return [BarRow(label, tuple(_segment(count, amount, address(count)) for count in found.counts))]


def _band(band: BandCount) -> BarRow:
    """Zones without a height can only be listed by their buildings."""
    unknown = url_for("buildings_list.index", height_band=NOT_RECORDED)
    segments = [
        _segment(count, _zones, address(count, band.key) if band.key else unknown)
        for count in band.counts
    ]
    return BarRow(band.label, tuple(segments))


def _segment(
    count: CoverageCount, amount: Callable[[CoverageCount], float], href: str
) -> BarSegment:
    key = coverage_key(count.coverage, by_inference=count.by_inference)
    return BarSegment(key, amount(count), href)


def _unknowns(title: str, name: str, counted: Sequence[ParameterCount]) -> Markup:
    rows = tuple(PlainBar(unknown.title, unknown.zones) for unknown in counted)
    return Markup(plain_bars(PlainBars(title, rows, "gaps"), id_prefix=f"chart-{name}"))


def _zones(count: CoverageCount) -> float:
    return count.zones


def _area(count: CoverageCount) -> float:
    return count.area_m2

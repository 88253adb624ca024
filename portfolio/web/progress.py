"""How the portfolio moves: counts of every day, as bars and as a table."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue
from markupsafe import Markup

from portfolio.domain.coverage import Coverage
from portfolio.domain.moving import BUILDINGS, FACTS, ZONES, DayCount, thinned
from portfolio.drawings.bars import BarRow, BarSegment, StackedBars, stacked_bars
from portfolio.drawings.marks import COVERAGES
from portfolio.services import building_list
from portfolio.services.progress import Progress, ProgressFilter, progress
from portfolio.sheets.writing import Cell, Table
from portfolio.web import downloads, filters, store
from portfolio.web.filters import Option, Query

blueprint = Blueprint("progress", __name__)

MOST_BARS = 14
_MEASURES: tuple[Option, ...] = ((ZONES, "Zones"), (BUILDINGS, "Buildings, by their worst zone"))
_MISSING: tuple[Option, ...] = (("unknown", "Facts not known"), ("conflict", "In conflict"))


@dataclass(frozen=True, slots=True)
class ShownDay:
    """A day's row: each coverage, all of them, the gaps, and what is missing at the gaps."""

    day: date
    coverages: tuple[int, ...]
    total: int
    gaps: int
    missing: tuple[int, ...]
    breaks: str


@blueprint.get("/progress")
def index() -> ResponseReturnValue:
    """Coverage and what is missing, day by day; all of it or a part of the buildings."""
    form = downloads.asked_format()
    with store.reading() as session:
        options = _options(building_list.choices(session, store.viewer()))
        query = Query()
        measure = query.choice("measure", _MEASURES, ZONES)
        chosen = {name: query.choice(name, allowed) for name, allowed in options.items()}
        query.check()
        found = progress(session, store.viewer(), ProgressFilter(**chosen), store.today())
    if form:
        return downloads.send("progress", [_table(found, measure)])
    return render_template(
        "progress/index.html",
        found=found,
        measure=measure,
        measures=_MEASURES,
        options=options,
        is_filtered=any(chosen.values()),
        marks=COVERAGES,
        missing=_MISSING,
        days=[_shown(day, measure) for day in reversed(found.days)],
        now=_shown(found.now, measure),
        chart=_chart(found, measure),
        shown_bars=MOST_BARS,
        downloads=downloads.links(),
    )


def _options(choices: building_list.Choices) -> dict[str, list[Option]]:
    return {
        "owner": list(choices.owners),
        "jurisdiction": [(place, place) for place in choices.jurisdictions],
        "use": filters.use_options(),
        "height_band": filters.band_options(),
    }


def _shown(day: DayCount, measure: str) -> ShownDay:
    total = day.total(measure)
    return ShownDay(
        day.day,
        tuple(day.count(measure, key) for key in COVERAGES),
        total,
        total - day.count(measure, Coverage.COVERED.value),
        tuple(day.count(FACTS, key) for key, _ in _MISSING),
        "; ".join(day.breaks),
    )


def _chart(found: Progress, measure: str) -> Markup:
    rows = []
    for day in reversed(thinned(found.every, MOST_BARS)):
        label = "Now" if day is found.now else day.day.isoformat()
        words = f"{label}: {'; '.join(day.breaks)}" if day.breaks else label
        segments = tuple(BarSegment(key, day.count(measure, key)) for key in COVERAGES)
        rows.append(BarRow(words, segments))
    title = f"Coverage of {measure}, the latest first"
    bars = StackedBars(title, tuple(rows))
    return Markup(stacked_bars(bars, id_prefix="chart-progress", width=640))


def _table(found: Progress, measure: str) -> Table:
    headers = (
        "Day",
        *(mark.label for mark in COVERAGES.values()),
        "All",
        "Gaps",
        *(words for _, words in _MISSING),
        "What else changed",
    )
    rows: list[tuple[Cell, ...]] = []
    for day in reversed(found.every):
        row = _shown(day, measure)
        told = "now" if day is found.now else day.day.isoformat()
        rows.append((told, *row.coverages, row.total, row.gaps, *row.missing, row.breaks))
    return Table("Progress", headers, rows)

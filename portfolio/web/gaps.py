"""The list of gaps, each with the reasons that placed it."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from portfolio.domain.coverage import Coverage
from portfolio.reference.loader import load_reference
from portfolio.services import building_list
from portfolio.services.gaps import GapFilter, GapRow, list_gaps
from portfolio.sheets.writing import Cell, Table
from portfolio.web import downloads, filters, store, words
from portfolio.web.filters import Option, Query
from portfolio.web.paging import paging_of, wanted_page

blueprint = Blueprint("gaps", __name__)

_BEFORE_REASONS = (
    "Place",
    "Owner",
    "Building",
    "Name",
    "Zone",
    "Description",
    "Area (m²)",
    "Coverage",
    "A passing test covers it too",
    "Wall",
)
_AFTER_REASONS = ("Differs from the nearest test", "Not known", "In conflict", "Tests")


@blueprint.get("/gaps")
def index() -> ResponseReturnValue:
    """Zones that are not covered, in their order; a page of it, or the whole as a file."""
    with store.reading() as session:
        options = _options(building_list.choices(session, store.viewer()).owners)
        wanted = _read(options)
        form, page = downloads.asked_format(), wanted_page()
        limits = {} if form else {"limit": page.size, "offset": page.offset}
        found = list_gaps(session, store.viewer(), wanted, **limits)
    if form:
        return downloads.send("gaps" if wanted.gaps_only else "zones", [_table(found.rows)])
    return render_template(
        "gaps.html",
        rows=[shown(row) for row in found.rows],
        paging=paging_of(page, found.total),
        options=options,
        wanted=wanted,
        order=load_reference().order,
        order_note=load_reference().order_note,
        downloads=downloads.links(),
    )


@dataclass(frozen=True, slots=True)
class ShownGap:
    """A row with its reasons, one for each step of the order: (text, was unknown)."""

    row: GapRow
    steps: tuple[tuple[str, bool], ...]


def _options(owners: tuple[Option, ...]) -> dict[str, list[Option]]:
    """The choices of each filter; zones that are no gaps only on request."""
    covered, every = Coverage.COVERED.value, "all"
    gaps = [option for option in filters.coverage_options() if option[0] != covered]
    others = [(covered, "Covered by a test: no gaps"), (every, "All zones, gaps or not")]
    return {
        "coverage": [*gaps, *others],
        "height_band": filters.band_options(),
        "owner": list(owners),
    }


def _read(options: dict[str, list[Option]]) -> GapFilter:
    query = Query()
    text = query.text("text")
    chosen = {name: query.choice(name, allowed) for name, allowed in options.items()}
    query.check()
    coverage, by_inference = filters.coverage_parts(chosen["coverage"])
    gaps_only = coverage not in (Coverage.COVERED.value, "all")
    return GapFilter(
        "" if coverage == "all" else coverage,
        by_inference,
        chosen["height_band"],
        chosen["owner"],
        text,
        gaps_only,
    )


def shown(row: GapRow) -> ShownGap:
    """The row with its reasons as the table's columns show them."""
    return ShownGap(row, tuple(_step(reason) for reason in row.reasons))


def _step(reason: str) -> tuple[str, bool]:
    """The reason without the step's title, which the column has; and whether it is "unknown"."""
    title, _, text = reason.partition(": ")
    return text or title, text.startswith("unknown")


def _table(rows: tuple[GapRow, ...]) -> Table:
    steps = [step.title for step in load_reference().order.steps]
    titles = [f"Reason {place}: {title}" for place, title in enumerate(steps, start=1)]
    return Table(
        "Gaps",
        (*_BEFORE_REASONS, *titles, *_AFTER_REASONS),
        [_cells(row, len(steps)) for row in rows],
    )


def _cells(row: GapRow, steps: int) -> list[Cell]:
    reasons = [_step(reason)[0] for reason in row.reasons[:steps]]
    return [
        row.rank,
        row.owner,
        row.building_ref,
        row.building_name,
        row.zone_ref,
        row.zone_description,
        row.area_m2,
        words.coverage_mark(row.coverage, row.by_inference).label,
        row.covered_too,
        row.wall_text,
        *reasons,
        *([None] * (steps - len(reasons))),
        *("; ".join(words.titles(keys)) for keys in (row.differences, row.unknowns, row.conflicts)),
        "; ".join(row.tests),
    ]

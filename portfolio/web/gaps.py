"""The list of gaps, each with the reasons that placed it."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from portfolio.domain.coverage import Coverage
from portfolio.domain.priorities import AT_WORST, GapOrder
from portfolio.reference.loader import HOUSE
from portfolio.services import building_list
from portfolio.services.gaps import GapFilter, GapRow, list_placed_gaps
from portfolio.services.orders.known import KnownOrder, known_orders
from portfolio.sheets.writing import Cell, Table
from portfolio.web import downloads, filters, store, words
from portfolio.web.filters import Option, Query
from portfolio.web.paging import paging_of, wanted_page

blueprint = Blueprint("gaps", __name__)

_BEFORE_REASONS = (
    "Place",
    "Could be from",
    "Could be to",
    "Not known for certain",
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
        orders = known_orders(session, store.viewer())
        options = _options(building_list.choices(session, store.viewer()).owners, orders)
        wanted, name = _read(options)
        known = orders[name or HOUSE]
        form, page = downloads.asked_format(), wanted_page()
        limits = {} if form else {"limit": page.size, "offset": page.offset}
        found = list_placed_gaps(session, store.viewer(), wanted, known, **limits)
    order = known.order
    if form:
        table = _table(found.rows, order)
        return downloads.send("gaps" if wanted.gaps_only else "zones", [table])
    return render_template(
        "gaps.html",
        rows=[shown(row) for row in found.rows],
        paging=paging_of(page, found.total),
        options=options,
        wanted=wanted,
        known=known,
        order=order,
        downloads=downloads.links(),
    )


@dataclass(frozen=True, slots=True)
class ShownGap:
    """A row with its reasons, one for each step of the order: (text, was unknown)."""

    row: GapRow
    steps: tuple[tuple[str, bool], ...]


def _options(owners: tuple[Option, ...], orders: dict[str, KnownOrder]) -> dict[str, list[Option]]:
    """The choices of each filter; zones that are no gaps only on request."""
    covered, every = Coverage.COVERED.value, "all"
    gaps = [option for option in filters.coverage_options() if option[0] != covered]
    others = [(covered, "Covered by a test: no gaps"), (every, "All zones, gaps or not")]
    return {
        "coverage": [*gaps, *others],
        "height_band": filters.band_options(),
        "owner": list(owners),
        "order": [(name, known.order.title) for name, known in orders.items()],
    }


def _read(options: dict[str, list[Option]]) -> tuple[GapFilter, str]:
    """What to keep, and the name of the order; "" for the house order."""
    query = Query()
    text = query.text("text")
    chosen = {name: query.choice(name, allowed) for name, allowed in options.items()}
    query.check()
    coverage, by_inference = filters.coverage_parts(chosen["coverage"])
    gaps_only = coverage not in (Coverage.COVERED.value, "all")
    wanted = GapFilter(
        "" if coverage == "all" else coverage,
        by_inference,
        chosen["height_band"],
        chosen["owner"],
        text,
        gaps_only,
    )
    return wanted, chosen["order"]


def shown(row: GapRow) -> ShownGap:
    """The row with its reasons as the table's columns show them."""
    return ShownGap(row, tuple(_step(reason) for reason in row.reasons))


def _step(reason: str) -> tuple[str, bool]:
    """The reason without the step's title, which the column has; and whether it is "unknown"."""
    title, _, text = reason.partition(": ")
    return text or title, text.startswith("unknown") or AT_WORST in text


def _table(rows: tuple[GapRow, ...], order: GapOrder) -> Table:
    steps = [step.title for step in order.steps]
    titles = [f"Reason {place}: {title}" for place, title in enumerate(steps, start=1)]
    return Table(
        "Gaps",
        (*_BEFORE_REASONS, *titles, *_AFTER_REASONS),
        [_cells(row, len(steps)) for row in rows],
    )


def _cells(row: GapRow, steps: int) -> list[Cell]:
    reasons = [_step(reason)[0] for reason in row.reasons[:steps]]
    placed = row.placed
    return [
        row.rank,
        placed.first if placed else None,
        placed.last if placed else None,
        "; ".join(fact.words for fact in placed.unknown) if placed else None,
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

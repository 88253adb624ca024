"""The list of buildings."""

from __future__ import annotations

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from portfolio.reference.loader import EVACUATION, SPRINKLERS, load_reference
from portfolio.services import building_list
from portfolio.services.building_list import BuildingFilter, BuildingRow, Choices
from portfolio.sheets.writing import Cell, Table
from portfolio.web import downloads, filters, store, words
from portfolio.web.filters import Option, Query
from portfolio.web.paging import paging_of, wanted_page

blueprint = Blueprint("buildings_list", __name__)

ORDER_OPTIONS: list[Option] = [
    ("first", "what comes first"),
    ("ref", "reference"),
    ("name", "name"),
    ("height", "height, unknown first"),
    ("people", "people, unknown first"),
    ("gaps", "number of gaps"),
]
HEADERS = (
    "Owner",
    "Building",
    "Name",
    "Address",
    "Jurisdiction",
    "Use",
    "Coverage of the worst zone",
    "Zones",
    "Gaps",
    "Top floor height (m)",
    "Height band",
    "Storeys",
    "People",
    "People are estimated",
    "Evacuation",
    "Sprinklers",
)


@blueprint.get("/buildings")
def index() -> ResponseReturnValue:
    """Search, filter, sort; a page of it, or the whole as a file."""
    with store.reading() as session:
        options = _options(building_list.choices(session, store.viewer()))
        wanted, order = _read(options)
        form, page = downloads.asked_format(), wanted_page()
        limits = {} if form else {"limit": page.size, "offset": page.offset}
        found = building_list.list_buildings(session, store.viewer(), wanted, order=order, **limits)
    if form:
        return downloads.send("buildings", [_table(found.rows)])
    return render_template(
        "buildings.html",
        rows=found.rows,
        paging=paging_of(page, found.total),
        options=options,
        labels=_labels(),
        downloads=downloads.links(),
    )


def _options(choices: Choices) -> dict[str, list[Option]]:
    """The choices of each filter."""
    places = [(place, place) for place in choices.jurisdictions]
    return {
        "coverage": filters.coverage_options(),
        "height_band": filters.with_not_recorded(
            [*filters.band_options(), *filters.either_side_options()]
        ),
        "owner": list(choices.owners),
        "use": filters.with_not_recorded(filters.use_options()),
        "jurisdiction": filters.with_not_recorded(places),
        "evacuation": filters.with_not_recorded(filters.evacuation_options()),
        "order": ORDER_OPTIONS,
    }


def _read(options: dict[str, list[Option]]) -> tuple[BuildingFilter, str]:
    query = Query()
    text = query.text("text")
    chosen = {name: query.choice(name, allowed) for name, allowed in options.items()}
    query.check()
    coverage, by_inference = filters.coverage_parts(chosen.pop("coverage"))
    order = chosen.pop("order") or ORDER_OPTIONS[0][0]
    band, either_side_of_m = filters.height_parts(chosen.pop("height_band"))
    wanted = BuildingFilter(text, coverage, by_inference, band, either_side_of_m, **chosen)
    return wanted, order


def _labels() -> dict[str, dict[str, str]]:
    return {
        "use": {key: use.label for key, use in load_reference().uses.items()},
        "height_band": dict(filters.band_options()),
        "evacuation": EVACUATION,
        "sprinklers": SPRINKLERS,
    }


def _table(rows: tuple[BuildingRow, ...]) -> Table:
    labels = _labels()
    return Table("Buildings", HEADERS, [_cells(row, labels) for row in rows])


def _cells(row: BuildingRow, labels: dict[str, dict[str, str]]) -> list[Cell]:
    return [
        row.owner_name,
        row.ref,
        row.name,
        row.address,
        row.jurisdiction,
        labels["use"].get(row.use, row.use),
        words.coverage_mark(row.coverage, row.by_inference).label,
        row.zones,
        row.gaps,
        row.top_floor_height_m,
        labels["height_band"].get(row.height_band, row.height_band),
        row.storeys,
        row.people,
        row.people_are_estimated,
        labels["evacuation"].get(row.evacuation, row.evacuation),
        labels["sprinklers"].get(row.sprinklers, row.sprinklers),
    ]

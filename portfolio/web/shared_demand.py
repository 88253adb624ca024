"""Demand as a laboratory sees it: what owners share, and no more than they let it."""

from __future__ import annotations

from flask import render_template
from flask.typing import ResponseReturnValue

from portfolio.services.shared_demand import (
    SharedGroup,
    SharedTest,
    shared_groups,
    shared_test,
)
from portfolio.sheets.writing import Cell, Table
from portfolio.web import downloads, store
from portfolio.web.filters import Query
from portfolio.web.paging import paging_of, wanted_page

_COUNTS = ("Zones", "Buildings", "Owners", "Area (m²)", "Zones without area", "Highest")
_CONTENTS = ("Parameter", "Values, most frequent first", "Zones where it is unknown")
_NAMED = ("Owner", "Building", "Address", "Zone", "Area (m²)")


def index() -> ResponseReturnValue:
    """The groups of gaps of all owners who share their demand."""
    Query().check()
    form, page = downloads.asked_format(), wanted_page()
    limits = {} if form else {"limit": page.size, "offset": page.offset}
    with store.reading() as session:
        found = shared_groups(session, store.viewer(), store.today(), **limits)
    if form:
        return downloads.send("demand", [groups_table(found.groups)])
    return render_template(
        "demand_shared.html",
        groups=found.groups,
        paging=paging_of(page, found.total),
        downloads=downloads.links(),
    )


def group(key: str) -> ResponseReturnValue:
    """One group, and those of its zones whose owners let themselves be named."""
    Query().check()
    with store.reading() as session:
        found = shared_test(session, store.viewer(), key, store.today())
    if downloads.asked_format():
        return downloads.send(f"demand-{key}", _tables(found))
    links = downloads.links("What a test would contain", "Zones that may be named")
    return render_template("demand_shared_group.html", found=found, downloads=links)


def groups_table(groups: tuple[SharedGroup, ...]) -> Table:
    """The groups as a table to download."""
    titles = [title for title, _ in groups[0].wall] if groups else []
    headers = ("Group", *(title.capitalize() for title in titles), *_COUNTS)
    return Table("Demand", headers, [_cells(found) for found in groups])


def _cells(found: SharedGroup) -> list[Cell]:
    return [
        found.key,
        *(text for _, text in found.wall),
        found.zones,
        found.buildings,
        found.owners,
        found.area_m2,
        found.area_unknown,
        found.highest,
    ]


def _tables(found: SharedTest) -> list[Table]:
    contents: list[list[Cell]] = [
        [title, "; ".join(texts), unknown] for title, texts, unknown in found.to_contain
    ]
    named: list[list[Cell]] = [
        [zone.owner, zone.building, zone.address, zone.zone, zone.area_m2] for zone in found.named
    ]
    return [
        Table("What a test would contain", _CONTENTS, contents),
        Table("Zones that may be named", _NAMED, named),
    ]

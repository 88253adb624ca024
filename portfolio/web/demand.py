"""Demand: walls alike without cover, and what one test of them would have to contain."""

from __future__ import annotations

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from portfolio.services.demand import DemandGroup, Member, WhatToTest, demand_groups, what_to_test
from portfolio.sheets.writing import Cell, Table
from portfolio.web import downloads, shared_demand, store
from portfolio.web.filters import Query
from portfolio.web.paging import paging_of, wanted_page

blueprint = Blueprint("demand", __name__)

MOST_ZONES = 200
"""Of a group, how many zones its page lists; a file has them all."""

_COUNTS = ("Zones", "Buildings", "Owners", "Area (m²)", "Zones without area", "Highest (m)")
_MEMBERS = ("Owner", "Building", "Name", "Zone", "Description", "Area (m²)", "Top floor (m)")
_CONTENTS = ("Parameter", "Values, most frequent first", "Zones where it is unknown")


@blueprint.get("/demand")
def index() -> ResponseReturnValue:
    """Groups of gaps with walls alike; a page of them, or all as a file."""
    if store.viewer().is_laboratory:
        return shared_demand.index()
    Query().check()
    form, page = downloads.asked_format(), wanted_page()
    limits = {} if form else {"limit": page.size, "offset": page.offset}
    with store.reading() as session:
        found = demand_groups(session, store.viewer(), store.today(), **limits)
    if form:
        return downloads.send("demand", [_groups_table(found.groups)])
    return render_template(
        "demand.html",
        groups=found.groups,
        paging=paging_of(page, found.total),
        downloads=downloads.links(),
    )


@blueprint.get("/demand/<key>")
def group(key: str) -> ResponseReturnValue:
    """One group: its wall, what a test would have to contain, and the zones it would speak of."""
    if store.viewer().is_laboratory:
        return shared_demand.group(key)
    Query().check()
    with store.reading() as session:
        most = None if downloads.asked_format() else MOST_ZONES
        found = what_to_test(session, store.viewer(), key, store.today(), most=most)
    if downloads.asked_format():
        return downloads.send(f"demand-{key}", _tables(found))
    links = downloads.links("What a test would contain", "Zones")
    return render_template("demand_group.html", found=found, downloads=links)


def _groups_table(groups: tuple[DemandGroup, ...]) -> Table:
    titles = [title for title, _ in groups[0].wall] if groups else []
    headers = ("Group", *(title.capitalize() for title in titles), *_COUNTS)
    return Table("Demand", headers, [_group_cells(found) for found in groups])


def _group_cells(found: DemandGroup) -> list[Cell]:
    return [
        found.key,
        *(text for _, text in found.wall),
        found.zones,
        found.buildings,
        found.owners,
        found.area_m2,
        found.area_unknown,
        found.highest_m,
    ]


def _tables(found: WhatToTest) -> list[Table]:
    contents: list[list[Cell]] = [
        [title, "; ".join(texts), unknown] for title, texts, unknown in found.to_contain
    ]
    members = [_member_cells(member) for member in found.members]
    return [
        Table("What a test would contain", _CONTENTS, contents),
        Table("Zones", _MEMBERS, members),
    ]


def _member_cells(member: Member) -> list[Cell]:
    return [
        member.owner,
        member.building_ref,
        member.building_name,
        member.zone_ref,
        member.zone_description,
        member.area_m2,
        member.top_floor_height_m,
    ]

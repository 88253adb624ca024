"""What to find out over the whole portfolio, by the way to find it, and at which zones."""

from __future__ import annotations

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from portfolio.domain.errors import InputError, Problem
from portfolio.domain.findings import Way
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.settling import ToFind
from portfolio.services.find_out import FindOut, ZonesToFind, find_out, zones_to_find
from portfolio.sheets.writing import Table
from portfolio.web import downloads, store
from portfolio.web.filters import Query
from portfolio.web.paging import paging_of, wanted_page

blueprint = Blueprint("find_out", __name__)

_FACTS = (
    "Place",
    "Fact",
    "Way to find it",
    "Where",
    "Zones with it in a smallest set",
    "The only thing missing at",
    "Area (m²)",
    "Zones without area",
    "Buildings",
    "Zones that could be settled with this and all before it",
)
_ZONES = (
    "Fact",
    "Way to find it",
    "Where",
    "Owner",
    "Building",
    "Name",
    "Zone",
    "Description",
    "Area (m²)",
    "The only thing missing",
)
_WAYS = {way.key: way for way in Way}


@blueprint.get("/find-out")
def index() -> ResponseReturnValue:
    """Every fact that could help to settle a zone, in the order in which to find them."""
    form = downloads.asked_format()
    with store.reading() as session:
        found = find_out(session, store.viewer())
    if form:
        return downloads.send("find-out", [_facts(found)])
    return render_template("find_out/facts.html", found=found, downloads=downloads.links())


@blueprint.get("/find-out/zones")
def zones() -> ResponseReturnValue:
    """The zones at which ?parameter=, found by ?way=, is in a smallest set."""
    query = Query()
    parameter = query.choice("parameter", [(key, p.title) for key, p in PARAMETERS.items()])
    way = query.choice("way", [(key, way.words) for key, way in _WAYS.items()])
    query.check()
    if not (parameter and way):
        raise InputError([Problem("No fact is named.", "a parameter, and a way to find it")])
    form, page = downloads.asked_format(), wanted_page()
    limits = {} if form else {"limit": page.size, "offset": page.offset}
    fact = ToFind(parameter, _WAYS[way])
    with store.reading() as session:
        found = zones_to_find(session, store.viewer(), fact, **limits)
    if form:
        return downloads.send("find-out-zones", [_zones(fact, found)])
    return render_template(
        "find_out/zones.html",
        fact=fact,
        rows=found.rows,
        paging=paging_of(page, found.total),
        downloads=downloads.links(),
    )


def _facts(found: FindOut) -> Table:
    return Table(
        "Facts",
        _FACTS,
        [
            (
                row.place,
                PARAMETERS[row.fact.parameter].title,
                row.fact.way.words,
                row.fact.where,
                row.zones,
                row.alone,
                row.area_m2,
                row.area_unknown,
                row.buildings,
                row.completed,
            )
            for row in found.facts
        ],
    )


def _zones(fact: ToFind, found: ZonesToFind) -> Table:
    what = PARAMETERS[fact.parameter].title, fact.way.words, fact.where
    return Table(
        "Zones",
        _ZONES,
        [
            (
                *what,
                row.owner,
                row.building_ref,
                row.building_name,
                row.zone_ref,
                row.zone_description,
                row.area_m2,
                row.is_alone,
            )
            for row in found.rows
        ],
    )

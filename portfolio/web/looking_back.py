"""A building as it was known on an earlier day, and its evidence pack of that day."""

from __future__ import annotations

from datetime import date

from flask import Blueprint, Response, render_template, request
from flask.typing import ResponseReturnValue

from portfolio.domain.errors import InputError, Problem
from portfolio.services.looking_back import look_back, pack_looking_back
from portfolio.services.orders.pages import orders_on
from portfolio.services.route_words import told_route
from portfolio.web import downloads, labels, store

blueprint = Blueprint("looking_back", __name__)


@blueprint.get("/buildings/<int:building_id>/as-of")
def show(building_id: int) -> ResponseReturnValue:
    """The building, its zones and their coverage at the end of a day."""
    day = _day()
    with store.reading() as session:
        found = look_back(session, store.viewer(), building_id, day, today=store.today())
        orders = orders_on(session, store.viewer(), day)
        return render_template(
            "details/as_of.html", found=found, labels=labels, route=told_route, orders=orders
        )


@blueprint.get("/buildings/<int:building_id>/as-of/pack.xlsx")
def pack(building_id: int) -> Response:
    """The evidence pack as it would have been."""
    day = _day()
    with store.reading() as session:
        made = pack_looking_back(session, store.viewer(), building_id, day, today=store.today())
    name = f"evidence-{building_id}-as-of-{day.isoformat()}.xlsx"
    return downloads.pack(made, name)


def _day() -> date:
    text = request.args.get("day", "")
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        expected = "a date such as 2026-03-01"
        problem = Problem("This is no day.", expected, column="day", value=text[:20])
        raise InputError([problem]) from error
    if day > store.today():
        raise InputError([Problem("This day has not come yet.", column="day", value=text[:20])])
    return day

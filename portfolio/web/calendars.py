"""Addresses to subscribe to the days of works, and the calendar behind one."""

from __future__ import annotations

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from portfolio.domain.rights import Right
from portfolio.services.works.calendar import calendar_of, links, make_link, withdraw_link
from portfolio.web import store
from portfolio.web.filters import Query

blueprint = Blueprint("calendars", __name__)

ICS = "text/calendar; charset=utf-8"


@blueprint.get("/calendar")
def index() -> ResponseReturnValue:
    """One's addresses, and how to make one."""
    Query().check()
    return _page("")


@blueprint.post("/calendar")
def make() -> ResponseReturnValue:
    """Make an address, and show it this once."""
    for_organisation = request.form.get("for") == "organisation"
    with store.writing() as session:
        token = make_link(session, store.viewer(), store.today(), for_organisation=for_organisation)
    return _page(url_for("calendars.feed", token=token, _external=True))


@blueprint.post("/calendar/<int:link_id>/withdraw")
def withdraw(link_id: int) -> ResponseReturnValue:
    """Let an address open nothing any more."""
    with store.writing() as session:
        withdraw_link(session, store.viewer(), link_id, store.today())
    flash("The address opens nothing any more.", "success")
    return redirect(url_for("calendars.index"))


@blueprint.get("/calendar/<token>.ics")
def feed(token: str) -> ResponseReturnValue:
    """The calendar of an address; whoever has the address needs no signing in."""
    with store.reading() as session:
        text = calendar_of(session, token, store.today(), store.now())
    return Response(text, content_type=ICS)


def _page(address: str) -> str:
    viewer = store.viewer()
    with store.reading() as session:
        found = links(session, viewer)
    return render_template(
        "works/calendar.html",
        rows=found,
        address=address,
        may_for_all=Right.ADMINISTER in viewer.rights,
    )

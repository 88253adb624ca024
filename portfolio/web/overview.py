"""The overview: the portfolio in pictures, each with its numbers and how they came about."""

from __future__ import annotations

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from portfolio.reference.loader import load_reference
from portfolio.services.overview import overview
from portfolio.web import downloads, overview_charts, overview_tables, store, to_look_at, words
from portfolio.web.filters import Query
from portfolio.web.gaps import shown

blueprint = Blueprint("overview", __name__)


@blueprint.get("/")
def index() -> ResponseReturnValue:
    """Totals, coverage, what is unknown, what comes first; or the tables as a file."""
    Query().check()
    form = downloads.asked_format()
    with store.reading() as session:
        found = overview(session, store.viewer(), store.today())
    if form:
        return downloads.send("overview", overview_tables.tables(found))
    return render_template(
        "overview.html",
        found=found,
        charts=overview_charts.charts(found),
        address=overview_charts.address,
        share=words.share,
        today=store.today(),
        gaps=[shown(row) for row in found.first_gaps],
        order=load_reference().order,
        reopened_address=to_look_at.address,
        downloads=downloads.links(*overview_tables.TITLES),
    )

"""Works on pages: those of one building, all of them, and the figures of a release."""

from __future__ import annotations

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from portfolio.domain.rights import Right
from portfolio.domain.works_due import Lateness
from portfolio.domain.works_figures import FORM_SOURCE
from portfolio.reference.loader import load_reference
from portfolio.services.documents.listing import documents_of_building
from portfolio.services.history import history_of_works
from portfolio.services.works.figures import figures
from portfolio.services.works.listing import (
    WorksFilter,
    list_works,
    programmes,
    works_of_building,
)
from portfolio.web import downloads, labels, store, works_tables
from portfolio.web.filters import Option, Query
from portfolio.web.forms_works import DECIDED, STATUSES
from portfolio.web.paging import paging_of, wanted_page

blueprint = Blueprint("works", __name__)

_DUE: list[Option] = [
    (Lateness.OVERDUE.value, "overdue"),
    (Lateness.SOON.value, "due within 30 days"),
]


@blueprint.get("/works")
def index() -> ResponseReturnValue:
    """All works, filtered; a page of them, or all as a file."""
    query = Query()
    with store.reading() as session:
        named: list[Option] = [(name, name) for name in programmes(session, store.viewer())]
    wanted = WorksFilter(
        query.text("text"),
        query.choice("status", STATUSES),
        query.choice("decided", DECIDED),
        query.choice("programme", named),
        query.choice("due", _DUE),
    )
    query.check()
    form, page = downloads.asked_format(), wanted_page()
    limits = {} if form else {"limit": page.size, "offset": page.offset}
    with store.reading() as session:
        found = list_works(session, store.viewer(), wanted, store.today(), **limits)
    if form:
        return downloads.send("works", [works_tables.works(found.rows)])
    return render_template(
        "works/list.html",
        rows=found.rows,
        paging=paging_of(page, found.total),
        options={"status": STATUSES, "decided": DECIDED, "programme": named, "due": _DUE},
        downloads=downloads.links(),
    )


@blueprint.get("/works/figures")
def release() -> ResponseReturnValue:
    """The figures in the form of the government's release."""
    Query().check()
    form = downloads.asked_format()
    with store.reading() as session:
        found = figures(session, store.viewer())
    if form:
        return downloads.send("works-figures", [works_tables.figures(found)])
    return render_template(
        "works/figures.html", found=found, source=FORM_SOURCE, downloads=downloads.links()
    )


@blueprint.get("/buildings/<int:building_id>/works")
def of_building(building_id: int) -> ResponseReturnValue:
    """A building's works, with their statuses, measures, days and documents; or as a file."""
    Query().check()
    form, viewer = downloads.asked_format(), store.viewer()
    with store.reading() as session:
        found = works_of_building(session, viewer, building_id, store.today())
        history = history_of_works(session, viewer, [one.line.row.id for one in found.works])
        documents = documents_of_building(session, viewer, building_id, store.today())
    if form:
        return downloads.send(f"works-{found.building.ref}", works_tables.of_building(found))
    owner = found.building.organisation_id
    return render_template(
        "works/building.html",
        found=found,
        history=history,
        documents=documents,
        deadlines=load_reference().deadlines,
        labels=labels,
        may_edit=viewer.may(Right.EDIT, owner, building_id),
        downloads=downloads.links(*works_tables.OF_BUILDING),
    )

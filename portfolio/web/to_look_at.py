"""What was re-opened because evidence changed: the list, and saying that one was looked at."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from portfolio.db.life import Concerned, Reopened
from portfolio.services.ruling_review import list_rulings
from portfolio.services.to_look_at import ToLookAt, looked_at, reopened
from portfolio.sheets.writing import Table
from portfolio.web import downloads, store, words
from portfolio.web.filters import Query
from portfolio.web.paging import paging_of, wanted_page

blueprint = Blueprint("to_look_at", __name__)

_STATES = [("open", "still to be looked at"), ("all", "all")]
_HEADERS = (
    "What",
    "Which",
    "Pack made by",
    "Because",
    "Since",
    "Coverage before",
    "Coverage after",
    "Looked at on",
    "By",
    "Found",
)


@blueprint.get("/reopened")
def index() -> ResponseReturnValue:
    """The list, newest first; a page of it, or the whole as a file."""
    query = Query()
    open_only = query.choice("state", _STATES, "open") == "open"
    query.check()
    form, page = downloads.asked_format(), wanted_page()
    limits = {} if form else {"limit": page.size, "offset": page.offset}
    with store.reading() as session:
        found = reopened(session, store.viewer(), open_only=open_only, **limits)
        rulings = list_rulings(session, store.viewer(), store.today(), limit=0).total
    if form:
        return downloads.send("re-opened", [_table(found)])
    return render_template(
        "reopened.html",
        rows=found.rows,
        makers=found.makers,
        rulings=rulings,
        paging=paging_of(page, found.total),
        states=_STATES,
        address=address,
        downloads=downloads.links(),
    )


@blueprint.post("/reopened/<int:row_id>/looked-at")
def look(row_id: int) -> ResponseReturnValue:
    """Say that one was looked at again, and what was found."""
    note = request.form.get("note", "")[:2000]
    with store.writing() as session:
        row = looked_at(session, store.viewer(), row_id, note, store.today())
        flash(f"{row.subject_ref} was looked at again.", "success")
    return redirect(url_for("to_look_at.index"))


def address(row: Reopened) -> str:
    """Where the thing is."""
    if row.subject is Concerned.ZONE:
        return url_for("zone.show", zone_id=row.subject_id)
    if row.subject is Concerned.TEST:
        return url_for("evidence.show", test_id=row.subject_id)
    if row.subject is Concerned.CERTIFICATE:
        return url_for("certificates.show", certificate_id=row.subject_id)
    anchor = f"pack-{row.subject_id}"
    return url_for("building.show", building_id=row.building_id, _anchor=anchor)


def _table(found: ToLookAt) -> Table:
    return Table(
        "Re-opened",
        _HEADERS,
        [
            (
                row.subject.value,
                row.subject_ref,
                found.makers.get(row.id, ""),
                row.because,
                row.on,
                _label(row.before),
                _label(row.after),
                row.looked_on,
                row.looked_by,
                row.note,
            )
            for row in found.rows
        ],
    )


def _label(value: str) -> str:
    return words.coverage_mark(value).label if value else ""

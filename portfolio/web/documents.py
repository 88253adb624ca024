"""The list of documents, one document with its file, and what of a building lacks one."""

from __future__ import annotations

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from flask_wtf import FlaskForm

from portfolio.domain.documents import RASTER
from portfolio.services.documents.adding import detach as take_back
from portfolio.services.documents.contents import contents_for
from portfolio.services.documents.facts import Place
from portfolio.services.documents.listing import (
    NOTHING,
    DocumentFilter,
    DocumentLine,
    document_line,
    list_documents,
)
from portfolio.services.documents.missing import MissingSupport, missing_support
from portfolio.services.documents.seeing import read_document
from portfolio.services.handing_out import log_export
from portfolio.services.kept_logs import may_be_log
from portfolio.sheets.writing import Cell, Table
from portfolio.web import downloads, labels, store
from portfolio.web.filters import Option, Query
from portfolio.web.paging import paging_of, wanted_page

blueprint = Blueprint("documents", __name__)

_OPTIONS: dict[str, list[Option]] = {
    "kind": list(labels.DOCUMENT_KINDS.items()),
    "supports": [*labels.FACT_KINDS.items(), (NOTHING, "nothing")],
}
HEADERS = (
    "Document",
    "File",
    "Kind",
    "Reference",
    "Date",
    "Supports",
    "Seen by",
    "Held by",
    "Added by",
    "Added on",
    "Size (bytes)",
    "Media type",
    "SHA-256",
)
MISSING_HEADERS = ("Building", "Zone", "What", "Fact")


@blueprint.get("/documents")
def index() -> ResponseReturnValue:
    """The documents that may be seen; a page of them, or all as a file."""
    wanted, form, page = _read(), downloads.asked_format(), wanted_page()
    limits = {} if form else {"limit": page.size, "offset": page.offset}
    with store.reading() as session:
        found = list_documents(session, store.viewer(), wanted, store.today(), **limits)
    if form:
        rows = [_cells(line) for line in found.rows]
        return downloads.send("documents", [Table("Documents", HEADERS, rows)])
    return render_template(
        "documents/list.html",
        rows=found.rows,
        paging=paging_of(page, found.total),
        options=_OPTIONS,
        labels=labels,
        downloads=downloads.links(),
    )


def _read() -> DocumentFilter:
    query = Query()
    text = query.text("text")
    chosen = {name: query.choice(name, options) for name, options in _OPTIONS.items()}
    query.check()
    return DocumentFilter(text, **chosen)


def _cells(line: DocumentLine) -> list[Cell]:
    row = line.row
    return [
        row.id,
        row.file_name,
        row.kind.value,
        row.reference,
        row.on.isoformat() if row.on else "",
        "; ".join(support.words for support in line.supports),
        labels.SEEN_BY[row.seen_by.value],
        line.owner,
        line.added_by,
        row.added_on.isoformat(),
        row.size,
        row.media,
        row.sha256,
    ]


@blueprint.get("/documents/<int:document_id>")
def show(document_id: int) -> ResponseReturnValue:
    """One document, and what it supports."""
    with store.reading() as session:
        line = document_line(session, store.viewer(), document_id, store.today())
    return render_template(
        "documents/document.html",
        line=line,
        labels=labels,
        form=FlaskForm(),
        address_of=address_of,
        is_image=line.row.media in RASTER,
        may_be_log=may_be_log(line.row.file_name),
    )


@blueprint.get("/documents/<int:document_id>/file")
def file(document_id: int) -> ResponseReturnValue:
    """The file as it was added. Images that hold pixels only are shown, all else is saved."""
    with store.reading() as session:
        contents = contents_for(store.engine())
        found = read_document(session, store.viewer(), contents, document_id, store.today())
    with store.writing() as session:
        log_export(session, store.viewer(), f"document {document_id}, {found.name}")
    response = Response(found.content, content_type=found.media)
    how = "inline" if found.media in RASTER else "attachment"
    response.headers.set("Content-Disposition", how, filename=found.name)
    return response


@blueprint.post("/documents/supports/<int:support_id>/detach")
def detach(support_id: int) -> ResponseReturnValue:
    """Take back that a document supports a fact, and go to the fact."""
    reason = request.form.get("reason", "")
    with store.writing() as session:
        place = take_back(session, store.viewer(), support_id, reason, store.today())
    flash(f"The document no longer supports {place.full_words}.", "success")
    return redirect(address_of(place))


@blueprint.get("/buildings/<int:building_id>/missing-documents")
def missing(building_id: int) -> ResponseReturnValue:
    """What of a building no document supports."""
    form = downloads.asked_format()
    with store.reading() as session:
        found = missing_support(session, store.viewer(), building_id, store.today())
    if form:
        name = f"missing-documents-{found.building_ref}"
        return downloads.send(name, [_missing_table(found)])
    return render_template(
        "documents/missing.html",
        found=found,
        labels=labels,
        address_of=address_of,
        downloads=downloads.links(),
    )


def _missing_table(found: MissingSupport) -> Table:
    rows: list[list[Cell]] = [
        [place.building_ref, place.zone_ref, labels.FACT_KINDS[place.kind.value], place.words]
        for place in found.without
    ]
    return Table("Missing documents", MISSING_HEADERS, rows)


def address_of(place: Place) -> str:
    """The page on which a fact stands."""
    if place.zone_id is not None:
        return url_for("zone.show", zone_id=place.zone_id)
    if place.building_id is not None:
        return url_for("building.show", building_id=place.building_id)
    if place.test_id is not None:
        return url_for("evidence.show", test_id=place.test_id)
    return url_for("certificates.show", certificate_id=place.certificate_id)

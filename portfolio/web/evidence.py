"""The list of tests, the page of one test, and the forms that add or change one."""

from __future__ import annotations

from flask import Blueprint, render_template, request, url_for
from flask.typing import ResponseReturnValue

from portfolio.domain.evidence import Holding, Outcome, Standing
from portfolio.domain.leaning import Way
from portfolio.services.documents.listing import documents_of_test
from portfolio.services.editing import Saved
from portfolio.services.editing_buildings import owners_for
from portfolio.services.editing_tests import create_test, editable_test, save_test
from portfolio.services.evidence import SORTS, EvidenceFilter, list_evidence
from portfolio.services.record_page import record_page
from portfolio.web import downloads, evidence_table, labels, store
from portfolio.web.filters import Option, Query
from portfolio.web.forms_test import TestForm
from portfolio.web.paging import paging_of, wanted_page
from portfolio.web.saving import saved_or_shown

blueprint = Blueprint("evidence", __name__)

_OPTIONS: dict[str, list[Option]] = {
    "outcome": [(value.value, labels.word(value)) for value in Outcome],
    "standing": [(value.value, labels.word(value)) for value in Standing],
    "holding": [(value.value, labels.word(value)) for value in Holding],
    "leaning": [
        (Way.COVERS.value, "covers a zone"),
        (Way.AGAINST.value, "speaks against a zone"),
        (Way.IN_DOUBT.value, "could speak against a zone"),
        (Way.NEAREST.value, "comes nearest to a zone"),
    ],
    "sort": list(SORTS.items()),
}


@blueprint.get("/evidence")
def index() -> ResponseReturnValue:
    """The tests that may be seen; a page of them, or all as a file."""
    wanted, form, page = _read(), downloads.asked_format(), wanted_page()
    limits = {} if form else {"limit": page.size, "offset": page.offset}
    with store.reading() as session:
        found = list_evidence(session, store.viewer(), wanted, store.today(), **limits)
    if form:
        return downloads.send("evidence", [evidence_table.table(found.rows)])
    return render_template(
        "details/evidence.html",
        rows=found.rows,
        paging=paging_of(page, found.total),
        options=_OPTIONS,
        labels=labels,
        downloads=downloads.links(),
    )


def _read() -> EvidenceFilter:
    query = Query()
    chosen = {
        name: query.choice(name, options, "ref" if name == "sort" else "")
        for name, options in _OPTIONS.items()
    }
    wanted = EvidenceFilter(text=query.text("text"), **chosen)
    query.check()
    return wanted


@blueprint.get("/tests/<int:test_id>")
def show(test_id: int) -> ResponseReturnValue:
    """One test, and the zones that lean on it."""
    with store.reading() as session:
        page = record_page(session, store.viewer(), test_id, store.today())
        documents = documents_of_test(session, store.viewer(), test_id, store.today())
        return render_template("details/test.html", page=page, labels=labels, documents=documents)


@blueprint.route("/tests/new", methods=["GET", "POST"])
def new() -> ResponseReturnValue:
    """Add a test."""
    with store.reading() as session:
        holders = owners_for(session, store.viewer())
    form = TestForm.filled(None)
    form.offer_holders(holders)
    form.add_rows_if_asked(request.form)
    return saved_or_shown(
        form,
        "details/test_form.html",
        save=lambda session: create_test(
            session, store.viewer(), int(form.holder.data), form.facts(), store.today()
        ),
        to=_address,
        test=None,
    )


@blueprint.route("/tests/<int:test_id>/edit", methods=["GET", "POST"])
def edit(test_id: int) -> ResponseReturnValue:
    """Change a test; only its holder may."""
    with store.reading() as session:
        found = editable_test(session, store.viewer(), test_id)
    form = TestForm.filled(found.facts, found.revision)
    form.offer_holders([])
    form.add_rows_if_asked(request.form)
    return saved_or_shown(
        form,
        "details/test_form.html",
        save=lambda session: save_test(
            session,
            store.viewer(),
            test_id,
            form.facts(),
            revision=form.known_revision,
            on=store.today(),
        ),
        to=_address,
        filled=lambda facts: TestForm.filled(facts, formdata=None),
        test=found,
    )


def _address(saved: Saved) -> str:
    return url_for("evidence.show", test_id=saved.id)

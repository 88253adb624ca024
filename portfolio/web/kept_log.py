"""A logger's file that was kept as a document: judged and drawn, and how it is read."""

from __future__ import annotations

from typing import Any, Self

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from wtforms import HiddenField

from portfolio.domain.errors import InputError, Problem
from portfolio.services.classified_page import choices
from portfolio.services.classified_tables import channels_table, criteria_table, readings_table
from portfolio.services.classified_workbook import classified_workbook
from portfolio.services.classifying import ClassifiedLog
from portfolio.services.documents.contents import contents_for
from portfolio.services.documents.listing import document_line
from portfolio.services.editing import StaleError
from portfolio.services.kept_logs import judge_kept_log, kept_log_page, opening_reading
from portfolio.services.log_answers import (
    answers_page,
    read_answers,
    records_to_answer,
    take_answers,
)
from portfolio.services.log_changes import foreseen_of_log
from portfolio.services.log_readings import (
    ReadingFacts,
    editable_reading,
    keep_reading,
    lists_beside,
    lists_seen,
    may_keep_reading,
)
from portfolio.web import downloads, labels, store
from portfolio.web.form_fields import offered_texts
from portfolio.web.forms_log import ReadingForm
from portfolio.web.log_query import address_of_reading, asked_view
from portfolio.web.page_form import PageForm
from portfolio.web.saving import saved_message, saved_or_shown

blueprint = Blueprint("kept_log", __name__)

_MEANWHILE = (
    "The record, or how the log is read, has changed meanwhile: look at what would change now."
)


@blueprint.get("/documents/<int:document_id>/log")
def show(document_id: int) -> ResponseReturnValue:
    """The log as it is kept, or as its address asks: by which criteria, which part of it; the
    whole of it as a file."""
    form = downloads.asked_format()
    with store.reading() as session:
        viewer, on = store.viewer(), store.today()
        line = document_line(session, viewer, document_id, on)
        opened, kept = opening_reading(session, viewer, document_id, on)
        seen = lists_seen(session, viewer, opened, on)
        records = records_to_answer(session, viewer, document_id)
        problems: tuple[Problem, ...] = ()
        found, done, reading = None, None, opened
        try:
            view = asked_view(opened)
            reading = view.reading
            contents = contents_for(store.engine())
            done = judge_kept_log(session, viewer, contents, document_id, reading, on=on)
            found = None if form else kept_log_page(done, view)
        except InputError as error:
            if form:
                raise
            problems = error.problems
    if form and done is not None:
        return _as_file(done, document_id, form)
    offer = choices()
    page = render_template(
        "documents/log.html",
        line=line,
        found=found,
        problems=problems,
        kept=kept,
        seen=seen,
        shown=address_of_reading(reading),
        is_as_kept=kept is not None and reading == kept.facts,
        records=records,
        downloads=downloads.links("Criteria", "Channels", "Readings"),
        may_keep=may_keep_reading(viewer, line.row),
        offer=offer,
        editions=offered_texts(offer.test_editions),
    )
    return page, 400 if problems else 200


def _as_file(done: ClassifiedLog, document_id: int, form: str) -> Response:
    name = f"log-{document_id}"
    if form == "xlsx":
        stem = f"{name}-{store.today().isoformat()}"
        return downloads.attachment(classified_workbook(done), f"{stem}.xlsx")
    tables = [criteria_table(done.found), channels_table(done.found), readings_table(done)]
    return downloads.send(name, tables)


@blueprint.route("/documents/<int:document_id>/log/reading", methods=["GET", "POST"])
def reading(document_id: int) -> ResponseReturnValue:
    """Say how the log is read; the form opens with what is kept, or what the address asks for."""
    with store.reading() as session:
        viewer, on = store.viewer(), store.today()
        stored, revision = editable_reading(session, viewer, document_id, on)
        line = document_line(session, viewer, document_id, on)
        opened, _ = opening_reading(session, viewer, document_id, on)
        lists = lists_beside(session, viewer, document_id, on)
        effects = foreseen_of_log(session, viewer, document_id, on, was_kept=stored is not None)
    if request.method == "GET":
        opened = asked_view(opened).reading

    def filled(facts: ReadingFacts, **more: Any) -> ReadingForm:
        return ReadingForm.filled(
            facts, revision, offer=choices(), lists=lists, tried=_tried(document_id), **more
        )

    form = filled(opened)
    return saved_or_shown(
        form,
        "documents/log_reading.html",
        save=lambda session: keep_reading(
            session,
            store.viewer(),
            document_id,
            form.facts(),
            revision=form.known_revision,
            on=store.today(),
        ),
        to=lambda saved: url_for("kept_log.show", document_id=saved.id),
        filled=lambda facts: filled(facts, formdata=None),
        line=line,
        is_kept=stored is not None,
        effects=effects,
    )


def _tried(document_id: int) -> Any:
    """Reads the log as it would be kept, so that nothing is kept by which it cannot be read."""

    def tried(facts: ReadingFacts) -> None:
        with store.reading() as session:
            judge_kept_log(
                session,
                store.viewer(),
                contents_for(store.engine()),
                document_id,
                facts,
                on=store.today(),
            )

    return tried


class TakeForm(PageForm):
    """Carries what was shown of a log's answers beside the record of its test."""

    shown = HiddenField("shown")

    @classmethod
    def sent(cls) -> Self:
        """The form as the request has it."""
        return cls(data={})


@blueprint.route("/documents/<int:document_id>/log/tests/<int:test_id>", methods=["GET", "POST"])
def take(document_id: int, test_id: int) -> ResponseReturnValue:
    """Show what the log's answers would change in the record of its test; sent, save just that."""
    viewer, on = store.viewer(), store.today()
    contents = contents_for(store.engine())
    with store.reading() as session:
        read = read_answers(session, viewer, contents, document_id, test_id, on=on)
        page = answers_page(session, viewer, read, test_id, on)
    form, status = TakeForm.sent(), 200
    if request.method == "POST":
        status = 409
        if form.validate() and form.shown.data == page.mark:
            try:
                with store.writing() as session:
                    saved = take_answers(
                        session, viewer, read, test_id, revision=page.revision, on=on
                    )
            except StaleError:
                with store.reading() as session:
                    page = answers_page(session, viewer, read, test_id, on)
            else:
                flash(saved_message(saved), "success")
                return redirect(url_for("evidence.show", test_id=test_id))
        form.form_errors.append(_MEANWHILE)
    form.shown.raw_data, form.shown.data = None, page.mark
    shown = {"form": form, "page": page, "document_id": document_id, "labels": labels}
    return render_template("documents/log_answers.html", **shown), status

"""A logger's file against criteria: handed in, judged, shown or given as a file; never stored."""

from __future__ import annotations

from flask import Blueprint, Response, render_template
from flask.typing import ResponseReturnValue

from portfolio.domain.errors import InputError
from portfolio.services.classified_page import choices, page_of
from portfolio.services.classified_tables import channels_table, criteria_table, readings_table
from portfolio.services.classified_workbook import classified_workbook
from portfolio.services.classifying import Asked, ClassifiedLog, LoggerFiles, classify_files
from portfolio.web import downloads, store
from portfolio.web.forms_classify import AS_PAGE, AS_XLSX, ClassifyForm
from portfolio.web.given_files import file_named
from portfolio.web.minutes import minute_in

blueprint = Blueprint("classify", __name__)


@blueprint.get("/classify")
def index() -> ResponseReturnValue:
    """The form to hand a log in."""
    return _shown(_form())


@blueprint.post("/classify")
def judge() -> ResponseReturnValue:
    """Read and judge what was handed in; nothing of it is kept."""
    form = _form()
    if not form.validate():
        return _shown(form), 400
    try:
        minute = minute_in(form.minute.data or "")
        done = classify_files(_files(form), _asked(form))
    except InputError as error:
        return _shown(form, problems=error.problems), 400
    if form.given_as.data == AS_PAGE:
        return _shown(form, page=page_of(done, minute))
    return _as_file(done, form.given_as.data)


def _form() -> ClassifyForm:
    return ClassifyForm.offering(choices())


def _shown(form: ClassifyForm, **more: object) -> str:
    given = {"page": None, "problems": ()} | more
    return render_template("details/classify.html", form=form, **given)


def _files(form: ClassifyForm) -> LoggerFiles:
    log = file_named("log")
    if log is None:
        raise InputError("Choose the file of a log first.")
    ignition = (form.ignition.data or "").strip()
    return LoggerFiles(log, file_named("channels"), file_named("observations"), ignition)


def _asked(form: ClassifyForm) -> Asked:
    return Asked(annex=form.annex.data or "", test_edition=form.test_edition.data or "")


def _as_file(done: ClassifiedLog, kind: str) -> Response:
    stem = f"classified-{store.today().isoformat()}"
    if kind == AS_XLSX:
        return downloads.attachment(classified_workbook(done), f"{stem}.xlsx")
    table = {
        "criteria": lambda: criteria_table(done.found),
        "channels": lambda: channels_table(done.found),
        "readings": lambda: readings_table(done),
    }[kind]()
    return downloads.csv_attachment(table, f"{stem}-{kind}.csv")

"""Uploads: a workbook or CSV files, a preview of what they would change, and then the change."""

from __future__ import annotations

from pathlib import Path

import sqlalchemy as sa
from flask import (
    Blueprint,
    Response,
    current_app,
    flash,
    redirect,
    render_template,
    request,
    url_for,
)
from flask.typing import ResponseReturnValue
from flask_wtf import FlaskForm

from portfolio.domain.errors import ForbiddenError, InputError
from portfolio.domain.rights import Right
from portfolio.reference.loader import load_reference
from portfolio.services.previewing import (
    PlanChangedError,
    Preview,
    apply_preview,
    preview_import,
)
from portfolio.sheets.raw import GivenFile
from portfolio.sheets.template import template_bytes
from portfolio.web import downloads, store
from portfolio.web.given_files import given_file
from portfolio.web.kept_uploads import KeptUpload, KeptUploads
from portfolio.web.saving import applied_message

blueprint = Blueprint("uploads", __name__)
MOST_FILES = 20


@blueprint.get("/template.xlsx")
def template() -> ResponseReturnValue:
    """The empty workbook, with its help and its lists of words."""
    response = Response(template_bytes(load_reference()), content_type=downloads.XLSX)
    response.headers.set("Content-Disposition", "attachment", filename="portfolio-template.xlsx")
    return response


@blueprint.get("/upload")
def index() -> ResponseReturnValue:
    """The form to hand files in."""
    _require_role()
    return render_template("details/upload.html", form=FlaskForm(), problems=())


@blueprint.post("/upload")
def hand_in() -> ResponseReturnValue:
    """Read the files and go on to the preview; nothing is changed yet."""
    _require_role()
    try:
        files = _given()
        with store.reading() as session:
            preview_import(session, store.viewer(), files, store.today())
    except InputError as error:
        form = FlaskForm()
        return render_template("details/upload.html", form=form, problems=error.problems), 400
    token = _kept().keep(store.viewer(), files)
    return redirect(url_for("uploads.preview", token=token))


@blueprint.get("/upload/<token>")
def preview(token: str) -> ResponseReturnValue:
    """What would be new, changed and left, and every problem."""
    upload = _found(token)
    with store.reading() as session:
        found = preview_import(session, store.viewer(), upload.files, store.today())
    return _shown(upload, found)


@blueprint.post("/upload/<token>")
def apply(token: str) -> ResponseReturnValue:
    """Do all that was shown, or nothing."""
    upload = _found(token)
    shown = request.form.get("fingerprint", "")
    try:
        with store.writing() as session:
            done = apply_preview(session, store.viewer(), upload.files, shown, store.today())
    except PlanChangedError as error:
        return _shown(upload, error.preview, has_changed=True), 409
    _kept().forget(token)
    flash(applied_message(done), "success")
    return redirect("/buildings")


@blueprint.post("/upload/<token>/forget")
def forget(token: str) -> ResponseReturnValue:
    """Give the upload up."""
    _found(token)
    _kept().forget(token)
    flash("The upload was given up. Nothing was changed.", "success")
    return redirect(url_for("uploads.index"))


def _found(token: str) -> KeptUpload:
    _require_role()
    return _kept().find(store.viewer(), token)


def _require_role() -> None:
    if Right.EDIT not in store.viewer().rights:
        raise ForbiddenError("Your role does not let you import anything.")


def _shown(upload: KeptUpload, preview: Preview, *, has_changed: bool = False) -> str:
    return render_template(
        "details/upload_preview.html",
        form=FlaskForm(),
        upload=upload,
        preview=preview,
        has_changed=has_changed,
    )


def _given() -> list[GivenFile]:
    """The files of the request. Raises InputError when there are none, or too many."""
    sent = [file for file in request.files.getlist("files") if file.filename]
    if not sent:
        raise InputError("Choose a file first.")
    if len(sent) > MOST_FILES:
        raise InputError(f"Choose at most {MOST_FILES} files at once.")
    return [given_file(file) for file in sent]


def _kept() -> KeptUploads:
    """Beside the SQLite file, or in the application's own folder."""
    address: sa.URL = store.engine().url
    if address.get_backend_name() == "sqlite" and address.database:
        return KeptUploads(Path(f"{address.database}.uploads"))
    return KeptUploads(Path(current_app.instance_path) / "uploads")

"""The one place where errors become pages. A page says what was wrong and what to do next."""

from __future__ import annotations

import sqlalchemy as sa
from flask import Flask, Response, current_app, render_template
from flask.typing import ResponseReturnValue
from flask_wtf.csrf import CSRFError
from werkzeug.exceptions import BadHost, HTTPException, InternalServerError, NotFound

from portfolio.domain.errors import BusyError, ForbiddenError, InputError, NotFoundError
from portfolio.services.documents.contents import UnreadableError
from portfolio.services.log_files import UnreadableLogFileError
from portfolio.web.config import LARGEST_UPLOAD_MB

_WORDS = {
    400: ("The request could not be read", "Go back and try again."),
    405: ("This page cannot be used that way", "Go back and follow a link or send a form."),
    413: (
        "The file is too large",
        f"Files may have up to {LARGEST_UPLOAD_MB} MB. Split it and upload the parts.",
    ),
}
_ANY = ("The request was refused", "Go back and try again.")


def attach(app: Flask) -> None:
    """Register the pages for what can go wrong."""
    app.register_error_handler(NotFoundError, _not_found)
    app.register_error_handler(NotFound, _not_found)
    app.register_error_handler(ForbiddenError, _forbidden)
    app.register_error_handler(InputError, _input)
    app.register_error_handler(BusyError, _busy)
    app.register_error_handler(UnreadableError, _unreadable)
    app.register_error_handler(sa.exc.DataError, _unkeepable)
    app.register_error_handler(CSRFError, _stale_form)
    app.register_error_handler(BadHost, _no_such_host)
    app.register_error_handler(HTTPException, _refused)
    app.register_error_handler(InternalServerError, _failed)


def _not_found(error: Exception) -> ResponseReturnValue:
    """The same page for what is not there and for what is another organisation's."""
    del error
    return render_template("errors/not_found.html"), 404


def _forbidden(error: ForbiddenError) -> ResponseReturnValue:
    return render_template("accounts/forbidden.html", reason=str(error)), 403


def _input(error: InputError) -> ResponseReturnValue:
    return render_template("errors/input.html", problems=error.problems), 400


def _busy(error: BusyError) -> ResponseReturnValue:
    del error
    advice = "Others are saving something that takes long. Try again in a minute."
    return render_template("errors/refused.html", title="The store is busy", advice=advice), 503


def _unreadable(error: UnreadableError) -> ResponseReturnValue:
    current_app.logger.error("%s", error)
    title = "The file of this document cannot be read"
    what = "It is missing, or not as it was when it was added, and so it is not handed out."
    if isinstance(error, UnreadableLogFileError):
        title, what = "This log cannot be judged", str(error)
    advice = f"{what} Tell whoever runs the program; adding the document again mends it."
    return render_template("errors/refused.html", title=title, advice=advice), 500


def _unkeepable(error: sa.exc.DataError) -> ResponseReturnValue:
    """For what the database cannot even look for, such as a zero byte on PostgreSQL."""
    current_app.logger.warning("The database refused a value: %s", error.orig)
    title, advice = _WORDS[400]
    return render_template("errors/refused.html", title=title, advice=advice), 400


def _no_such_host(error: BadHost) -> ResponseReturnValue:
    """Plain text: a page has links, and they need the name of the host."""
    del error
    return Response("The name of the host could not be read.\n", 400, mimetype="text/plain")


def _stale_form(error: CSRFError) -> ResponseReturnValue:
    del error
    return render_template("errors/stale_form.html"), 400


def _refused(error: HTTPException) -> ResponseReturnValue:
    code = error.code or 500
    if error.response is not None or code < 400:  # noqa: PLR2004 - a redirect, not an error
        return error
    title, advice = _WORDS.get(code, _ANY)
    return render_template("errors/refused.html", title=title, advice=advice), code


def _failed(error: InternalServerError) -> ResponseReturnValue:
    del error
    return render_template("errors/failed.html"), 500

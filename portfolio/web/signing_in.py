"""Signing in and out, and joining through a one-time link."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from portfolio.domain.errors import InputError, NotFoundError
from portfolio.services.accounts import joining
from portfolio.services.accounts import signing_in as service
from portfolio.web import accounts_cookie, store
from portfolio.web.accounts_forms import NewPasswordForm, SignInForm
from portfolio.web.accounts_next import local_or_home

blueprint = Blueprint("signing_in", __name__)


@blueprint.route("/sign-in", methods=["GET", "POST"])
def sign_in() -> ResponseReturnValue:
    """Sign in, and go on to where one was going."""
    if store.is_local():
        return redirect("/")
    form = SignInForm.of_request()
    if request.method == "GET":
        return render_template("accounts/sign_in.html", form=form)
    found = _tried(form)
    if not isinstance(found, service.Signed):
        return render_template("accounts/sign_in.html", form=form), _status(found)
    response = redirect(local_or_home(request.args.get("next", "")))
    accounts_cookie.begin(response, found.token)
    return response


def _tried(form: SignInForm) -> service.Signed | service.Refused | None:
    """Who signed in, or why nobody did; None where the form was not filled in."""
    if not form.is_good:
        return None
    found = service.sign_in(
        store.writing,
        form.email.data or "",
        form.password.data or "",
        address=request.remote_addr or "",
        now=store.now(),
    )
    if isinstance(found, service.Refused):
        form.form_errors.append(found.message)
    else:
        with store.writing() as session:
            # whoever used this browser before
            service.sign_out(session, accounts_cookie.given_token())
    return found


def _status(refused: service.Refused | None) -> int:
    return 429 if refused is not None and refused.wait else 400


@blueprint.post("/sign-out")
def sign_out() -> ResponseReturnValue:
    """End this browser's sign-in."""
    with store.writing() as session:
        service.sign_out(session, accounts_cookie.given_token())
    response = redirect(url_for("signing_in.sign_in"))
    accounts_cookie.end(response)
    flash("You are signed out.", "success")
    return response


@blueprint.route("/join/<token>", methods=["GET", "POST"])
def join(token: str) -> ResponseReturnValue:
    """Set a password through a one-time link."""
    form = NewPasswordForm.of_request()
    try:
        with store.reading() as session:
            invitation = joining.open_invitation(session, token, store.now())
        if form.is_good and _joined(form, token):
            flash("Your password is set. Sign in with it.", "success")
            return redirect(url_for("signing_in.sign_in"))
    except NotFoundError as error:
        return render_template("accounts/no_link.html", reason=str(error)), 404
    status = 400 if form.told_errors else 200
    return render_template("accounts/join.html", form=form, invitation=invitation), status


def _joined(form: NewPasswordForm, token: str) -> bool:
    try:
        with store.writing() as session:
            joining.join(session, token, form.password.data or "", store.now())
    except InputError as error:
        form.refuse(error.problems)
        return False
    return True

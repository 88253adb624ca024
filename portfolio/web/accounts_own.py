"""One's own account: the password, and the browsers that are signed in."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from portfolio.db.people import Person
from portfolio.domain.errors import InputError, NotFoundError
from portfolio.services.accounts import signing_in as service
from portfolio.web import accounts_cookie, accounts_guard, store
from portfolio.web.accounts_forms import ChangePasswordForm

blueprint = Blueprint("account", __name__)


@blueprint.route("/account", methods=["GET", "POST"])
def show() -> ResponseReturnValue:
    """The account; sent, it changes the password and signs out everywhere."""
    person, form = _person(), ChangePasswordForm.of_request()
    if form.is_good and _changed(form, person):
        return _signed_out("Your password is changed. Sign in with the new one.")
    with store.reading() as session:
        browsers = service.open_sign_ins(session, person.id, store.now())
    return render_template(
        "accounts/own.html", form=form, browsers=browsers, here=accounts_guard.signed_in()
    ), (400 if form.told_errors else 200)


@blueprint.post("/account/sign-out-everywhere")
def sign_out_everywhere() -> ResponseReturnValue:
    """End every browser's sign-in, this one's too."""
    with store.writing() as session:
        service.sign_out_everywhere(session, _person().id)
    return _signed_out("You are signed out everywhere.")


def _person() -> Person:
    found = accounts_guard.signed_in()
    if found is None:
        raise NotFoundError("There are no accounts where nobody signs in.")
    return found.person


def _changed(form: ChangePasswordForm, person: Person) -> bool:
    try:
        refused = service.change_password(
            store.writing,
            person.id,
            form.present.data or "",
            form.password.data or "",
            address=request.remote_addr or "",
            now=store.now(),
        )
    except InputError as error:
        form.refuse(error.problems)
        return False
    if refused is not None:
        form.form_errors.append(refused.message)
    return refused is None


def _signed_out(message: str) -> ResponseReturnValue:
    response = redirect(url_for("signing_in.sign_in"))
    accounts_cookie.end(response)
    flash(message, "success")
    return response

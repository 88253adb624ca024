"""The people of an organisation, for its administrators."""

from __future__ import annotations

from flask import Blueprint, current_app, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from portfolio.domain.errors import InputError, Problem
from portfolio.domain.rights import Role
from portfolio.services.accounts import people as service
from portfolio.services.accounts.joining import Invited
from portfolio.services.accounts.mailing import send_link
from portfolio.web import accounts_guard, config, store, words
from portfolio.web.accounts_forms import ROLES, InviteForm

blueprint = Blueprint("people", __name__, url_prefix="/people")


@blueprint.get("")
def index() -> ResponseReturnValue:
    """Everybody, with role and state, and the form to invite somebody."""
    return _page(InviteForm.empty())


@blueprint.post("/invite")
def invite() -> ResponseReturnValue:
    """Make a one-time link for somebody new, and show it this once."""
    form = InviteForm.of_request()
    invited = _invited(form) if form.is_good else None
    return (_page(form), 400) if invited is None else _link_page(invited)


@blueprint.post("/<int:person_id>/link")
def new_link(person_id: int) -> ResponseReturnValue:
    """Make a one-time link by which a person sets a new password."""
    with store.writing() as session:
        invited = service.link_for(session, store.viewer(), person_id, store.now())
    return _link_page(invited)


@blueprint.post("/<int:person_id>/role")
def set_role(person_id: int) -> ResponseReturnValue:
    """Give a person another role."""
    role = _role(request.form.get("role", ""))
    with store.writing() as session:
        person = service.set_role(session, store.viewer(), person_id, role, store.now())
    return _back(f"{person.name} is now {role.value}.")


@blueprint.post("/<int:person_id>/deactivate")
def deactivate(person_id: int) -> ResponseReturnValue:
    """End a person's account, until it is reactivated."""
    with store.writing() as session:
        viewer, now = store.viewer(), store.now()
        person = service.set_active(session, viewer, person_id, now, is_active=False)
    return _back(f"{person.name} is deactivated and signed out everywhere.")


@blueprint.post("/<int:person_id>/reactivate")
def reactivate(person_id: int) -> ResponseReturnValue:
    """Let a person sign in again."""
    with store.writing() as session:
        viewer, now = store.viewer(), store.now()
        person = service.set_active(session, viewer, person_id, now, is_active=True)
    return _back(f"{person.name} may sign in again.")


@blueprint.post("/invitations/<int:invitation_id>/withdraw")
def withdraw(invitation_id: int) -> ResponseReturnValue:
    """End a link that nobody has used."""
    with store.writing() as session:
        email = service.withdraw(session, store.viewer(), invitation_id, store.now())
    return _back(f"The link for {email} no longer works.")


def _invited(form: InviteForm) -> Invited | None:
    """The link; None where the form was refused, which then says why."""
    try:
        with store.writing() as session:
            return service.invite_person(
                session,
                store.viewer(),
                email=form.email.data or "",
                name=form.name.data or "",
                role=Role(form.role.data),
                now=store.now(),
            )
    except InputError as error:
        form.refuse(error.problems)
        return None


def _page(form: InviteForm) -> str:
    with store.reading() as session:
        found = service.list_people(session, store.viewer(), store.now())
    return render_template("accounts/people.html", found=found, form=form, roles=ROLES)


def _link_page(invited: Invited) -> str:
    """The only page that ever shows the link; it is sent as well where a mail server is set."""
    link = url_for("signing_in.join", token=invited.token, _external=True)
    server = current_app.config[config.MAIL_VARIABLE]
    sign_in = accounts_guard.signed_in()
    is_sent = server is not None and send_link(
        server,
        to=invited.email,
        link=link,
        organisation=sign_in.person.organisation.name if sign_in else "",
        until=words.day(invited.expires_at),
    )
    return render_template(
        "accounts/link.html", invited=invited, link=link, is_sent=is_sent, tried=server is not None
    )


def _role(text: str) -> Role:
    if text not in list(Role):
        expected = ", ".join(role.value for role in Role)
        raise InputError([Problem("There is no such role.", expected, value=text[:40])])
    return Role(text)


def _back(message: str) -> ResponseReturnValue:
    flash(message, "success")
    return redirect(url_for("people.index"))

"""Nobody sees a page without signing in, but for the pages that are named here."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from flask import Flask, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.exceptions import BadHost

from portfolio.db.models import OrganisationKind
from portfolio.db.people import SignIn
from portfolio.domain.errors import BusyError
from portfolio.domain.rights import Right
from portfolio.services.accounts.access import viewer_for
from portfolio.services.accounts.moments import aware
from portfolio.services.accounts.signing_in import SEEN_EVERY, mark_seen, open_sign_in
from portfolio.web import accounts_cookie, store

_PATIENCE = 0.1

PUBLIC = frozenset({"static", "signing_in.sign_in", "signing_in.join", "calendars.feed"})


def attach(app: Flask) -> None:
    """Ask every request who sends it, and tell the templates."""
    app.session_interface = accounts_cookie.FormSession()
    app.before_request(_let_in)
    app.context_processor(_who)


def signed_in() -> SignIn | None:
    """The signed-in browser that sent this request."""
    found: SignIn | None = g.get("sign_in")
    return found


def _let_in() -> ResponseReturnValue | None:
    if isinstance(request.routing_exception, BadHost):
        raise request.routing_exception  # without the name of the host nobody can be led anywhere
    if store.is_local() or request.endpoint in PUBLIC or _is_known():
        return None
    if request.method in ("GET", "HEAD") and not _is_for_a_script():
        asked = request.full_path.rstrip("?")
        return redirect(url_for("signing_in.sign_in", next=asked if asked != "/" else None))
    return render_template("accounts/signed_out.html"), 401


def _is_for_a_script() -> bool:
    """Whether the answer would go into a page that is open already."""
    return "HX-Request" in request.headers or request.headers.get("Sec-Fetch-Dest") == "empty"


def _is_known() -> bool:
    token, now = accounts_cookie.given_token(), store.now()
    with store.reading() as session:
        found = open_sign_in(session, token, now) if token else None
        if found is None:
            return False
        g.sign_in = found
        store.set_viewer(viewer_for(session, found.person, store.today()))
    if now - aware(found.seen_at) > SEEN_EVERY:
        _mark_seen(token, now)
    return True


def _mark_seen(token: str, now: datetime) -> None:
    try:
        with store.writing(patience=_PATIENCE) as session:
            mark_seen(session, token, now)
    except BusyError:
        # a long save holds the store: the page matters more than the minute
        return


def _who() -> dict[str, Any]:
    """What templates know of whoever is looking."""
    found = signed_in()
    if found is None:
        is_local = store.is_local()
        return {"shows_navigation": is_local, "may_edit": is_local}
    rights, kind = store.viewer().rights, found.person.organisation.kind
    may_administer = Right.ADMINISTER in rights
    return {
        "person": found.person,
        "shows_navigation": True,
        "may_edit": Right.EDIT in rights,
        "may_administer": may_administer,
        # of an owner, what it opened is for administrators; others all see what is open to them
        "shows_sharing": may_administer or kind != OrganisationKind.OWNER,
    }

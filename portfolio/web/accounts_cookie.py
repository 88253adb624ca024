"""The cookie of a signed-in browser: a random token, of which the store holds only the hash."""

from __future__ import annotations

import flask
from flask import Flask, current_app, request
from flask.sessions import SecureCookieSessionInterface
from werkzeug.wrappers import Response

from portfolio.web import config

COOKIE = "portfolio_session"


class FormSession(SecureCookieSessionInterface):
    """Flask's own session, which marks our forms: its cookie is as secure as the token's."""

    def get_cookie_secure(self, app: Flask) -> bool:
        """Whether the cookie is only sent encrypted."""
        del app
        return is_encrypted()


def is_encrypted() -> bool:
    """Whether this request came encrypted, or all of them do as the settings say."""
    return request.is_secure or bool(current_app.config[config.HTTPS_VARIABLE])


def given_token() -> str:
    """The token that the browser sent, or ""."""
    return request.cookies.get(COOKIE, "")


def begin(response: Response, token: str) -> None:
    """Let the browser keep the token until it is closed; forms of before are forgotten."""
    flask.session.clear()
    response.set_cookie(
        COOKIE, token, secure=is_encrypted(), httponly=True, samesite="Lax", path="/"
    )


def end(response: Response) -> None:
    """Let the browser forget the token and the forms."""
    flask.session.clear()
    response.delete_cookie(COOKIE, secure=is_encrypted(), httponly=True, samesite="Lax", path="/")

"""Headers that every answer carries: nothing from elsewhere, nothing inline, no framing."""

from __future__ import annotations

from flask import Flask, Response

from portfolio.web import accounts_cookie, store

CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data:",
        "font-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
HEADERS = {
    "Content-Security-Policy": CONTENT_SECURITY_POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Permissions-Policy": "camera=(), display-capture=(), geolocation=(), microphone=(), usb=()",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}
_ONE_YEAR = "max-age=31536000"


def attach(app: Flask) -> None:
    """Set the headers on every answer, error pages and downloads included."""

    @app.after_request
    def add_headers(response: Response) -> Response:
        response.headers.update(HEADERS)
        # what one person may see is kept neither by a proxy for the next nor on a shared machine
        keep = "private, no-cache" if store.is_local() else "no-store"
        response.headers.setdefault("Cache-Control", keep)
        if accounts_cookie.is_encrypted():
            response.headers["Strict-Transport-Security"] = _ONE_YEAR
        return response

"""Headers that every answer carries: nothing from elsewhere, nothing inline, no framing."""

from __future__ import annotations

from flask import Flask, Response, request

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
        # what one viewer may see must not be kept by a proxy for the next
        response.headers.setdefault("Cache-Control", "private, no-cache")
        if request.is_secure:
            response.headers["Strict-Transport-Security"] = _ONE_YEAR
        return response

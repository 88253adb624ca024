"""On the first request of a day, coverage is brought up to that day."""

from __future__ import annotations

from datetime import date
from threading import Lock

from flask import Flask, current_app, request

from portfolio.services.renewing import renew
from portfolio.web import store

_NAME = "portfolio-renewal"


class _Renewal:
    """The day that this process last brought coverage up to."""

    def __init__(self) -> None:
        self._day: date | None = None
        self._lock = Lock()

    def bring_up_to(self, day: date) -> None:
        """Whoever comes while another request computes waits: nobody sees yesterday's coverage."""
        if self._day == day:
            return
        with self._lock:
            if self._day != day:
                renew(store.engine(), day)
                self._day = day


def attach(app: Flask) -> None:
    """Ask, before every page, whether the day has changed."""
    app.extensions[_NAME] = _Renewal()
    app.before_request(_renew)


def _renew() -> None:
    if request.endpoint != "static":
        current_app.extensions[_NAME].bring_up_to(store.today())

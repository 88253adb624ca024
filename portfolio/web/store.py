"""What a view needs of the world: a session on the store, who is looking, the date, the time."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import date, datetime

import sqlalchemy as sa
from flask import Flask, current_app, g
from sqlalchemy.orm import Session
from werkzeug.exceptions import Unauthorized

from portfolio.db import session as sessions
from portfolio.services.viewer import LOCAL, Viewer

_NAME = "portfolio-store"


@dataclass(frozen=True, slots=True)
class _Store:
    engine: sa.Engine
    today: Callable[[], date]
    now: Callable[[], datetime]
    is_local: bool


def attach(
    app: Flask,
    url: str,
    *,
    today: Callable[[], date],
    now: Callable[[], datetime],
    is_local: bool,
) -> None:
    """Give the application its engine and its clocks, and say whether anybody signs in."""
    app.extensions[_NAME] = _Store(sessions.engine_for(url), today, now, is_local)


def engine() -> sa.Engine:
    """The engine of the current application."""
    return _of_app().engine


def reading() -> AbstractContextManager[Session]:
    """A session for looking only."""
    return sessions.reading(engine())


def writing(*, patience: float | None = None) -> AbstractContextManager[Session]:
    """A session whose work is saved whole at the end, or not at all."""
    return sessions.writing(engine(), patience=patience)


def is_local() -> bool:
    """Whether nobody signs in, because whoever is at this machine may see all."""
    return _of_app().is_local


def viewer() -> Viewer:
    """Who is looking: whoever signed in, or the local viewer where nobody does."""
    if is_local():
        return LOCAL
    found: Viewer | None = g.get("viewer")
    if found is None:
        raise Unauthorized
    return found


def set_viewer(found: Viewer) -> None:
    """Say, once in a request, who is looking."""
    g.viewer = found


def today() -> date:
    """The date that the pages speak of."""
    return _of_app().today()


def now() -> datetime:
    """The moment it is, in UTC."""
    return _of_app().now()


def _of_app() -> _Store:
    found: _Store = current_app.extensions[_NAME]
    return found

"""What a view needs of the world: a session on the store, who is looking, and the date."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa
from flask import Flask, current_app
from sqlalchemy.orm import Session

from portfolio.db import session as sessions
from portfolio.services.viewer import LOCAL, Viewer

_NAME = "portfolio-store"


@dataclass(frozen=True, slots=True)
class _Store:
    engine: sa.Engine
    today: Callable[[], date]


def attach(app: Flask, url: str, today: Callable[[], date]) -> None:
    """Give the application its engine and its clock."""
    app.extensions[_NAME] = _Store(sessions.engine_for(url), today)


def engine() -> sa.Engine:
    """The engine of the current application."""
    return _of_app().engine


def reading() -> AbstractContextManager[Session]:
    """A session for looking only."""
    return sessions.reading(engine())


def writing() -> AbstractContextManager[Session]:
    """A session whose work is saved whole at the end, or not at all."""
    return sessions.writing(engine())


def viewer() -> Viewer:
    """Who is looking: without accounts, everyone at this machine sees all."""
    return LOCAL


def today() -> date:
    """The date that the pages speak of."""
    return _of_app().today()


def _of_app() -> _Store:
    found: _Store = current_app.extensions[_NAME]
    return found

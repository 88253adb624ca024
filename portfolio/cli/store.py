"""Opens the database for a command, and makes or upgrades the embedded one first."""

from __future__ import annotations

from datetime import date, datetime

import sqlalchemy as sa

from portfolio.db.session import database_url, engine_for, is_current, upgrade
from portfolio.domain.errors import PortfolioError


def open_store(url: str | None = None) -> sa.Engine:
    """The engine of a database at the newest schema.

    The embedded database is brought up to it; a shared one is only upgraded on purpose.
    """
    url = url or database_url()
    if not is_current(url):
        if not url.startswith("sqlite"):
            raise PortfolioError(
                "The database is not at this program's schema. Run: portfolio db upgrade"
            )
        upgrade(url)
    return engine_for(url)


def today() -> date:
    """The day it is where the program runs."""
    return datetime.now().astimezone().date()

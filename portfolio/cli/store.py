"""Opens the database for a command, and makes or upgrades the embedded one first."""

from __future__ import annotations

from datetime import date, datetime

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.people import Person
from portfolio.db.session import database_url, engine_for, is_current, upgrade
from portfolio.domain.errors import NotFoundError, PortfolioError
from portfolio.services.accounts.access import viewer_for
from portfolio.services.viewer import LOCAL, Viewer


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


def viewer_named(session: Session, email: str) -> Viewer:
    """The viewer that a person is today; without an address, the one who runs the program.

    Raises NotFoundError. Who may run commands on the database may read all of it anyway: this
    is for seeing what somebody else sees, and for scripts that should see no more.
    """
    if not email:
        return LOCAL
    query = sa.select(Person).where(Person.email == email.strip().casefold(), Person.is_active)
    person = session.scalar(query)
    if person is None:
        raise NotFoundError("There is no such person.")
    return viewer_for(session, person, today())


def today() -> date:
    """The day it is where the program runs."""
    return datetime.now().astimezone().date()

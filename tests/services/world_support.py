"""Owners, a consultancy and a laboratory over a small portfolio, and a clock for the log."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from typing import Any

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import changelog
from portfolio.db.models import Organisation, TestConsent
from portfolio.db.people import DemandShare
from portfolio.db.session import engine_for, reading, writing
from portfolio.domain.evidence import Consent
from portfolio.domain.rights import RIGHTS_OF_ACCESS, RIGHTS_OF_ROLE, Access, Role
from portfolio.services import coverage
from portfolio.services.viewer import Viewer
from tests.web.portfolios import ON, Portfolio


class Estate:
    """A database with a portfolio in it."""

    def __init__(self, engine: sa.Engine) -> None:
        self.engine = engine

    @contextmanager
    def filling(self) -> Iterator[Portfolio]:
        """Rows to add; coverage is computed at the end."""
        with writing(self.engine) as session:
            yield Portfolio(session)
            coverage.refresh(session, ON)

    @contextmanager
    def reading(self) -> Iterator[Session]:
        with reading(self.engine) as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        with writing(self.engine) as session:
            yield session

    def organisation(self, ref: str) -> int:
        with self.reading() as session:
            found: int = session.scalars(
                sa.select(Organisation.id).where(Organisation.ref == ref)
            ).one()
            return found

    def viewer(
        self,
        ref: str,
        role: Role = Role.ENGINEER,
        *,
        access: Access = Access.READ,
        to: tuple[int, ...] = (),
        **more: Any,
    ) -> Viewer:
        """Somebody of an organisation; `to` are buildings that are open to it."""
        grants = dict.fromkeys(to, RIGHTS_OF_ACCESS[access])
        own = self.organisation(ref)
        return Viewer(f"A. Person, {ref}", own, None, RIGHTS_OF_ROLE[role], grants=grants, **more)


@contextmanager
def estate_in(url: str) -> Iterator[Estate]:
    """The estate of a fresh database."""
    engine = engine_for(url)
    try:
        yield Estate(engine)
    finally:
        engine.dispose()


def consent(portfolio: Portfolio, test: Any, to: Organisation, **more: Any) -> None:
    """What the sponsor said to an organisation: given, unless something else is said."""
    named = {"organisation_ref": to.ref, "organisation_id": to.id}
    values = {"test_id": test.id, "consent": Consent.GIVEN} | named | more
    portfolio.session.add(TestConsent(**values))
    portfolio.session.flush()


def share(
    portfolio: Portfolio, owner: Organisation, laboratory: Organisation, *, named: bool
) -> None:
    """Let a laboratory see an owner's demand."""
    row = DemandShare(
        owner_id=owner.id,
        laboratory_id=laboratory.id,
        is_named=named,
        since=date(2026, 1, 1),
        granted_by="A. Person",
    )
    portfolio.session.add(row)
    portfolio.session.flush()


def log_at(patch: pytest.MonkeyPatch, day: date) -> None:
    """Let the change log be written at noon of a day."""
    noon = datetime(day.year, day.month, day.day, 12, tzinfo=UTC)

    class Noon(datetime):
        @classmethod
        def now(cls, tz: Any = None) -> datetime:
            return noon

    patch.setattr(changelog, "datetime", Noon)

"""Organisations, their people and buildings, on a database of a test's own."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import models
from portfolio.db.people import Person
from portfolio.db.session import engine_for, reading, writing
from portfolio.domain.rights import Role
from portfolio.services.accounts import passwords
from portfolio.services.accounts.access import viewer_for
from portfolio.services.viewer import Viewer

ON = date(2026, 3, 1)
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
PASSWORD = "seven green kettles"
OTHER_PASSWORD = "four wooden ladders"
_KINDS = {
    "north": models.OrganisationKind.OWNER,
    "south": models.OrganisationKind.OWNER,
    "consultancy": models.OrganisationKind.CONSULTANCY,
    "laboratory": models.OrganisationKind.LABORATORY,
}


class People:
    """Two owners with two buildings each, a consultancy and a laboratory; somebody in each role."""

    def __init__(self, engine: sa.Engine) -> None:
        self.engine = engine
        with self.writing() as session:
            for ref, kind in _KINDS.items():
                _fill(session, ref, kind)

    def reading(self) -> Any:
        return reading(self.engine)

    def writing(self) -> Any:
        return writing(self.engine)

    def organisation(self, ref: str) -> int:
        with self.reading() as session:
            query = sa.select(models.Organisation.id).where(models.Organisation.ref == ref)
            found: int = session.scalars(query).one()
            return found

    def person(self, email: str) -> Person:
        with self.reading() as session:
            found: Person = session.scalars(sa.select(Person).where(Person.email == email)).one()
            return found

    def viewer(self, email: str, on: date = ON) -> Viewer:
        """The viewer that a person is on a day."""
        with self.reading() as session:
            person = session.scalars(sa.select(Person).where(Person.email == email)).one()
            return viewer_for(session, person, on)

    def building(self, ref: str) -> int:
        with self.reading() as session:
            query = sa.select(models.Building.id).where(models.Building.ref == ref)
            found: int = session.scalars(query).one()
            return found

    def events(self, subject: str) -> list[tuple[str, str]]:
        """(action, reference) of every entry about a kind of thing."""
        with self.reading() as session:
            query = sa.select(models.Event).filter_by(subject=subject).order_by(models.Event.id)
            return [(event.action, event.subject_ref) for event in session.scalars(query)]


def _fill(session: Session, ref: str, kind: models.OrganisationKind) -> None:
    organisation = models.Organisation(ref=ref, name=f"The {ref}", kind=kind)
    session.add(organisation)
    session.flush()
    for role in Role:
        person = Person(
            organisation_id=organisation.id,
            email=f"{role.value}@{ref}.test",
            name=role.value.title(),
            role=role,
            password_hash=passwords.hashed(PASSWORD),
        )
        session.add(person)
    if kind == models.OrganisationKind.OWNER:
        for number in (1, 2):
            name = f"{ref.upper()}-{number}"
            building = models.Building(
                organisation_id=organisation.id, ref=name, name=name, search_text=name.casefold()
            )
            session.add(building)


@contextmanager
def people_in(url: str) -> Iterator[People]:
    """The people of a fresh database."""
    engine = engine_for(url)
    try:
        yield People(engine)
    finally:
        engine.dispose()

"""An application over a small portfolio, and ways to look at a page."""

from collections.abc import Iterator

import pytest
import sqlalchemy as sa
from flask import Flask
from flask.testing import FlaskClient

from portfolio.db.models import Organisation
from portfolio.web import create_app, store
from tests.web.accounts import Clock, fill_people
from tests.web.portfolios import ON, fill_one_of_each, filling


@pytest.fixture
def database_url(sqlite_url: str) -> str:
    """Pages are tested on SQLite; what they ask of the store, on both (test_on_both_databases)."""
    return sqlite_url


@pytest.fixture
def empty_app(database_url: str) -> Iterator[Flask]:
    """The application over an empty database, on a fixed date."""
    app = create_app(database_url, today=lambda: ON, local=True)
    app.testing = True
    yield app
    with app.app_context():
        store.engine().dispose()


@pytest.fixture
def app(empty_app: Flask, database_url: str) -> Flask:
    """The application over a zone of every coverage but inferred."""
    with filling(database_url) as portfolio:
        fill_one_of_each(portfolio)
    return empty_app


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    return app.test_client()


@pytest.fixture
def clock() -> Clock:
    """Noon, until the test moves it."""
    return Clock()


@pytest.fixture
def people_app(database_url: str, clock: Clock) -> Iterator[Flask]:
    """The application in which everybody has to sign in, with people of every kind."""
    with filling(database_url) as portfolio:
        fill_one_of_each(portfolio)
        found = portfolio.session.execute(sa.select(Organisation.ref, Organisation.id))
        fill_people(portfolio, {row.ref: row.id for row in found})
    app = create_app(database_url, today=lambda: ON, now=clock)
    app.testing = True
    yield app
    with app.app_context():
        store.engine().dispose()

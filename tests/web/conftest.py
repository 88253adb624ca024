"""An application over a small portfolio, and ways to look at a page."""

from collections.abc import Iterator

import pytest
from flask import Flask
from flask.testing import FlaskClient

from portfolio.web import create_app, store
from tests.web.portfolios import ON, fill_one_of_each, filling


@pytest.fixture
def database_url(sqlite_url: str) -> str:
    """Pages are tested on SQLite; what they ask of the store, on both (test_on_both_databases)."""
    return sqlite_url


@pytest.fixture
def empty_app(database_url: str) -> Iterator[Flask]:
    """The application over an empty database, on a fixed date."""
    app = create_app(database_url, today=lambda: ON)
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

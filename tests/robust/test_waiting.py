"""A save waits for the saves of others, and says so when they take too long."""

import time
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
import sqlalchemy as sa

from portfolio.db import models
from portfolio.db.session import engine_for, reading, writing
from portfolio.domain.errors import BusyError
from portfolio.services.importing import plan_import
from portfolio.services.taking_in import take_in
from portfolio.services.viewer import Viewer
from portfolio.web import create_app, store
from tests.robust.worker import ON, estate, take_in_estate
from tests.web.sending import values_of

WORDS = "Others are saving something that takes long"


@pytest.fixture
def engine(database_url: str) -> Iterator[sa.Engine]:
    made = engine_for(database_url)
    take_in_estate(made, estate("FIRST"))
    yield made
    made.dispose()


@contextmanager
def _a_long_save(engine: sa.Engine) -> Iterator[None]:
    with writing(engine) as session:
        plan = plan_import(session, Viewer("slow"), estate("SLOW"), ON)
        take_in(session, Viewer("slow"), plan, ON)
        yield


def test_a_save_that_waited_too_long_says_so_and_saves_nothing(engine: sa.Engine) -> None:
    began = time.monotonic()
    with _a_long_save(engine), pytest.raises(BusyError, match=WORDS):
        take_in_estate(engine, estate("LATE"), patience=0.3)
    assert time.monotonic() - began > 0.3
    with reading(engine) as session:
        refs = session.scalars(sa.select(models.Building.ref)).all()
    assert {ref.partition("-")[0] for ref in refs} == {"FIRST", "SLOW"}


def test_a_save_after_one_that_waited_too_long_succeeds(engine: sa.Engine) -> None:
    with _a_long_save(engine), pytest.raises(BusyError):
        take_in_estate(engine, estate("LATE"), patience=0.1)
    take_in_estate(engine, estate("NEXT"))
    with reading(engine) as session:
        found = session.scalar(sa.select(models.Building.id).where(models.Building.ref == "NEXT-0"))
    assert found is not None


def test_looking_does_not_wait_for_a_long_save(engine: sa.Engine) -> None:
    with _a_long_save(engine), reading(engine) as session:
        refs = session.scalars(sa.select(models.Building.ref)).all()
    assert {ref.partition("-")[0] for ref in refs} == {"FIRST"}


def test_the_page_of_a_save_that_waited_too_long_says_that_nothing_was_saved(
    engine: sa.Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("portfolio.db.session.PATIENCE", 0.2)
    url = engine.url.render_as_string(hide_password=False)
    app = create_app(url, today=lambda: ON, local=True)
    client = app.test_client()
    values = values_of(client.get("/buildings/1/edit").text) | {"note": "mine"}
    with _a_long_save(engine):
        answer = client.post("/buildings/1/edit", data=values)
    assert answer.status_code == 503
    assert "Try again in a minute. Nothing has been saved." in answer.text
    with app.app_context():
        store.engine().dispose()

"""The marked world, once for all tests that only look at it."""

import io
import re
import shutil
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from sqlalchemy.orm import Session
from werkzeug.test import TestResponse

from portfolio.db.base import Base
from portfolio.db.session import engine_for, writing
from portfolio.domain.rights import Role
from portfolio.services.viewer import Viewer
from portfolio.sheets.raw import GivenFile
from portfolio.web import create_app, store
from portfolio.web.accounts_cookie import COOKIE
from portfolio.web.kept_uploads import KeptUploads
from tests.rights.world import NOON, World, made_world
from tests.web.portfolios import ON


@dataclass
class Looking:
    """The world, and a browser for each of its people whose acts are taken back at once."""

    world: World
    url: str
    app: Flask
    #: every marked word that is stored
    words: frozenset[str]

    def ask(self, who: tuple[str, Role] | None, method: str, address: str, **data: str) -> Any:
        """Send one request, and keep nothing of what it did."""
        client = self.app.test_client(use_cookies=False)
        headers = {"Cookie": f"{COOKIE}={self.world.tokens[who]}"} if who else {}
        answer: TestResponse = client.open(
            address, method=method, data=data if method == "POST" else None, headers=headers
        )
        return answer

    def upload_of(self, organisation: str) -> str:
        """The token of an upload that an organisation handed in."""
        folder = Path(self.url.removeprefix("sqlite:///") + ".uploads")
        viewer = Viewer("somebody", self.world.organisations[organisation])
        content = b"organisation,name,kind\n"
        return KeptUploads(folder).keep(viewer, [GivenFile("organisations.csv", content)])


@pytest.fixture(scope="session")
def looking(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Looking]:
    path = tmp_path_factory.mktemp("rights") / "portfolio.sqlite"
    shutil.copyfile(sqlite_template, path)
    url = f"sqlite:///{path}"
    engine = engine_for(url)
    with writing(engine) as session:
        world = made_world(session)
        words = _words(session)
    engine.dispose()
    app = create_app(url, today=lambda: ON, now=lambda: NOON)
    app.testing = True
    # the forms' marks are tested with the forms; here it is asked who may send one
    app.config["WTF_CSRF_CHECK_DEFAULT"] = False
    yield Looking(world, url, app, words)
    with app.app_context():
        store.engine().dispose()


@pytest.fixture(autouse=True)
def _acts_are_taken_back(monkeypatch: pytest.MonkeyPatch) -> None:
    """For each of these tests, not for the session: tests of other folders run between them."""
    monkeypatch.setattr(store, "writing", _taken_back)


def _words(session: Session) -> frozenset[str]:
    found: set[str] = set()
    for table in Base.metadata.sorted_tables:
        text = repr([tuple(row) for row in session.execute(table.select())])
        found.update(word.upper() for word in re.findall(r"CANARY-[A-Z0-9-]+", text, re.I))
    return frozenset(found)


@contextmanager
def _taken_back() -> Iterator[Session]:
    session = Session(store.engine())
    try:
        yield session
        session.flush()
        # what was read stays readable, as after a commit
        session.expunge_all()
    finally:
        session.rollback()
        session.close()


def _told(answer: TestResponse) -> str:
    """Every word of an answer, those inside a workbook included."""
    body = answer.get_data()
    if not body.startswith(b"PK"):
        return body.decode("utf-8")
    with zipfile.ZipFile(io.BytesIO(body)) as book:
        return "\n".join(book.read(name).decode("utf-8", "replace") for name in book.namelist())


@pytest.fixture(scope="session")
def told() -> Callable[[TestResponse], str]:
    return _told

"""What every test may rely on: no network, repeatable examples, fresh databases, a browser.

Nothing of the program is imported here but inside the fixtures that need it, so that the tests of
the domain run without a database layer.
"""

import importlib.metadata
import os
import platform
import shutil
import sqlite3
from collections.abc import Iterator
from itertools import count
from pathlib import Path
from typing import Any

import hypothesis
import pytest

from tests.support import chromium, network, postgres

# before anything of the program is imported: people sign in hundreds of times here
os.environ.setdefault("PORTFOLIO_CHEAP_HASHING", "1")

CI_ALL = os.environ.get("PORTFOLIO_CI_ALL") == "1"
VERSIONS_THAT_MATTER = ("sqlalchemy", "alembic", "flask", "numpy", "pandas", "typst", "hypothesis")

# "ci" gives the same examples every time; "dev" looks for new ones. Neither has a deadline: a slow
# machine is not a bug.
hypothesis.settings.register_profile(
    "ci", derandomize=True, database=None, deadline=None, print_blob=True
)
hypothesis.settings.register_profile("dev", max_examples=50, deadline=None, print_blob=True)
PROFILE = os.environ.get("HYPOTHESIS_PROFILE") or ("ci" if os.environ.get("CI") else "dev")
hypothesis.settings.load_profile(PROFILE)


def pytest_configure(config: pytest.Config) -> None:
    config.add_cleanup(network.block())


def pytest_report_header() -> list[str]:
    versions = [f"{name} {importlib.metadata.version(name)}" for name in VERSIONS_THAT_MATTER]
    return [
        f"with: Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}, "
        + ", ".join(versions),
        f"PostgreSQL: {postgres.missing() or postgres.describe()}",
        f"browser: {chromium.missing() or chromium.executable()}",
        f"hypothesis profile: {PROFILE}; absent servers {'fail' if CI_ALL else 'are skipped'}",
    ]


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Skip what this machine cannot run, or fail it where everything must run."""
    for marker, missing in (("postgres", postgres.missing), ("browser", chromium.missing)):
        if item.get_closest_marker(marker) and (reason := missing()):
            if CI_ALL:
                pytest.fail(f"PORTFOLIO_CI_ALL=1, but {reason}", pytrace=False)
            pytest.skip(reason)


# --- Databases -----------------------------------------------------------------------------------
# The schema is always made by running the migrations, once per process; each test gets a copy.


def _migrate(url: str) -> None:
    from portfolio.db import session

    session.upgrade(url)


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated, empty SQLite file. Copy it; never open it."""
    template = tmp_path_factory.mktemp("sqlite") / "template.sqlite"
    _migrate(f"sqlite:///{template}")
    connection = sqlite3.connect(template)
    try:
        # Rows still in the write-ahead log would not be in the copies.
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    finally:
        connection.close()
    return template


@pytest.fixture
def sqlite_url(sqlite_template: Path, tmp_path: Path) -> str:
    """A fresh, migrated SQLite database of this test's own."""
    path = tmp_path / "portfolio.sqlite"
    shutil.copyfile(sqlite_template, path)
    return f"sqlite:///{path}"


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[postgres.Server]:
    """A PostgreSQL server: PORTFOLIO_TEST_DATABASE_URL, or a throw-away one."""
    if reason := postgres.missing():
        (pytest.fail if CI_ALL else pytest.skip)(reason)
    with postgres.running() as server:
        yield server


@pytest.fixture(scope="session")
def postgres_template(postgres_server: postgres.Server) -> Iterator[str]:
    """The name of a migrated, empty database on the server."""
    name = f"portfolio_template_{os.getpid()}"
    with postgres_server.database(name) as url:
        _migrate(url)
        yield name


_database_numbers = count(1)


@pytest.fixture
def postgres_url(
    postgres_server: postgres.Server,
    postgres_template: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[str]:
    """A fresh, migrated PostgreSQL database of this test's own. Mark the test `postgres`."""
    # a database that is no file has no folder beside it, and the tests' folder is the checkout
    monkeypatch.setenv("PORTFOLIO_DOCUMENTS", str(tmp_path / "postgres.documents"))
    name = f"portfolio_test_{os.getpid()}_{next(_database_numbers)}"
    with postgres_server.database(name, template=postgres_template) as url:
        yield url


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def database_url(request: pytest.FixtureRequest) -> str:
    """A fresh, migrated database: the test runs once on SQLite and once on PostgreSQL."""
    url: str = request.getfixturevalue(f"{request.param}_url")
    return url


# --- Browser -------------------------------------------------------------------------------------


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """One Chromium for the whole run (a playwright `Browser`). Mark the test `browser`."""
    if reason := chromium.missing():
        (pytest.fail if CI_ALL else pytest.skip)(reason)
    with chromium.launched() as launched:
        yield launched


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    """A page with empty cookies, 1280 by 800, without animations."""
    context = browser.new_context(
        viewport={"width": 1280, "height": 800}, reduced_motion="reduce", locale="en-GB"
    )
    context.set_default_timeout(10_000)
    try:
        yield context.new_page()
    finally:
        context.close()

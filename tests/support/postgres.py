"""A PostgreSQL server for the tests: the one that is given, or one that is started and thrown away.

The throw-away server listens on a Unix socket in a temporary folder and never waits for the disk.
"""

import functools
import importlib.util
import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy.engine import URL, make_url

URL_VARIABLE = "PORTFOLIO_TEST_DATABASE_URL"
# The server refuses to run as root, so root lends it this account, which Debian's package makes.
ACCOUNT = "postgres"
SUPERUSER = "portfolio"
SETTINGS = {
    "listen_addresses": "",
    "fsync": "off",
    "synchronous_commit": "off",
    "full_page_writes": "off",
    "shared_buffers": "64MB",
    "max_connections": "50",
    "timezone": "UTC",
}


def given_url() -> str | None:
    """The server that the environment names, if it names one."""
    return os.environ.get(URL_VARIABLE) or None


@functools.cache
def programs() -> Path | None:
    """The folder of initdb and pg_ctl; Debian keeps it off the PATH, one folder a version."""
    debian = sorted(
        Path("/usr/lib/postgresql").glob("*/bin/initdb"),
        key=lambda found: float(found.parts[-3]),
    )
    if debian:
        return debian[-1].parent
    found = shutil.which("initdb")
    return Path(found).parent if found else None


@functools.cache
def missing() -> str | None:
    """Why there can be no server here, or None."""
    if importlib.util.find_spec("psycopg") is None:
        return 'no psycopg: install the extra "postgres" or "test"'
    if given_url():
        return None
    if programs() is None:
        return f'no PostgreSQL: install Debian\'s "postgresql" or set {URL_VARIABLE}'
    if os.geteuid() == 0 and not _has_account():
        return f'PostgreSQL refuses to run as root, and there is no user "{ACCOUNT}"'
    return None


def describe() -> str:
    """One line for the report's header. Never the address: it may hold a password."""
    return f"given by {URL_VARIABLE}" if given_url() else f"throw-away, from {programs()}"


@dataclass(frozen=True, slots=True)
class Server:
    """Makes and drops databases."""

    url: URL

    @contextmanager
    def database(self, name: str, *, template: str = "template0") -> Iterator[str]:
        """A database that lasts as long as the block; yields its SQLAlchemy address."""
        self._run(f'CREATE DATABASE "{name}" TEMPLATE "{template}" ENCODING \'UTF8\'')
        try:
            yield self.url.set(database=name).render_as_string(hide_password=False)
        finally:
            # FORCE: a test that forgot a connection must not stop the next one.
            self._run(f'DROP DATABASE IF EXISTS "{name}" WITH (FORCE)')

    def _run(self, statement: str) -> None:
        import psycopg

        # psycopg, unlike SQLAlchemy, wants a bare scheme.
        address = self.url.set(drivername="postgresql").render_as_string(hide_password=False)
        with psycopg.connect(address, autocommit=True) as connection:
            connection.execute(statement)


@contextmanager
def running() -> Iterator[Server]:
    """The server that is given, or a throw-away one for as long as the block lasts."""
    given = given_url()
    if given:
        yield Server(make_url(given).set(drivername="postgresql+psycopg"))
        return
    # Not pytest's own temporary folder: that one is closed to other accounts, and its name may be
    # too long for a Unix socket (107 characters).
    folder = Path(tempfile.mkdtemp(prefix="portfolio-pg-"))
    try:
        if os.geteuid() == 0:
            shutil.chown(folder, ACCOUNT, ACCOUNT)
        with _started(folder) as server:
            yield server
    finally:
        shutil.rmtree(folder)


@contextmanager
def _started(folder: Path) -> Iterator[Server]:
    cluster = folder / "cluster"
    _call(
        folder,
        "initdb",
        *("--pgdata", cluster, "--username", SUPERUSER, "--auth", "trust"),
        *("--encoding", "UTF8", "--locale", "C", "--no-sync"),
    )
    settings = SETTINGS | {"unix_socket_directories": str(folder)}
    with (cluster / "postgresql.conf").open("a") as conf:
        conf.writelines(f"{name} = '{value}'\n" for name, value in settings.items())
    control = ("--pgdata", cluster, "--log", folder / "log", "--wait")
    _call(folder, "pg_ctl", "start", *control)
    try:
        yield Server(
            URL.create(
                "postgresql+psycopg",
                username=SUPERUSER,
                database="postgres",
                query={"host": str(folder)},
            )
        )
    finally:
        _call(folder, "pg_ctl", "stop", "--mode", "immediate", *control)


def _call(folder: Path, program: str, *arguments: str | Path) -> None:
    home = programs()
    assert home is not None
    account: dict[str, Any] = {}
    if os.geteuid() == 0:
        account = {"user": ACCOUNT, "group": ACCOUNT, "extra_groups": []}
    # To a file, not a pipe: the server inherits it and would keep a pipe open for ever.
    output = folder / f"{program}.txt"
    with output.open("ab") as sink:
        finished = subprocess.run(
            [home / program, *arguments],
            cwd=folder,
            stdin=subprocess.DEVNULL,
            stdout=sink,
            stderr=subprocess.STDOUT,
            timeout=120,
            check=False,
            **account,
        )
    if finished.returncode:
        log = folder / "log"
        said = output.read_text() + (log.read_text() if log.exists() else "")
        raise RuntimeError(f"{program} failed with {finished.returncode}:\n{said}")


def _has_account() -> bool:
    try:
        pwd.getpwnam(ACCOUNT)
    except KeyError:
        return False
    return True

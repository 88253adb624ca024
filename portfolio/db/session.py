"""Engines and sessions: SQLite by default, PostgreSQL by address; and the newest schema."""

from __future__ import annotations

import os
import random
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy.orm import Session, sessionmaker

from portfolio.domain.errors import BusyError, PortfolioError
from portfolio.paths import migrations_dir

DEFAULT_FILE = "portfolio.sqlite3"
ADDRESS_VARIABLE = "PORTFOLIO_DATABASE_URL"
PATIENCE = 60.0
"""Seconds for which a save waits for the saves of others."""
_BUSY_MS = 20_000
_LONGEST_NAP, _SHORTEST_NAP = 0.03, 0.004
# PostgreSQL's words for: waited too long for a lock; waited for each other; overtaken
_BUSY_STATES = {"55P03", "40P01", "40001"}
_BUSY = (
    "Others are saving something that takes long. Nothing of this was saved: try again in a minute."
)


def database_url() -> str:
    """The database address from the environment, or a SQLite file in the current folder."""
    return os.environ.get(ADDRESS_VARIABLE) or f"sqlite:///{Path.cwd() / DEFAULT_FILE}"


_CACHE_KIB = 65_536
"""What a connection may keep of a SQLite file: with the 2 MB that SQLite keeps unless told, writing
everything computed of 25,000 zones reads its own pages again and again."""


def engine_for(url: str) -> sa.Engine:
    """An engine that behaves alike on both databases."""
    engine = sa.create_engine(url)
    if engine.dialect.name == "sqlite":
        sa.event.listen(engine, "connect", _prepare_sqlite)
        sa.event.listen(engine, "begin", _begin_sqlite)
    return engine


def _prepare_sqlite(connection: Any, record: object) -> None:
    del record
    # the driver's own BEGIN comes too late: a read that turns into a write would fail as "locked"
    connection.isolation_level = None
    cursor = connection.cursor()
    for pragma in (
        "foreign_keys=ON",
        f"busy_timeout={_BUSY_MS}",
        "journal_mode=WAL",
        f"cache_size=-{_CACHE_KIB}",
    ):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _begin_sqlite(connection: sa.Connection) -> None:
    options = connection.get_execution_options()
    if options.get("writes"):
        _begin_in_turn(connection, options.get("patience", PATIENCE))
    else:
        connection.exec_driver_sql("BEGIN")


def _begin_in_turn(connection: sa.Connection, patience: float) -> None:
    """Begin writing as soon as nobody else does.

    SQLite itself asks less and less often, so that with many writers newcomers always come first
    and somebody waits for ever; here whoever has waited longer asks more often.
    """
    cursor = connection.connection.cursor()
    began = time.monotonic()
    try:
        cursor.execute("PRAGMA busy_timeout=0")
        while not _has_begun(cursor, may_fail=time.monotonic() - began >= patience):
            waited = time.monotonic() - began
            nap = max(_SHORTEST_NAP, _LONGEST_NAP / (1 + waited))
            time.sleep(nap * random.uniform(0.5, 1.5))
    finally:
        cursor.execute(f"PRAGMA busy_timeout={_BUSY_MS}")
        cursor.close()


def _has_begun(cursor: Any, *, may_fail: bool) -> bool:
    try:
        cursor.execute("BEGIN IMMEDIATE")
    except sqlite3.OperationalError as error:
        if may_fail or not _is_busy(error):
            raise
        return False
    return True


def _is_busy(error: BaseException | None) -> bool:
    """Whether the driver says that others hold what was asked for."""
    if isinstance(error, sqlite3.OperationalError):
        return error.sqlite_errorcode & 0xFF == sqlite3.SQLITE_BUSY
    return getattr(error, "sqlstate", None) in _BUSY_STATES


def session_factory(engine: sa.Engine) -> sessionmaker[Session]:
    """Sessions whose objects stay usable after the commit."""
    return sessionmaker(engine, expire_on_commit=False)


@contextmanager
def reading(engine: sa.Engine) -> Iterator[Session]:
    """A session for looking only."""
    with session_factory(engine)() as session:
        yield session


@contextmanager
def writing(engine: sa.Engine, *, patience: float | None = None) -> Iterator[Session]:
    """A session whose work is saved whole at the end, or not at all.

    Raises BusyError when others have not finished theirs after `patience` seconds.
    """
    patience = PATIENCE if patience is None else patience
    options = {"writes": True, "patience": patience}
    try:
        with session_factory(engine.execution_options(**options)).begin() as session:
            if engine.dialect.name == "postgresql":
                session.execute(sa.text(f"SET LOCAL lock_timeout = {max(1, int(patience * 1000))}"))
            yield session
    except (sqlite3.OperationalError, sa.exc.OperationalError) as error:
        if _is_busy(error if isinstance(error, sqlite3.Error) else error.orig):
            raise BusyError(_BUSY) from error
        raise


def alembic_config(url: str) -> Config:
    """The migrations, pointed at `url`, wherever the package is installed."""
    config = Config()
    config.set_main_option("script_location", str(migrations_dir()))
    config.attributes["url"] = url
    return config


def is_current(url: str) -> bool:
    """Whether the database exists and is at the newest schema."""
    if url.startswith("sqlite:///") and not Path(url.removeprefix("sqlite:///")).exists():
        return False
    newest = ScriptDirectory.from_config(alembic_config(url)).get_current_head()
    engine = engine_for(url)
    try:
        with engine.connect() as connection:
            return schema_revision(connection) == newest
    except sa.exc.OperationalError as error:
        raise PortfolioError(f"The database does not answer: {error.orig}") from error
    finally:
        engine.dispose()


def upgrade(url: str, revision: str = "head") -> None:
    """Bring the database up to a schema, the newest unless said; makes it when there is none."""
    command.upgrade(alembic_config(url), revision)


def schema_revision(connection: sa.Connection) -> str:
    """The schema that the database is at; empty when it has none yet."""
    return MigrationContext.configure(connection).get_current_revision() or ""


def is_known_revision(revision: str) -> bool:
    """Whether this program has a schema of that name; a newer program's it has not."""
    script = ScriptDirectory.from_config(alembic_config(""))
    return revision in {found.revision for found in script.walk_revisions()}

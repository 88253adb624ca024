"""Engines and sessions: SQLite by default, PostgreSQL by address; and the newest schema."""

from __future__ import annotations

import os
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

from portfolio.domain.errors import PortfolioError
from portfolio.paths import migrations_dir

DEFAULT_FILE = "portfolio.sqlite3"
ADDRESS_VARIABLE = "PORTFOLIO_DATABASE_URL"


def database_url() -> str:
    """The database address from the environment, or a SQLite file in the current folder."""
    return os.environ.get(ADDRESS_VARIABLE) or f"sqlite:///{Path.cwd() / DEFAULT_FILE}"


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
    for pragma in ("foreign_keys=ON", "busy_timeout=20000", "journal_mode=WAL"):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _begin_sqlite(connection: sa.Connection) -> None:
    options = connection.get_execution_options()
    connection.exec_driver_sql("BEGIN IMMEDIATE" if options.get("writes") else "BEGIN")


def session_factory(engine: sa.Engine) -> sessionmaker[Session]:
    """Sessions whose objects stay usable after the commit."""
    return sessionmaker(engine, expire_on_commit=False)


@contextmanager
def reading(engine: sa.Engine) -> Iterator[Session]:
    """A session for looking only."""
    with session_factory(engine)() as session:
        yield session


@contextmanager
def writing(engine: sa.Engine) -> Iterator[Session]:
    """A session whose work is saved whole at the end, or not at all."""
    with session_factory(engine.execution_options(writes=True)).begin() as session:
        yield session


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

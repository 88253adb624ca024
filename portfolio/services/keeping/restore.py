"""Brings a backup back: checked first, brought to this schema aside, then swapped in at once."""

from __future__ import annotations

import tempfile
from pathlib import Path

import sqlalchemy as sa

from portfolio.db.append_only import lifted
from portfolio.db.documents import Document
from portfolio.db.people import FailedSignIn, Invitation, SignIn
from portfolio.db.session import engine_for, is_known_revision, upgrade
from portfolio.db.works import CalendarLink
from portfolio.domain.errors import InputError
from portfolio.services.documents.contents import contents_for
from portfolio.services.keeping.archive import Manifest, document_of, rows_of, verify
from portfolio.services.keeping.tables import rows_in, rows_out, tables_of

_NOT_BROUGHT_BACK = {
    SignIn.__tablename__,
    FailedSignIn.__tablename__,
    # an address to subscribe at may have been withdrawn since
    CalendarLink.__tablename__,
}
# what rows raise that were not written by a backup of this schema
_NO_ROWS = (sa.exc.SQLAlchemyError, KeyError, TypeError, ValueError, AttributeError)


def restore(engine: sa.Engine, path: Path) -> Manifest:
    """Replace everything in the store by the backup, in one transaction.

    Files of documents come first, so that no row is without its own; those of documents that are
    not in the backup stay where they are.

    The store must be at this program's schema; the backup may be older. Nobody is signed in
    afterwards, no address to subscribe at is good, and no link to join is open: whoever was signed
    in then may have been signed out since, for a reason, and a link may have been used or
    withdrawn. Raises InputError
    for a damaged backup, one of a newer program, or one with something that this database cannot
    keep; then nothing has changed.
    """
    manifest = verify(path)
    if not is_known_revision(manifest.revision):
        raise InputError(
            f"{path.name} was written by a newer program (schema {manifest.revision}). "
            "Nothing has been restored."
        )
    with tempfile.TemporaryDirectory() as folder:
        aside = _aside(Path(folder), path, manifest)
        try:
            _check_documents(aside, path, manifest)
            contents = contents_for(engine)
            for document in manifest.documents:
                contents.put(document_of(path, document))
            _swap_in(engine, aside)
        except (sa.exc.DataError, sa.exc.IntegrityError) as error:
            raise InputError(
                f"{path.name} holds something that this database cannot keep: {error.orig}. "
                "Nothing has been restored."
            ) from error
        finally:
            aside.dispose()
    return manifest


def _aside(folder: Path, path: Path, manifest: Manifest) -> sa.Engine:
    """A database of its own with the backup's rows, brought up to the newest schema."""
    url = f"sqlite:///{folder / 'aside.sqlite3'}"
    upgrade(url, manifest.revision)
    engine = engine_for(url)
    try:
        _fill(engine, path, manifest)
    except _NO_ROWS as error:
        raise InputError(
            f"{path.name} is damaged: its rows do not fit its schema. Nothing has been restored."
        ) from error
    finally:
        engine.dispose()
    upgrade(url)
    return engine_for(url)


def _fill(engine: sa.Engine, path: Path, manifest: Manifest) -> None:
    parts = {part.name: part for part in manifest.parts}
    with engine.execution_options(writes=True).begin() as connection:
        tables = tables_of(connection)
        if {table.name for table in tables} != parts.keys():
            raise InputError(f"{path.name} is damaged: its tables are not those of its schema.")
        with lifted(connection):
            _empty(connection, tables)
            for table in tables:
                rows_in(connection, table, rows_of(path, parts[table.name]))


def _check_documents(aside: sa.Engine, path: Path, manifest: Manifest) -> None:
    """Raise InputError where a document has neither its content in the backup nor is left out."""
    there = {document.sha256 for document in manifest.documents} | set(manifest.left_out)
    with aside.connect() as connection:
        needed = set(connection.scalars(sa.select(Document.sha256)))
    if lost := sorted(needed - there):
        raise InputError(
            f"{path.name} is damaged: it lacks the documents {', '.join(lost)}. "
            "Nothing has been restored."
        )


def _swap_in(engine: sa.Engine, aside: sa.Engine) -> None:
    with (
        aside.connect() as source,
        engine.execution_options(writes=True).begin() as target,
        lifted(target),
    ):
        tables = tables_of(target)
        _empty(target, tables)
        for table in tables:
            if table.name not in _NOT_BROUGHT_BACK:
                rows_in(target, table, rows_out(source, table))
        # a link that was open then may have been used since
        target.execute(sa.delete(Invitation).where(Invitation.used_at.is_(None)))
        _restart_counters(target, tables)


def _empty(connection: sa.Connection, tables: list[sa.Table]) -> None:
    for table in reversed(tables):
        connection.execute(sa.delete(table))


def _restart_counters(connection: sa.Connection, tables: list[sa.Table]) -> None:
    """New rows on PostgreSQL get ids after those restored; SQLite looks by itself."""
    if connection.dialect.name != "postgresql":
        return
    for table in tables:
        if "id" in table.columns and isinstance(table.columns["id"].type, sa.Integer):
            highest = sa.select(sa.func.coalesce(sa.func.max(table.columns["id"]), 0) + 1)
            counter = sa.func.pg_get_serial_sequence(table.name, "id")
            connection.execute(sa.select(sa.func.setval(counter, highest.scalar_subquery(), False)))

"""Writes a backup while the program runs: one consistent picture, verified after writing."""

from __future__ import annotations

import os
import secrets
from datetime import datetime
from pathlib import Path

import sqlalchemy as sa

from portfolio.db.documents import Document
from portfolio.db.session import schema_revision
from portfolio.domain.errors import InputError
from portfolio.services.documents.contents import Contents, UnreadableError, contents_for
from portfolio.services.keeping.archive import ArchiveWriter, Manifest, verify
from portfolio.services.keeping.tables import rows_out, tables_of


def backup(
    engine: sa.Engine, path: Path, now: datetime, *, leave_out_damaged: bool = False
) -> Manifest:
    """Write everything to `path`, which must not exist yet. Raises InputError.

    The file appears under its name only once it has been read back whole. A document whose own
    file is missing or damaged is refused, unless it is left out on purpose: then the backup says
    so, and everything else is safe.
    """
    if path.exists():
        raise InputError(f"{path} is there already: a backup never overwrites a file.")
    unfinished = path.with_name(f"{path.name}.{secrets.token_hex(4)}.unfinished")
    try:
        _write(engine, unfinished, now, leave_out_damaged=leave_out_damaged)
        manifest = verify(unfinished)
        # unlike a renaming, this never replaces what somebody else has written there meanwhile
        os.link(unfinished, path)
    except FileExistsError as error:
        raise InputError(f"{path} is there already: a backup never overwrites a file.") from error
    except OSError as error:
        raise InputError(f"{path} cannot be written: {error.strerror}.") from error
    finally:
        unfinished.unlink(missing_ok=True)
    return manifest


def _write(engine: sa.Engine, path: Path, now: datetime, *, leave_out_damaged: bool) -> None:
    with _one_picture(engine) as connection, connection.begin():
        revision = schema_revision(connection)
        writer = ArchiveWriter(path, revision, now.isoformat())
        try:
            for table in tables_of(connection):
                writer.add(table.name, rows_out(connection, table))
            left_out = _write_documents(writer, connection, contents_for(engine))
            if left_out and not leave_out_damaged:
                raise InputError(
                    f"The files of {len(left_out)} documents are missing or damaged: "
                    f"{', '.join(left_out)}. No backup was written. See portfolio documents "
                    "verify; adding a document again mends its file."
                )
        except BaseException:
            writer.give_up()
            raise
        writer.close(left_out)
    # the name must not outlive a power cut that the content does not
    with path.open("rb+") as written:
        os.fsync(written.fileno())


def _write_documents(
    writer: ArchiveWriter, connection: sa.Connection, contents: Contents
) -> list[str]:
    """Write the contents that this picture's rows need; gives the SHA-256 of those not whole.

    Files are never removed, so those of the picture are there however much is saved meanwhile.
    """
    left_out = []
    for sha256 in connection.scalars(sa.select(Document.sha256).distinct().order_by("sha256")):
        try:
            writer.add_document(sha256, contents.read(sha256))
        except UnreadableError:
            left_out.append(sha256)
    return left_out


def _one_picture(engine: sa.Engine) -> sa.Connection:
    """A connection that sees nothing of what others save meanwhile."""
    if engine.dialect.name == "sqlite":
        return engine.connect()  # a reading transaction of WAL is one picture anyway
    return engine.connect().execution_options(isolation_level="REPEATABLE READ")

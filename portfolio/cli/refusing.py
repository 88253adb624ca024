"""What the program refuses becomes a sentence and exit status 1, never a stack trace."""

from __future__ import annotations

import errno
import sqlite3
from typing import IO, Any

import click
import sqlalchemy as sa
from alembic.util import CommandError

from portfolio.cli.store import BAD_ADDRESS
from portfolio.domain.errors import PortfolioError

_DRIVER = "The driver of this database is not installed: install with the postgres extra."
_SCHEMA = (
    "The database is at a schema that this program does not know; a newer program may have made "
    "it. Nothing has been changed."
)


class Refused(click.ClickException):
    """A sentence on standard error, and exit status 1."""

    exit_code = 1

    def show(self, file: IO[Any] | None = None) -> None:
        """Just the sentence: it says what is wrong without the word "Error"."""
        click.echo(self.message, file=file, err=True)


class Commands(click.Group):
    """Commands of which no refusal reaches the reader as a stack trace."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command that was named."""
        try:
            return super().invoke(ctx)
        except Exception as error:
            sentence = _sentence(error)
            if sentence is None:
                raise
            raise Refused(sentence) from error


def _sentence(error: Exception) -> str | None:
    """What to tell the reader, or None where the program itself is at fault."""
    if isinstance(error, PortfolioError):
        return str(error)
    if isinstance(error, OSError):
        name = f"{error.filename}: " if error.filename else ""
        return None if error.errno == errno.EPIPE else f"{name}{error.strerror or error}"
    return _about_the_database(error)


def _about_the_database(error: Exception) -> str | None:
    if isinstance(error, sa.exc.OperationalError) or type(error) is sa.exc.DatabaseError:
        return f"The database does not answer: {error.orig}"
    if isinstance(error, sqlite3.OperationalError):
        return f"The database does not answer: {error}"
    if isinstance(error, ModuleNotFoundError):
        return _DRIVER if (error.name or "").startswith("psycopg") else None
    known = {sa.exc.ArgumentError: BAD_ADDRESS, CommandError: _SCHEMA}
    return next((told for kind, told in known.items() if isinstance(error, kind)), None)

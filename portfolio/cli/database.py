"""Commands for the database itself."""

from __future__ import annotations

import click

from portfolio.cli.store import check_file
from portfolio.db.session import database_url, upgrade


@click.group()
def db() -> None:
    """The database."""


@db.command("upgrade")
def upgrade_command() -> None:
    """Bring the database up to this program's schema; makes it when there is none."""
    url = database_url()
    check_file(url)
    upgrade(url)
    click.echo("The database is at the newest schema.")

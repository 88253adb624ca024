"""Accounts from the shell: only what must come before the first sign-in."""

from __future__ import annotations

from datetime import UTC, datetime

import click

from portfolio.cli.output import json_option, print_json
from portfolio.cli.store import open_store
from portfolio.db.models import OrganisationKind
from portfolio.db.session import writing


@click.group()
def people() -> None:
    """Accounts. Everybody else joins by a link from their administrator."""


@people.command("first-administrator")
@click.option("--organisation", required=True, help="Its reference, as spreadsheets name it.")
@click.option("--organisation-name", default="", help="Its full name, where it is new.")
@click.option("--kind", type=click.Choice([k.value for k in OrganisationKind]), default="owner")
@click.option("--email", required=True)
@click.option("--name", default="")
@json_option
def first_administrator_command(
    organisation: str, organisation_name: str, kind: str, email: str, name: str, *, as_json: bool
) -> None:
    """Make the one-time link by which an organisation's first administrator joins."""
    from portfolio.services.accounts.joining import first_administrator

    with writing(open_store()) as session:
        invited = first_administrator(
            session,
            organisation_ref=organisation,
            organisation_name=organisation_name,
            kind=OrganisationKind(kind),
            email=email,
            name=name,
            now=datetime.now(UTC),
        )
    path = f"/join/{invited.token}"
    if as_json:
        print_json({"link": path, "expires_at": invited.expires_at.isoformat()})
        return
    click.echo("Open this once, below the address where the pages are served:")
    click.echo(f"  {path}")
    click.echo(f"It can be used until {invited.expires_at:%Y-%m-%d %H:%M} UTC.")

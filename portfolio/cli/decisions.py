"""The command that lists engineers' decisions, and those to look at again."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

import click

from portfolio.cli.options import as_option, owner_option
from portfolio.cli.output import json_option, print_caution, print_json
from portfolio.cli.store import check_owner, open_store, today, viewer_named
from portfolio.db.session import reading
from portfolio.services.ruling_review import Ruling, list_rulings, ruling_fields

_WIDTH = 96


@click.command()
@owner_option
@click.option("--all", "every", is_flag=True, help="All of them, not only those to look at again.")
@as_option
@json_option
def decisions(owner: str, as_person: str, *, every: bool, as_json: bool) -> None:
    """Engineers' decisions to look at again: what each rested on, and what of it has changed."""
    with reading(open_store()) as session:
        viewer = viewer_named(session, as_person)
        check_owner(session, owner)
        rows = list_rulings(session, viewer, today(), to_review=not every, owner=owner).rows
        told = [dict(ruling_fields(ruling)) for ruling in rows]
    if as_json:
        print_json(told)
        return
    if not rows:
        click.echo("No decision is recorded." if every else "No decision is to be looked at again.")
        return
    print_rulings(rows)
    print_caution()


def print_rulings(rows: Sequence[Ruling]) -> None:
    """Decisions for people, one after another."""
    for found in rows:
        row = found.row
        where = f"{found.building_ref}/{found.zone_ref}"
        by = ", ".join(filter(None, (row.by, row.qualification, row.on.isoformat())))
        click.echo(f"\nDecision on {where}: {found.state}")
        _say(f"{by}: {row.ruling}")
        _say(f"ruled on: {found.ruled_on}")
        for why in found.because:
            _say(why)


def _say(text: str) -> None:
    """A text in lines; references stay whole, so that they can be looked for."""
    lines = textwrap.wrap(text, _WIDTH - 4, break_on_hyphens=False)
    click.echo("  " + "\n    ".join(lines))

"""The command that compares any zone or test with any other."""

from __future__ import annotations

import textwrap

import click

from portfolio.cli.options import as_option, owner_option
from portfolio.cli.output import json_option, print_caution, print_json, print_table
from portfolio.cli.store import check_owner, open_store, today, viewer_named
from portfolio.db.session import reading
from portfolio.services.comparing import compare as compare_things
from portfolio.services.comparing import comparison_fields
from portfolio.services.references import pair_named


@click.command()
@click.argument("left")
@click.argument("right")
@owner_option
@as_option
@json_option
def compare(left: str, right: str, owner: str, as_person: str, *, as_json: bool) -> None:
    """Two walls line by line: each of LEFT and RIGHT a zone, BUILDING/ZONE, or a test, test:REF."""
    with reading(open_store()) as session:
        viewer, on = viewer_named(session, as_person), today()
        check_owner(session, owner)
        first, second = pair_named(session, viewer, left, right, on, owner=owner)
        found = compare_things(session, viewer, first, second, on)
    if as_json:
        print_json(comparison_fields(found))
        return
    click.echo(f"{found.left.ref} and {found.right.ref}: {found.in_words}")
    if found.verdict:
        click.echo(f"What the test says of the zone: {found.verdict}")
        click.echo(textwrap.fill(found.route, 96))
    if found.lines:
        print_table(
            ["Parameter", "Left", "Right", "Answer", "Rule", "Left from", "Right from"],
            [
                [
                    f"{line.title} (decisive)" if line.is_decisive else line.title,
                    line.left.value,
                    line.right.value,
                    line.answer,
                    f"{line.rule}: {line.rule_source}" if line.rule else "",
                    line.left.source,
                    line.right.source,
                ]
                for line in found.lines
            ],
        )
    print_caution()

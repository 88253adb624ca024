"""The invented demo portfolio: made, computed, summarised and served by one command."""

from __future__ import annotations

import os
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click
import sqlalchemy as sa

from portfolio.cli.output import json_option, print_caution, print_json, print_table, show_progress
from portfolio.cli.reports import print_gaps
from portfolio.cli.serve import serve_pages
from portfolio.cli.sheets import planned
from portfolio.cli.store import open_store, today
from portfolio.db.models import Organisation
from portfolio.db.session import ADDRESS_VARIABLE, reading, writing
from portfolio.domain.coverage import WORST_FIRST
from portfolio.domain.errors import PortfolioError
from portfolio.paths import seed_demo_dir
from portfolio.services.gaps import GapFilter, GapRow, list_gaps
from portfolio.services.taking_in import take_in
from portfolio.services.viewer import LOCAL

if TYPE_CHECKING:
    from portfolio.cli.demo_accounts import DemoAccount

DEMO_FILE = "portfolio-demo.sqlite3"
FIRST_GAPS = 10


@click.command()
@click.option("--no-serve", is_flag=True, help="Prepare and print only.")
@click.option("--host", default="127.0.0.1", show_default=True)
@click.option("--port", type=click.IntRange(1, 65535), default=8000, show_default=True)
@json_option
def demo(host: str, port: int, *, no_serve: bool, as_json: bool) -> None:
    """Make the invented demo portfolio, compute everything, print a summary, serve the pages.

    It keeps to a file of its own, portfolio-demo.sqlite3, unless PORTFOLIO_DATABASE_URL says
    where to put it.
    """
    from portfolio.cli.demo_accounts import ready_accounts
    from portfolio.cli.demo_works import add_interim_measures

    url = os.environ.get(ADDRESS_VARIABLE) or f"sqlite:///{Path.cwd() / DEMO_FILE}"
    engine = open_store(url)
    with writing(engine) as session:
        _refuse_real_data(engine)
        plan = planned(session, (seed_demo_dir(),))
        take_in(session, LOCAL, plan, today(), show_progress)
        add_interim_measures(session, seed_demo_dir() / "interim_measures.toml", today())
        accounts = ready_accounts(session, today())
    with reading(engine) as session:
        rows = list_gaps(session, LOCAL, GapFilter(gaps_only=False)).rows
    if as_json:
        told = [asdict(account) for account in accounts]
        address = sa.make_url(url).render_as_string(hide_password=True)
        print_json({"database": address, "coverage": dict(_counts(rows)), "accounts": told})
    else:
        _summarise(rows)
        _introduce(accounts)
    if not no_serve:
        serve_pages(url, host, port)


def _refuse_real_data(engine: sa.Engine) -> None:
    """Invented buildings never mix with real ones."""
    invented = {
        line.split(",")[0]
        for line in (seed_demo_dir() / "organisations.csv").read_text("utf-8-sig").splitlines()[1:]
    }
    with reading(engine) as session:
        there = set(session.scalars(sa.select(Organisation.ref)))
    if there - invented:
        raise PortfolioError(
            "This database holds organisations of its own: the invented demo is not mixed with "
            f"them. Unset {ADDRESS_VARIABLE} or name an empty database."
        )


def _introduce(accounts: list[DemoAccount]) -> None:
    click.echo("Sign in as one of three invented people (the passwords are new each time):")
    rows = [[account.who, account.email, account.password] for account in accounts]
    print_table(["Who", "E-mail", "Password"], rows)
    click.echo()


def _counts(rows: tuple[GapRow, ...]) -> list[tuple[str, int]]:
    return [
        (
            state.value + (" by inference" if inferred else ""),
            sum((row.coverage, row.by_inference) == (state, inferred) for row in rows),
        )
        for state, inferred in WORST_FIRST
    ]


def _summarise(rows: tuple[GapRow, ...]) -> None:
    buildings = {row.building_id for row in rows}
    click.echo("An invented portfolio: no place, owner, product or building in it exists.\n")
    click.echo(f"{len(buildings)} buildings, {len(rows)} zones, by coverage:")
    print_table(["Coverage", "Zones"], _counts(rows))
    click.echo(f"\nThe first {FIRST_GAPS} gaps:")
    print_gaps(tuple(row for row in rows if row.rank is not None)[:FIRST_GAPS])
    print_caution()
    click.echo()

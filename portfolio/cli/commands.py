"""The commands, gathered under `portfolio`."""

from __future__ import annotations

import click

from portfolio.cli.classify import classify
from portfolio.cli.comparing import compare
from portfolio.cli.database import db
from portfolio.cli.decisions import decisions
from portfolio.cli.demand import demand
from portfolio.cli.demo import demo
from portfolio.cli.documents import documents
from portfolio.cli.keeping import backup, log, restore
from portfolio.cli.packing import pack
from portfolio.cli.people import people
from portfolio.cli.progress import progress
from portfolio.cli.refusing import Commands
from portfolio.cli.reports import coverage, explain, gaps
from portfolio.cli.rules import rules
from portfolio.cli.serve import serve
from portfolio.cli.sheets import import_, template
from portfolio.cli.works import works


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="portfolio-tracker")
def portfolio() -> None:
    """Which tested wall stands behind each façade zone, what differs, what nobody knows.

    The database is the file portfolio.sqlite3 in the current folder, or the address in
    PORTFOLIO_DATABASE_URL. The program organises evidence; decisions rest with competent fire
    engineers and the law where the building stands.
    """


for command in (
    backup,
    classify,
    compare,
    coverage,
    db,
    decisions,
    demand,
    demo,
    documents,
    explain,
    gaps,
    import_,
    log,
    pack,
    people,
    progress,
    restore,
    rules,
    serve,
    template,
    works,
):
    portfolio.add_command(command)

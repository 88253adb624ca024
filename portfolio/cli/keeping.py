"""Backups, and the check of the change log."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import click

from portfolio.cli.output import json_option, print_json
from portfolio.cli.store import open_store
from portfolio.db.changelog import broken_at
from portfolio.db.session import reading
from portfolio.services.keeping.archive import Manifest
from portfolio.services.keeping.backup import backup as write_backup
from portfolio.services.keeping.restore import restore as read_backup


@click.command()
@click.argument("target", type=click.Path(dir_okay=False, path_type=Path))
@click.option(
    "--leave-out-damaged", is_flag=True, help="Also without documents that cannot be read."
)
@json_option
def backup(target: Path, *, leave_out_damaged: bool, as_json: bool) -> None:
    """Write everything to TARGET while the program runs, and read it back to be sure."""
    written = write_backup(open_store(), target, _now(), leave_out_damaged=leave_out_damaged)
    _tell("Written and verified", written, as_json=as_json)


@click.command()
@click.argument("source", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--yes", is_flag=True, help="Do not ask.")
@json_option
def restore(source: Path, *, yes: bool, as_json: bool) -> None:
    """Replace everything in the database by the backup SOURCE, all at once or not at all."""
    if not yes:
        click.confirm("Everything in the database is replaced. Go on?", abort=True)
    _tell("Restored", read_backup(open_store(), source), as_json=as_json)


def _tell(did: str, manifest: Manifest, *, as_json: bool) -> None:
    rows = {part.name: part.rows for part in manifest.parts}
    if as_json:
        found = {"made_at": manifest.made_at, "rows": rows, "documents": len(manifest.documents)}
        print_json(found | {"left_out": list(manifest.left_out)})
        return
    click.echo(
        f"{did}: {sum(rows.values())} rows in {len(rows)} tables, "
        f"{len(manifest.documents)} documents."
    )
    for sha256 in manifest.left_out:
        click.echo(f"Left out, because its file was missing or damaged: document {sha256}.")


@click.group()
def log() -> None:
    """The change log."""


@log.command("verify")
@json_option
@click.pass_context
def verify(context: click.Context, *, as_json: bool) -> None:
    """Read the chain of the change log; exit status 1 when an entry is missing or altered."""
    with reading(open_store()) as session:
        fault = broken_at(session)
    if as_json:
        print_json({"whole": fault is None, "fault": fault})
    else:
        click.echo("The change log is whole." if fault is None else f"Broken: {fault}.")
    if fault is not None:
        context.exit(1)


def _now() -> datetime:
    return datetime.now(UTC)

"""The evidence pack from the shell."""

from __future__ import annotations

from pathlib import Path

import click

from portfolio.cli.output import json_option, print_json
from portfolio.cli.reports import owner_option
from portfolio.cli.store import open_store, today
from portfolio.db.session import reading
from portfolio.services.packs import building_pack, find_building
from portfolio.services.viewer import LOCAL


@click.command()
@click.argument("building")
@owner_option
@click.option(
    "--to", "target", type=click.Path(dir_okay=False, path_type=Path), help="The file to write."
)
@json_option
def pack(building: str, owner: str, target: Path | None, *, as_json: bool) -> None:
    """Write the evidence pack of BUILDING as one workbook."""
    with reading(open_store()) as session:
        building_id = find_building(session, LOCAL, building, owner)
        content = building_pack(session, LOCAL, building_id, today())
    safe = "".join(c if c.isalnum() or c in "-_." else "-" for c in building)
    path = target or Path(f"evidence-{safe}.xlsx")
    path.write_bytes(content)
    if as_json:
        print_json({"building": building, "file": str(path), "bytes": len(content)})
    else:
        click.echo(f"Wrote {path}")

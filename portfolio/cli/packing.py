"""The evidence pack from the shell."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from portfolio.cli.options import as_option, owner_option
from portfolio.cli.output import json_option, print_json, show_stage
from portfolio.cli.store import open_store, today, viewer_named
from portfolio.db.session import reading, writing
from portfolio.services.handing_out import keep_pack, log_export
from portfolio.services.looking_back import pack_looking_back
from portfolio.services.packs import as_its_owner, building_pack, find_building


@click.command()
@click.argument("building")
@owner_option
@click.option(
    "--to", "target", type=click.Path(dir_okay=False, path_type=Path), help="The file to write."
)
@click.option(
    "--as-of", type=click.DateTime(["%Y-%m-%d"]), help="As it was known at the end of this day."
)
@as_option
@json_option
def pack(
    building: str,
    *,
    owner: str,
    target: Path | None,
    as_of: datetime | None,
    as_person: str,
    as_json: bool,
) -> None:
    """Write the evidence pack of BUILDING as one workbook: as its owner sees it, unless --as says
    whose eyes to make it with."""
    if as_of is not None and as_of.date() > today():
        raise click.UsageError(f"Nobody knows yet what will be known on {as_of:%Y-%m-%d}.")
    engine = open_store()
    with reading(engine) as session:
        viewer = viewer_named(session, as_person)
        building_id = find_building(session, viewer, building, owner)
        eyes = as_its_owner(session, viewer, building_id)
        # a log of many channels alone takes seconds
        show_stage("Making the pack")
        if as_of is None:
            made = building_pack(session, eyes, building_id, today())
        else:
            day = as_of.date()
            made = pack_looking_back(session, eyes, building_id, day, today=today())
    with writing(engine) as session:
        log_export(session, viewer, f"evidence pack of {building}")
        keep_pack(session, viewer, made)
    safe = "".join(c if c.isalnum() or c in "-_." else "-" for c in building)
    day_of = "" if as_of is None else f"-{as_of:%Y-%m-%d}"
    path = target or Path(f"evidence-{safe}{day_of}.xlsx")
    path.write_bytes(made.content)
    if as_json:
        print_json({"building": building, "file": str(path), "bytes": len(made.content)})
    else:
        click.echo(f"Wrote {path}")

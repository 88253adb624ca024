"""How the portfolio moves, from the shell."""

from __future__ import annotations

from typing import Any

import click

from portfolio.cli.options import as_option
from portfolio.cli.output import json_option, print_caution, print_json, print_table
from portfolio.cli.store import open_store, today, viewer_named
from portfolio.db.session import reading
from portfolio.domain.coverage import Coverage
from portfolio.domain.moving import FACTS, MEASURES, ZONES, DayCount
from portfolio.services.progress import ProgressFilter
from portfolio.services.progress import progress as progress_of


@click.command()
@click.option("--owner", default="", help="Only this owner's buildings.")
@as_option
@json_option
def progress(owner: str, as_person: str, *, as_json: bool) -> None:
    """Coverage and missing facts, day by day, the present last."""
    with reading(open_store()) as session:
        viewer = viewer_named(session, as_person)
        found = progress_of(session, viewer, ProgressFilter(owner=owner), today())
    if as_json:
        days = [_fields(day) for day in found.days]
        print_json({"days": days, "now": _fields(found.now)})
        return
    headers = ["Day", "Zones", "Covered", "Gaps", "Facts unknown", "What else changed"]
    rows = [[day.day.isoformat(), *_cells(day)] for day in found.days]
    print_table(headers, [*rows, ["now", *_cells(found.now)]])
    print_caution()


def _cells(day: DayCount) -> list[Any]:
    zones, covered = day.total(ZONES), day.count(ZONES, Coverage.COVERED.value)
    unknown = day.count(FACTS, "unknown")
    return [zones, covered, zones - covered, unknown, "; ".join(day.breaks)]


def _fields(day: DayCount) -> dict[str, Any]:
    counts = {
        measure: {key: amount.number for key, amount in sorted(day.counts[measure].items())}
        for measure in MEASURES
        if measure in day.counts
    }
    return {"day": day.day.isoformat(), **counts, "breaks": list(day.breaks)}

"""Recurring gaps from the shell, as an owner or as a laboratory sees them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import click
from sqlalchemy.orm import Session

from portfolio.cli.options import as_option
from portfolio.cli.output import Cell, json_option, print_caution, print_json, print_table
from portfolio.cli.store import open_store, today, viewer_named
from portfolio.db.session import reading
from portfolio.services.demand import DemandGroup, demand_groups, what_to_test
from portfolio.services.shared_demand import SharedGroup, shared_groups, shared_test
from portfolio.services.viewer import Viewer

_Contents = tuple[tuple[str, tuple[str, ...], int], ...]


@click.command()
@click.option("--first", type=click.IntRange(min=1), default=None, help="Only the first N.")
@as_option
@json_option
def demand(first: int | None, as_person: str, *, as_json: bool) -> None:
    """Recurring gaps: walls alike, and what one test of them would have to contain."""
    with reading(open_store()) as session:
        viewer = viewer_named(session, as_person)
        groups = _groups(session, viewer, first)
        contents = [_contents(session, viewer, group.key) for group in groups] if as_json else []
    if as_json:
        print_json([_fields(g, told) for g, told in zip(groups, contents, strict=True)])
        return
    headers = ["Zones", "Buildings", "Owners", "Area m2", "Highest", "Wall"]
    print_table(headers, [_cells(group) for group in groups])
    print_caution()


def _groups(
    session: Session, viewer: Viewer, first: int | None
) -> Sequence[DemandGroup | SharedGroup]:
    if viewer.is_laboratory:
        return shared_groups(session, viewer, today(), limit=first).groups
    return demand_groups(session, viewer, today(), limit=first).groups


def _contents(session: Session, viewer: Viewer, key: str) -> _Contents:
    if viewer.is_laboratory:
        return shared_test(session, viewer, key, today()).to_contain
    return what_to_test(session, viewer, key, today()).to_contain


def _highest(group: DemandGroup | SharedGroup) -> Cell:
    return group.highest if isinstance(group, SharedGroup) else group.highest_m


def _cells(group: DemandGroup | SharedGroup) -> list[Cell]:
    known = ", ".join(text for _, text in group.wall if text != "unknown")
    area = round(group.area_m2)
    return [group.zones, group.buildings, group.owners, area, _highest(group), known]


def _fields(group: DemandGroup | SharedGroup, contents: _Contents) -> dict[str, Any]:
    return {
        "wall": dict(group.wall),
        "zones": group.zones,
        "buildings": group.buildings,
        "owners": group.owners,
        "area_m2": group.area_m2,
        "zones_without_area": group.area_unknown,
        "highest_m": _highest(group),
        "unknown": list(group.unknown),
        "to_contain": [
            {"parameter": title, "values": list(values), "zones_unknown": unknown}
            for title, values, unknown in contents
        ],
    }

"""Works from the shell: the list, and the figures of a release."""

from __future__ import annotations

from datetime import date
from typing import Any

import click

from portfolio.cli.options import as_option
from portfolio.cli.output import Cell, json_option, print_caution, print_json, print_table
from portfolio.cli.store import open_store, today, viewer_named
from portfolio.db.session import reading
from portfolio.domain.works import WorksStatus
from portfolio.domain.works_due import Lateness
from portfolio.domain.works_figures import Figures
from portfolio.domain.works_money import plain_money
from portfolio.services.works.figures import figures as figures_of
from portfolio.services.works.listing import WorksFilter, WorksLine, list_works

_APART = "A works status is no coverage, no outcome of an appraisal, and no finding of safety."


@click.group()
def works() -> None:
    """What is decided about walls, and how far it has come."""


@works.command("list")
@click.option("--status", type=click.Choice([s.value for s in WorksStatus]))
@click.option("--due", type=click.Choice([Lateness.OVERDUE.value, Lateness.SOON.value]))
@as_option
@json_option
def list_(status: str | None, due: str | None, as_person: str, *, as_json: bool) -> None:
    """All works with their status, and beside it what tests say of their zones."""
    with reading(open_store()) as session:
        viewer = viewer_named(session, as_person)
        wanted = WorksFilter(status=status or "", due=due or "")
        rows = list_works(session, viewer, wanted, today()).rows
        told = [_fields(row) for row in rows]
    if as_json:
        print_json(told)
        return
    if not told:
        click.echo("No works are recorded here, or none of this kind.")
        return
    headers = ["Building", "Works", "Zones", "Decided", "Works status", "Coverage", "Due"]
    print_table(headers, [_cells(row) for row in told])
    click.echo(f"\n{_APART}")
    print_caution()


@works.command()
@as_option
@json_option
def figures(as_person: str, *, as_json: bool) -> None:
    """Buildings by works status, in the form of the government's release."""
    with reading(open_store()) as session:
        found = figures_of(session, viewer_named(session, as_person))
    rows = [found.all, *found.programmes]
    if as_json:
        print_json([_figure_fields(row) for row in rows])
        return
    headers = ["Counted", "Completed", "of these awaiting", "Started", "Not started", "Total"]
    cells: list[list[Cell]] = [
        [row.title, row.completed, row.awaiting, row.started, row.not_started, row.total]
        for row in rows
    ]
    print_table(headers, cells)
    click.echo("\nCompleted includes awaiting sign-off. A building in several programmes counts")
    click.echo("once in the first row.")
    click.echo(_APART)
    print_caution()


def _fields(line: WorksLine) -> dict[str, Any]:
    row = line.row
    return {
        "owner": line.owner,
        "building": row.building.ref,
        "works": row.ref,
        "title": row.title,
        "zones": list(line.zones),
        "decided": row.decided.value,
        "status": row.status.value,
        "status_on": row.status_on.isoformat(),
        "coverage": line.coverage,
        "programme": row.programme,
        "responsible": row.responsible,
        "currency": row.currency,
        "cost_estimate": _money(row.estimate_minor),
        "cost_outturn": _money(row.outturn_minor),
        "built_on": _day(row.built_on),
        "due": [
            {"kind": one.kind.value, "on": one.on.isoformat(), "is": late.value}
            for one, late in line.dues
        ],
    }


def _cells(told: dict[str, Any]) -> list[str]:
    due = [f"{one['is']}: {one['kind']} {one['on']}" for one in told["due"]]
    return [
        told["building"],
        told["works"],
        ", ".join(told["zones"]) or "whole building",
        told["decided"],
        told["status"],
        told["coverage"] or "not computed",
        "; ".join(due),
    ]


def _figure_fields(row: Figures) -> dict[str, Any]:
    return {
        "counted": row.title,
        "completed": row.completed,
        "of_these_awaiting_sign_off": row.awaiting,
        "started": row.started,
        "not_started": row.not_started,
        "total": row.total,
        "none_needed": row.none_needed,
    }


def _money(minor: int | None) -> str | None:
    return None if minor is None else plain_money(minor)


def _day(day: date | None) -> str | None:
    return day.isoformat() if day else None

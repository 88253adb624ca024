"""Spreadsheets from the shell: the empty template, importing, exporting."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import click
from sqlalchemy.orm import Session

from portfolio.cli.output import (
    json_option,
    print_json,
    print_table,
    show_progress,
    show_stage,
    shown,
)
from portfolio.cli.store import open_store, today
from portfolio.db.session import reading, writing
from portfolio.domain.errors import InputError, Problem
from portfolio.reference.loader import load_reference
from portfolio.services.importing import ImportPlan, plan_import
from portfolio.services.taking_in import take_in
from portfolio.services.viewer import LOCAL
from portfolio.sheets.converting import convert
from portfolio.sheets.reading import read_paths
from portfolio.sheets.template import write_template


@click.command()
@click.argument("target", type=click.Path(dir_okay=False, path_type=Path), required=False)
@json_option
def template(target: Path | None, *, as_json: bool) -> None:
    """Write the empty workbook to fill in (portfolio-template.xlsx unless TARGET is given)."""
    path = target or Path("portfolio-template.xlsx")
    if path.exists():
        raise InputError(f"{path} is there already, and may be filled in: name another file.")
    write_template(path)
    if as_json:
        print_json({"file": str(path)})
    else:
        click.echo(f"Wrote {path}")


@click.command("import")
@click.argument(
    "paths", nargs=-1, required=True, type=click.Path(exists=True, path_type=Path), metavar="FILE…"
)
@click.option("--dry-run", is_flag=True, help="Say what would change; save nothing.")
@json_option
@click.pass_context
def import_(
    context: click.Context, paths: tuple[Path, ...], *, dry_run: bool, as_json: bool
) -> None:
    """Take in a workbook, CSV files, or a folder of CSV files: all of it or nothing."""
    engine = open_store()
    problems: tuple[Problem, ...] = ()
    counts: dict[str, tuple[int, int, int]] = {}
    try:
        if dry_run:
            with reading(engine) as session:
                counts = planned(session, paths).counts()
        else:
            with writing(engine) as session:
                plan = planned(session, paths)
                take_in(session, LOCAL, plan, today(), show_progress)
                counts = plan.counts()
    except InputError as error:
        problems = error.problems
    report = _json_report if as_json else _report
    report(counts, problems, saved=not dry_run and not problems)
    if problems:
        context.exit(1)


def planned(session: Session, paths: tuple[Path, ...]) -> ImportPlan:
    """The plan of importing these files. Raises InputError with every problem there is."""
    show_stage("Reading")
    drafts = convert(read_paths(list(paths)), load_reference())
    plan = plan_import(session, LOCAL, drafts, today())
    if plan.problems:
        raise InputError(plan.problems)
    return plan


def _report(
    counts: dict[str, tuple[int, int, int]], problems: tuple[Problem, ...], *, saved: bool
) -> None:
    for problem in problems:
        click.echo(str(replace(problem, value=shown(problem.value))), err=True)
    if problems:
        click.echo(f"\n{len(problems)} problem(s). Nothing has been saved.", err=True)
        return
    if not counts:
        click.echo("There is no row in what was given: nothing to take in.")
        return
    rows: list[list[str | int]] = [[subject, *found] for subject, found in counts.items()]
    print_table(["Record", "New", "Changed", "Unchanged"], rows)
    click.echo("Saved." if saved else "Dry run: nothing has been saved.")


def _json_report(
    counts: dict[str, tuple[int, int, int]], problems: tuple[Problem, ...], *, saved: bool
) -> None:
    names = ("new", "changed", "unchanged")
    found: dict[str, Any] = {
        "saved": saved,
        "records": {
            subject: dict(zip(names, numbers, strict=True)) for subject, numbers in counts.items()
        },
        "problems": [
            {
                "file": problem.file,
                "sheet": problem.sheet,
                "row": problem.row,
                "column": problem.column,
                "value": problem.value,
                "message": problem.message,
                "expected": problem.expected,
            }
            for problem in problems
        ],
    }
    print_json(found)

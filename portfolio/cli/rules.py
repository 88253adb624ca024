"""The rules that engineers own, from the shell: exported, imported, and their examples run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import click
import sqlalchemy as sa

from portfolio.cli.options import as_option, owner_option
from portfolio.cli.output import json_option, print_json, print_table, shown
from portfolio.cli.store import check_owner, open_store, today, viewer_named
from portfolio.db.session import reading, writing
from portfolio.domain.errors import InputError
from portfolio.services.editing import CoverageChange
from portfolio.services.rules.exporting import CheckedExample, checked_examples, stored_rules
from portfolio.services.rules.files import write_rules
from portfolio.services.rules.importing import RulesPlan, apply_plan, foresee_plan, plan_rules
from portfolio.services.viewer import LOCAL

_TO_STANDARD_OUTPUT = "-"


@click.group()
def rules() -> None:
    """Application rules that an organisation's engineers own."""


@rules.command("export")
@click.argument("target", metavar="FILE|-", type=click.Path(dir_okay=False, allow_dash=True))
@owner_option
@as_option
@json_option
def export(target: str, *, owner: str, as_person: str, as_json: bool) -> None:
    """Write the versions of every rule that count now or later as TOML, to FILE or to standard
    output (-)."""
    if target != _TO_STANDARD_OUTPUT and Path(target).exists():
        raise InputError(f"{target} is there already: name another file.")
    with reading(open_store()) as session:
        viewer = viewer_named(session, as_person)
        check_owner(session, owner)
        found = stored_rules(session, viewer, today(), owner)
    content = write_rules((each.organisation, each.rule) for each in found)
    if target != _TO_STANDARD_OUTPUT:
        Path(target).write_text(content, "utf-8")
    if as_json:
        told = {"content": content} if target == _TO_STANDARD_OUTPUT else {"file": target}
        print_json({"rules": len(found)} | told)
    elif target == _TO_STANDARD_OUTPUT:
        click.echo(content, nl=False)
    else:
        click.echo(f"Wrote {len(found)} rule(s) to {target}")


@rules.command("check")
@owner_option
@as_option
@json_option
@click.pass_context
def check(context: click.Context, *, owner: str, as_person: str, as_json: bool) -> None:
    """Run the examples of every rule in force or to come; exit status 1 when one comes out else."""
    with reading(open_store()) as session:
        viewer = viewer_named(session, as_person)
        check_owner(session, owner)
        found = checked_examples(stored_rules(session, viewer, today(), owner))
    wrong = [each for each in found if not each.is_so]
    if as_json:
        print_json({"examples": len(found), "wrong": [_example_fields(each) for each in wrong]})
    else:
        for each in wrong:
            click.echo(_example_line(each), err=True)
        click.echo(f"{len(found) - len(wrong)} of {len(found)} examples come out as is said.")
    if wrong:
        context.exit(1)


def _example_fields(each: CheckedExample) -> dict[str, Any]:
    return {
        "organisation": each.stored.organisation,
        "rule": each.stored.rule.key,
        "version": each.stored.version,
        "example": each.number,
        "expected": each.texts.expect,
        "found": each.found.word,
    }


def _example_line(each: CheckedExample) -> str:
    told = _example_fields(each)
    place = f"{told['organisation']}, rule {told['rule']}, version {told['version']}"
    said = f"example {each.number} (zone {each.texts.zone}, tested {each.texts.tested})"
    return f"{place}: {said} comes out as {told['found']}, not {told['expected']}."


@rules.command("import")
@click.argument("source", metavar="FILE", type=click.Path(exists=True, dir_okay=False))
@click.option("--dry-run", is_flag=True, help="Say which zones would change; save nothing.")
@json_option
@click.pass_context
def import_(context: click.Context, source: str, *, dry_run: bool, as_json: bool) -> None:
    """Take in the rules of a TOML FILE: all of them or none; twice changes nothing."""
    path = Path(source)
    try:
        plan, changes = _taken_in(open_store(), path, dry_run=dry_run)
    except InputError as error:
        if as_json:
            print_json({"saved": False, "problems": [asdict(p) for p in error.problems]})
        else:
            for problem in error.problems:
                click.echo(str(replace(problem, value=shown(problem.value))), err=True)
            click.echo(f"\n{len(error.problems)} problem(s). Nothing has been saved.", err=True)
        context.exit(1)
    if as_json:
        print_json(_taken_in_fields(plan, changes, saved=not dry_run))
    else:
        _print_taken_in(plan, changes, saved=not dry_run)


def _taken_in(
    engine: sa.Engine, path: Path, *, dry_run: bool
) -> tuple[RulesPlan, Sequence[CoverageChange]]:
    """What the file does or would do, and what that changes. Raises InputError."""
    content = path.read_bytes()
    if dry_run:
        with reading(engine) as session:
            plan = plan_rules(session, path.name, content)
            return plan, foresee_plan(session, LOCAL, plan, today())
    with writing(engine) as session:
        plan = plan_rules(session, path.name, content, to_apply=True)
        return plan, apply_plan(session, LOCAL, plan, today())


def _taken_in_fields(
    plan: RulesPlan, changes: Sequence[CoverageChange], *, saved: bool
) -> dict[str, Any]:
    names = ("new", "replaced", "unchanged")
    return {
        "saved": saved,
        "rules": dict(zip(names, plan.counts(), strict=True)),
        "cautions": [{"rule": key, "caution": told} for key, told in plan.cautions],
        "zones": [
            {
                "building": change.building_ref,
                "zone": change.zone_ref,
                "before": change.before,
                "after": change.after,
            }
            for change in changes
        ],
        "problems": [],
    }


def _print_taken_in(plan: RulesPlan, changes: Sequence[CoverageChange], *, saved: bool) -> None:
    print_table(["New", "Replaced", "Unchanged"], [list(plan.counts())])
    for key, caution in plan.cautions:
        click.echo(f'Caution, rule "{key}": {caution}')
    if changes:
        click.echo()
        rows = [[c.building_ref, c.zone_ref, c.before or "not computed", c.after] for c in changes]
        then = "Coverage now" if saved else "Coverage then"
        print_table(["Building", "Zone", "Coverage before", then], rows)
    else:
        click.echo("No coverage changed." if saved else "No coverage would change.")
    click.echo("Saved." if saved else "Dry run: nothing has been saved.")

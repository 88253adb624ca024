"""Reading commands: coverage, gaps, explain, demand."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import click

from portfolio.cli.decisions import print_rulings
from portfolio.cli.options import as_option, owner_option
from portfolio.cli.output import json_option, print_caution, print_json, print_table
from portfolio.cli.store import check_owner, open_store, today, viewer_named
from portfolio.db.session import reading
from portfolio.domain.coverage import Coverage
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.settling import Settling, ToFind
from portfolio.services.close_failures import CloseTest, close_to
from portfolio.services.explaining import Explanation, explain_fully
from portfolio.services.gaps import GapFilter, GapRow, list_gaps, list_placed_gaps
from portfolio.services.interpolating import candidates
from portfolio.services.orders.known import order_named
from portfolio.services.orders.words import place_in_words
from portfolio.services.references import zone_named
from portfolio.services.route_words import ToldRoute, told_route
from portfolio.services.ruling_review import Ruling, ruling_fields, rulings_of_zones
from portfolio.services.settling import settling_of

_NO_ZONE = "No zone is recorded here: there is nothing to tell yet."


def _coverage_fields(row: GapRow) -> dict[str, Any]:
    return {
        "owner": row.owner,
        "building": row.building_ref,
        "zone": row.zone_ref,
        "coverage": row.coverage.value,
        "by_inference": row.by_inference,
        "covered_too": row.covered_too,
        "tests": list(row.tests),
        "conflicts": list(row.conflicts),
    }


def _words(row: GapRow) -> str:
    inferred = " (by inference)" if row.by_inference else ""
    return row.coverage.value + inferred + (" (covered too)" if row.covered_too else "")


@click.command()
@owner_option
@as_option
@json_option
def coverage(owner: str, as_person: str, *, as_json: bool) -> None:
    """The coverage of every zone, gaps first."""
    with reading(open_store()) as session:
        viewer = viewer_named(session, as_person)
        check_owner(session, owner)
        rows = list_gaps(session, viewer, GapFilter(owner=owner, gaps_only=False)).rows
    if as_json:
        print_json([_coverage_fields(row) for row in rows])
        return
    if not rows:
        click.echo(_NO_ZONE)
        return
    print_table(
        ["Owner", "Building", "Zone", "Coverage", "Wall", "Tests", "Conflicts"],
        [
            [
                row.owner,
                row.building_ref,
                row.zone_ref,
                _words(row),
                row.wall_text,
                ", ".join(row.tests),
                len(row.conflicts),
            ]
            for row in rows
        ],
    )
    print_caution()


@click.command()
@owner_option
@click.option("--first", type=click.IntRange(min=1), default=None, help="Only the first N.")
@click.option("--order", "name", default="", metavar="KEY", help="By this order of gaps.")
@as_option
@json_option
def gaps(owner: str, first: int | None, name: str, as_person: str, *, as_json: bool) -> None:
    """The zones that are not covered, in order, with what placed them there."""
    with reading(open_store()) as session:
        viewer = viewer_named(session, as_person)
        check_owner(session, owner)
        order = order_named(session, viewer, name)
        wanted = GapFilter(owner=owner)
        rows = list_placed_gaps(session, viewer, wanted, order, limit=first).rows
        zones = list_gaps(session, viewer, GapFilter(owner=owner, gaps_only=False), limit=1).total
    if as_json:
        print_json([_coverage_fields(row) | _gap_fields(row) for row in rows])
        return
    if not zones:
        click.echo(_NO_ZONE)
        return
    if rows:
        print_gaps(rows)
        _print_reasons(rows)
    else:
        click.echo(f"No gap: every zone of {zones} is covered.")
    print_caution()


def _print_reasons(rows: tuple[GapRow, ...]) -> None:
    click.echo("\nWhat placed them there:")
    for row in rows:
        found = f"{row.rank}  {row.building_ref}/{row.zone_ref}: {'; '.join(row.reasons)}"
        if row.placed is not None:
            found += f". {place_in_words(row.placed)}"
        click.echo(textwrap.fill(found, 96, subsequent_indent="   "))


def _gap_fields(row: GapRow) -> dict[str, Any]:
    placed = row.placed
    return {
        "rank": row.rank,
        "could_be_from": placed.first if placed else None,
        "could_be_to": placed.last if placed else None,
        "not_certain": [fact.value for fact in placed.unknown] if placed else [],
        "reasons": list(row.reasons),
        "top_floor_height_m": row.top_floor_height_m,
        "people": row.people,
        "differences": list(row.differences),
        "unknowns": list(row.unknowns),
    }


def print_gaps(rows: tuple[GapRow, ...]) -> None:
    """Gaps as a table for people."""
    print_table(
        ["Rank", "Building", "Zone", "Coverage", "Height m", "People", "Wall", "Unknown"],
        [
            [
                row.rank,
                row.building_ref,
                row.zone_ref,
                _words(row),
                row.top_floor_height_m,
                row.people,
                row.wall_text,
                len(row.unknowns),
            ]
            for row in rows
        ],
    )


@click.command()
@click.argument("zone", metavar="BUILDING/ZONE")
@owner_option
@as_option
@json_option
def explain(zone: str, owner: str, as_person: str, *, as_json: bool) -> None:
    """Every comparison of one zone with the tests its owner may see, nearest first."""
    if not all(zone.partition("/")):
        raise click.UsageError('Name the zone as BUILDING/ZONE, for example "B-01/Z-2".')
    with reading(open_store()) as session:
        viewer = viewer_named(session, as_person)
        check_owner(session, owner)
        zone_id = zone_named(session, viewer, zone, owner)
        found = explain_fully(session, viewer, zone_id, today())
        settling = settling_of(session, found.gathered, found.coverage, today())
        close = close_to(session, viewer, found, today())
        rulings = rulings_of_zones(session, [zone_id], today()).get(zone_id, [])
    if as_json:
        print_json(_explanation_fields(found, settling, close, rulings))
    else:
        _print_explanation(found, settling, close)
        print_rulings(rulings)
        print_caution()


def _route_fields(found: ToldRoute) -> dict[str, Any]:
    applied = found.applied
    return {
        "work": found.work,
        "answer": applied.answer.value,
        "since": applied.since.isoformat() if applied.since else None,
        "source": applied.source,
        "status": applied.status,
        "settles": applied.settles,
        "sentence": found.sentence,
    }


def _explanation_fields(
    found: Explanation,
    settling: Settling,
    close: Sequence[CloseTest],
    rulings: Sequence[Ruling],
) -> dict[str, Any]:
    return {
        "building": found.gathered.building.ref,
        "zone": found.gathered.zone.ref,
        "coverage": found.coverage.coverage.value,
        "by_inference": found.coverage.by_inference,
        "covered_too": found.coverage.covered_too,
        "tests": list(found.coverage.tests),
        "conflicts": list(found.coverage.conflicts),
        "rule_version": found.rule_version,
        "close_failures": [asdict(one) for one in close],
        "route": _route_fields(told_route(found.gathered, today())),
        "decisions": [dict(ruling_fields(ruling)) for ruling in rulings],
        "between": [asdict(pair) for pair in candidates(found)],
        "settling": [
            {
                "test": one.test,
                "outcome_if_as_tested": one.outcome.value,
                "facts": [_fact_fields(fact) for fact in one.facts],
            }
            for one in settling.sets
        ],
        "found_otherwise": [
            _fact_fields(other.fact)
            | {"rules_out": list(other.rules_out), "against": list(other.against)}
            for other in settling.otherwise
        ],
        "comparisons": [
            {
                "test": comparison.test.ref,
                "verdict": comparison.verdict,
                "parameter": row.parameter,
                "zone_value": row.zone_value,
                "test_value": row.test_value,
                "answer": row.answer,
                "rule": row.rule,
                "source": row.source,
                "milder_side": row.side,
                "provenance": row.provenance,
            }
            for comparison in found.comparisons
            for row in comparison.rows
        ],
    }


def _fact_fields(fact: ToFind) -> dict[str, str]:
    return {"parameter": fact.parameter, "way": fact.way.key, "where": fact.where}


def _print_settling(found: Settling) -> None:
    """What would settle the zone: could, and never will."""
    for one in found.sets:
        click.echo(f"\nCould be {one.outcome.value}, if found as in test {one.test}:")
        print_table(
            ["Fact", "Way", "Where"],
            [[_title(fact), fact.way.words, fact.where] for fact in one.facts],
        )
    if found.otherwise:
        click.echo("\nBy itself, each of these could settle it if it is found otherwise:")
        print_table(
            ["Fact", "Way", "Would rule out", "Could let speak against it"],
            [
                [
                    _title(other.fact),
                    other.fact.way.words,
                    ", ".join(other.rules_out) or "no near test",
                    ", ".join(other.against) or "no failing test",
                ]
                for other in found.otherwise
            ],
        )


def _title(fact: ToFind) -> str:
    return PARAMETERS[fact.parameter].title


def _print_explanation(found: Explanation, settling: Settling, close: Sequence[CloseTest]) -> None:
    gathered, state = found.gathered, found.coverage
    inferred = " by inference" if state.by_inference else ""
    too = ", covered too" if state.covered_too else ""
    rests = state.coverage in (Coverage.COVERED, Coverage.CONTRADICTED)
    click.echo(
        f"{gathered.building.ref}/{gathered.zone.ref}: {state.coverage.value}{inferred}{too}; "
        f"{'resting on' if rests else 'nearest'}: {', '.join(state.tests) or 'nothing'}"
    )
    if state.conflicts:
        click.echo(f"Surveys contradict each other on: {', '.join(state.conflicts)}")
    click.echo(textwrap.fill(told_route(gathered, today()).sentence, 96))
    for one in close:
        click.echo(textwrap.fill(f"A wall that failed is close. {one.sentence}", 96))
    for pair in candidates(found):
        click.echo(textwrap.fill(pair.sentence, 96))
    _print_settling(settling)
    for comparison in found.comparisons:
        click.echo(f"\n{comparison.test.ref} {comparison.test.title}: {comparison.verdict}")
        for gate in comparison.gates:
            click.echo(f"  gate: {gate.name}: {gate.answer.value} ({gate.reason})")
        print_table(
            ["Parameter", "Zone", "Test", "Answer", "Rule", "Provenance"],
            [
                [r.title, r.zone_value, r.test_value, r.answer, r.rule, r.provenance]
                for r in comparison.rows
            ],
        )

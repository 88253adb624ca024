"""A logger's file against criteria, from the shell."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import Any

import click

from portfolio.cli.output import (
    Cell,
    json_option,
    print_caution,
    print_json,
    print_table,
    show_stage,
)
from portfolio.domain.classified import ANSWER_WORDS, ChannelFinding
from portfolio.services.classified_tables import conclusion, start_words, time_words
from portfolio.services.classified_workbook import classified_workbook
from portfolio.services.classifying import Asked, ClassifiedLog, LoggerFiles, classify_files
from portfolio.sheets.logger_files import opened

_EXISTING = click.Path(exists=True, dir_okay=False, path_type=Path)
_WIDTH = 96


@click.command()
@click.argument("log", type=_EXISTING)
@click.option("--channels", type=_EXISTING, help="Where each channel is: CSV, XLSX or TOML.")
@click.option("--ignition", default="", metavar="TIME", help="On the log's own clock.")
@click.option("--observations", type=_EXISTING, help="What was seen: CSV, XLSX or TOML.")
@click.option("--document", default="", help='The classification document, such as "BR 135".')
@click.option("--edition", default="", help="The edition of the classification document.")
@click.option("--annex", default="", help="Its annex.")
@click.option("--test-edition", default="", help="The edition that the test was done to.")
@click.option(
    "--xlsx",
    "target",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write readings, results and charts to this workbook.",
)
@json_option
def classify(
    log: Path,
    *,
    channels: Path | None,
    ignition: str,
    observations: Path | None,
    document: str,
    edition: str,
    annex: str,
    test_edition: str,
    target: Path | None,
    as_json: bool,
) -> None:
    """Judge the temperatures in LOG, a logger's CSV or XLSX, criterion by criterion."""
    if target is not None and target.resolve() in _resolved(log, channels, observations):
        raise click.UsageError("The workbook would be written over a file that is read.")
    files = LoggerFiles(
        opened(log),
        opened(channels) if channels else None,
        opened(observations) if observations else None,
        ignition,
    )
    show_stage("Reading and judging")
    done = classify_files(files, Asked(document, edition, annex, test_edition))
    if target is not None:
        show_stage("Writing")
        target.write_bytes(classified_workbook(done))
    if as_json:
        print_json(_fields(done))
        return
    _print(done)
    if target is not None:
        click.echo(f"\nWrote {target}")
    print_caution()


def _resolved(*paths: Path | None) -> set[Path]:
    return {path.resolve() for path in paths if path is not None}


def _print(done: ClassifiedLog) -> None:
    found = done.found
    click.echo(conclusion(found))
    for text in start_words(found):
        click.echo(text)
    click.echo()
    print_table(
        ["Criterion", "Answer", "Channel", "From ignition", "From ts", "Source is"],
        [
            [
                one.title,
                ANSWER_WORDS[one.answer],
                one.channel,
                time_words(found.from_ignition(one.at_s)),
                time_words(found.from_start(one.at_s)),
                one.basis.status,
            ]
            for one in found.findings
        ],
    )
    for one in found.findings:
        click.echo(f"\n{one.title}: {ANSWER_WORDS[one.answer]}")
        _paragraph(f"asked: {one.threshold}")
        _paragraph(f"measured: {one.measured}")
        _paragraph(f"why: {one.reason}")
        _paragraph(f"source: {one.basis.source} ({one.basis.status})")
    click.echo()
    print_table(
        [
            "Channel",
            "Place",
            "Highest K",
            "At",
            "Over K",
            "Longest s",
            "Least s",
            "Most s",
            "Began",
        ],
        [_channel_cells(done, one) for one in found.channels],
    )
    _print_list("What was seen or watched for", _seen_words(done))
    _print_list("What cannot be told, and why", found.keeps_from_telling)
    faults = [
        f"{one.channel.name}: {'; '.join(one.faults)}" for one in found.channels if one.faults
    ]
    _print_list("Of the log", (*done.notes, *found.remarks, *faults))


def _seen_words(done: ClassifiedLog) -> tuple[str, ...]:
    words = []
    for one in done.found.observations:
        since = f" from {time_words(one.from_s)}" if one.from_s is not None else ""
        until = f" until {time_words(one.until_s)}" if one.until_s is not None else ""
        note = f": {one.note}" if one.note else ""
        seen = "seen" if one.was_seen else "not seen"
        words.append(f"{one.sight.words}: {seen}{since}{until}{note}")
    return tuple(words)


def _channel_cells(done: ClassifiedLog, one: ChannelFinding) -> list[Cell]:
    found, longest = done.found, one.longest
    return [
        one.channel.name,
        one.channel.place,
        one.highest_rise_k,
        time_words(found.from_ignition(one.highest_at_s)),
        "none known" if one.limit_k is None else one.limit_k,
        round(longest.duration_s, 1) if longest else "",
        longest.least_s if longest else "",
        longest.most_s if longest else "",
        time_words(found.from_ignition(longest.starts_s)) if longest else "",
    ]


def _paragraph(text: str) -> None:
    click.echo(textwrap.fill(text, _WIDTH, initial_indent="  ", subsequent_indent="    "))


def _print_list(title: str, texts: tuple[str, ...]) -> None:
    if texts:
        click.echo(f"\n{title}:")
    for text in texts:
        _paragraph(f"- {text}")


def _fields(done: ClassifiedLog) -> dict[str, Any]:
    found = done.found
    start, begun = found.start_temperature, found.start_time
    return {
        "file": done.name,
        "document": found.criteria_set.document,
        "edition": found.criteria_set.edition,
        "annex": found.criteria_set.annex,
        "answer": found.answer.value,
        "keeps_from_telling": list(found.keeps_from_telling),
        "start_temperature_c": start.mean_c,
        "start_temperature_doubts": list(start.doubts),
        "start_time_s": _seconds(found.from_ignition(begun.read_s)),
        "start_time_earliest_s": _seconds(found.from_ignition(begun.earliest_s)),
        "start_time_latest_s": _seconds(found.from_ignition(begun.latest_s)),
        "criteria": [
            {
                "key": one.key,
                "answer": one.answer.value,
                "threshold": one.threshold,
                "measured": one.measured,
                "why": one.reason,
                "channel": one.channel,
                "from_ignition_s": _seconds(found.from_ignition(one.at_s)),
                "from_start_s": _seconds(found.from_start(one.at_s)),
                "source": one.basis.source,
                "status": one.basis.status,
            }
            for one in found.findings
        ],
        "channels": [_channel_fields(done, one) for one in found.channels],
        "observations": [
            {
                "observation": one.sight.value,
                "seen": one.was_seen,
                "from_ignition_s": one.from_s,
                "until_s": one.until_s,
                "height_m": one.height_m,
                "note": one.note,
            }
            for one in found.observations
        ],
        "remarks": [*done.notes, *found.remarks],
    }


def _channel_fields(done: ClassifiedLog, one: ChannelFinding) -> dict[str, Any]:
    found, longest = done.found, one.longest
    return {
        "channel": one.channel.name,
        "place": one.channel.place,
        "highest_rise_k": one.highest_rise_k,
        "highest_from_ignition_s": _seconds(found.from_ignition(one.highest_at_s)),
        "limit_k": one.limit_k,
        "longest_s": longest.duration_s if longest else None,
        "longest_least_s": longest.least_s if longest else None,
        "longest_most_s": _seconds(longest.most_s) if longest else None,
        "longest_from_ignition_s": (
            _seconds(found.from_ignition(longest.starts_s)) if longest else None
        ),
        "faults": list(one.faults),
    }


def _seconds(value: float | None) -> float | None:
    """JSON has no infinity: what has no end is null."""
    return value if value is not None and abs(value) != float("inf") else None

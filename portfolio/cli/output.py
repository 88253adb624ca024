"""Tables for people, JSON for scripts, progress for the impatient."""

from __future__ import annotations

import json
import sys
import textwrap
from collections.abc import Sequence

import click

from portfolio.domain.caution import CAUTION

Cell = str | int | float | bool | None
_WIDEST = 48

json_option = click.option("--json", "as_json", is_flag=True, help="JSON for scripts.")


def print_json(found: object) -> None:
    """One JSON document on standard output."""
    click.echo(json.dumps(found, ensure_ascii=False, indent=1))


def print_table(headers: Sequence[str], rows: Sequence[Sequence[Cell]]) -> None:
    """Columns as wide as needed up to a limit; longer texts are shortened with an ellipsis."""
    texts = [[shown(cell) for cell in row] for row in rows]
    widths = [
        max(len(header), *(len(row[i]) for row in texts)) if texts else len(header)
        for i, header in enumerate(headers)
    ]
    for row in [list(headers), ["-" * width for width in widths], *texts]:
        line = "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        click.echo(line.rstrip())


def shown(cell: Cell) -> str:
    """On one line, short enough for a column."""
    if cell is None:
        return "unknown"
    text = " ".join((f"{cell:g}" if isinstance(cell, float) else str(cell)).split())
    return text if len(text) <= _WIDEST else text[: _WIDEST - 1] + "…"


def print_caution() -> None:
    """The caution, under what a person reads."""
    click.echo()
    click.echo(textwrap.fill(CAUTION, 96))


def show_stage(doing: str) -> None:
    """What takes a while now, for people who watch."""
    if sys.stderr.isatty():
        click.echo(f"{doing} …", err=True)


def show_progress(done: int, total: int) -> None:
    """A line that counts, for people who watch."""
    if sys.stderr.isatty():
        click.echo(f"\r{done} of {total} zones", nl=done >= total, err=True)

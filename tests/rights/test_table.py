"""The rights table in DEVELOPERS.md is the one that is tested."""

import re
from dataclasses import astuple
from pathlib import Path

from tests.rights import table

_OF_ORGANISATIONS = "People, grants, shares, uploads, certificates, rules and groups of gaps"
DEVELOPERS = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text("utf-8")


def _rows(heading: str) -> list[tuple[str, ...]]:
    """The first table below a heading, without its head."""
    below = DEVELOPERS.partition(f"\n### {heading}\n")[2]
    found = re.search(r"(?:^\|.*\n)+", below, re.MULTILINE)
    lines = found.group().splitlines()[2:] if found else []
    return [tuple(cell.strip() for cell in line.strip("|").split("|")) for line in lines]


def _written(row: tuple[object, ...]) -> tuple[str, ...]:
    act, endpoints, *cells = row
    assert isinstance(endpoints, tuple)
    return str(act), ", ".join(f"`{named}`" for named in endpoints), *map(str, cells)


def test_the_tables_for_developers_are_those_that_are_tested() -> None:
    tables = {
        "Buildings, and what hangs on one": table.OF_BUILDINGS,
        "Tests, and what of a report is shown": table.OF_TESTS,
        "Documents, by the building that they support": table.OF_DOCUMENTS,
        _OF_ORGANISATIONS: table.OF_ORGANISATIONS,
        "Pages about no one thing": table.WITHOUT_THING,
    }
    for heading, rows in tables.items():
        assert _rows(heading) == [_written(astuple(row)) for row in rows], heading


def test_the_commands_for_developers_are_those_that_are_tested() -> None:
    told = {command.strip("`"): "--as" in reads for command, reads in _rows("Commands")}
    expected = dict.fromkeys(table.READS, True) | dict.fromkeys(table.RUN_BY_THE_OPERATOR, False)
    assert told == expected


def test_the_public_addresses_for_developers_are_those_that_are_tested() -> None:
    [line] = [line for line in DEVELOPERS.splitlines() if "Without signing in:" in line]
    assert re.findall(r"`([^`]+)`", line) == list(table.PUBLIC)

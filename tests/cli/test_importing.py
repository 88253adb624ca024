"""Spreadsheets from the shell: all or nothing, every problem named, twice changes nothing."""

import csv
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from click.testing import Result

from portfolio.domain.caution import CAUTION
from tests.cli.conftest import Run
from tests.cli.walls import ANSWERS, TESTED, Estate, estate

Ask = Callable[..., Any]
COUNTS = {"organisation": 1, "building": 3, "zone": 7, "survey": 6, "test": 2}


def _spoilt() -> Estate:
    found = estate()
    found.building("B-04", Storeys="seven", Use="castle")
    found.zone("B-99", "Z")
    return found


def test_template_writes_a_workbook_that_holds_the_caution(run: Run, folder: Path) -> None:
    result = run("template")
    assert (result.exit_code, result.stdout) == (0, "Wrote portfolio-template.xlsx\n")
    book = openpyxl.load_workbook(folder / "portfolio-template.xlsx")
    assert {"Help", "Buildings", "Zones", "Layers", "Tests", "Example"} <= set(book.sheetnames)
    assert CAUTION in [cell.value for row in book["Help"] for cell in row]


def test_template_tells_a_script_where_it_is(ask: Ask, folder: Path) -> None:
    assert ask("template", "empty.xlsx") == {"file": "empty.xlsx"}
    assert (folder / "empty.xlsx").exists()


def test_template_never_overwrites_what_somebody_filled_in(run: Run, folder: Path) -> None:
    (folder / "portfolio-template.xlsx").write_bytes(b"hours of work")
    result = run("template")
    assert result.exit_code == 1
    assert "is there already" in result.stderr
    assert (folder / "portfolio-template.xlsx").read_bytes() == b"hours of work"


def test_a_dry_run_counts_and_saves_nothing(run: Run, ask: Ask, folder: Path) -> None:
    path = estate().save(folder / "walls.xlsx")
    result = run("import", path, "--dry-run")
    assert result.exit_code == 0
    assert "Dry run: nothing has been saved." in result.stdout
    assert ask("coverage") == []
    found = ask("import", path, "--dry-run")
    assert found["saved"] is False
    assert {key: value["new"] for key, value in found["records"].items()} == COUNTS


def test_an_import_saves_everything(ask: Ask, folder: Path) -> None:
    found = ask("import", estate().save(folder / "walls.xlsx"))
    assert (found["saved"], found["problems"]) == (True, [])
    assert {key: value["new"] for key, value in found["records"].items()} == COUNTS
    assert len(ask("coverage")) == len(ANSWERS)


def test_importing_twice_changes_nothing(ask: Ask, folder: Path) -> None:
    path = estate().save(folder / "walls.xlsx")
    ask("import", path)
    before = ask("gaps"), ask("coverage")
    entries = ask("backup", "before.zip")["rows"]["event"]
    again = ask("import", path)["records"]
    assert again == {
        key: {"new": 0, "changed": 0, "unchanged": count} for key, count in COUNTS.items()
    }
    assert (ask("gaps"), ask("coverage")) == before
    # the import itself is told in the log, and no record
    assert ask("backup", "after.zip")["rows"]["event"] - entries <= 1


def test_one_problem_keeps_everything_out(run: Run, ask: Ask, folder: Path) -> None:
    result = run("import", _spoilt().save(folder / "walls.xlsx"))
    assert result.exit_code == 1
    assert result.stdout == ""
    assert "3 problem(s). Nothing has been saved." in result.stderr
    assert ask("coverage") == []


def test_every_problem_is_placed(run: Run, folder: Path) -> None:
    path = _spoilt().save(folder / "walls.xlsx")
    result = run("import", path, "--json")
    assert result.exit_code == 1
    found = json.loads(result.stdout)
    assert (found["saved"], found["records"]) == (False, {})
    assert {(p["sheet"], p["row"], p["column"], p["value"]) for p in found["problems"]} == {
        ("Buildings", 5, "Storeys", "seven"),
        ("Buildings", 5, "Use", "castle"),
        ("Zones", 9, "Building", "B-99"),
    }
    assert all(problem["file"] == "walls.xlsx" for problem in found["problems"])
    assert all(problem["message"] and problem["expected"] for problem in found["problems"])
    for problem in found["problems"]:
        assert f'row {problem["row"]}, column "{problem["column"]}"' in run("import", path).stderr


def test_a_long_value_does_not_flood_the_screen(run: Run, folder: Path) -> None:
    found = estate()
    found.building("B-04", Name="y" * 20_000)
    result = run("import", found.save(folder / "walls.xlsx"))
    assert result.exit_code == 1
    assert "This is 20,000 characters." in result.stderr
    assert len(result.stderr) < 500


def test_a_folder_of_csv_files_is_read_like_the_workbook(ask: Ask, folder: Path) -> None:
    (folder / "sheets").mkdir()
    for sheet, rows in estate().rows.items():
        headers = list(dict.fromkeys(header for row in rows for header in row))
        path = folder / "sheets" / f"{sheet}.csv"
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, headers)
            writer.writeheader()
            writer.writerows(rows)
    assert ask("import", "sheets")["saved"] is True
    assert {(row["building"], row["zone"]): row["coverage"] for row in ask("coverage")} == ANSWERS


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("words.txt", b"hello"),
        ("words.xlsx", b"hello"),
        ("nothing.xlsx", b""),
        ("old.xls", b"\xd0\xcf\x11\xe0"),
        ("Buildings.csv", b"\x00\x01\x02"),
        ("castles.csv", b"Owner,Castle\nO,C\n"),
        ("noending", b"PK\x03\x04"),
    ],
)
def test_what_is_no_spreadsheet_of_ours_is_refused_in_a_sentence(
    run: Run, folder: Path, name: str, content: bytes
) -> None:
    (folder / name).write_bytes(content)
    result = run("import", name)
    assert result.exit_code == 1
    assert name in result.stderr
    assert "Nothing has been saved." in result.stderr
    answer = run("import", name, "--json")
    assert answer.exit_code == 1
    assert {problem["file"] for problem in json.loads(answer.stdout)["problems"]} == {name}


def test_an_empty_workbook_does_not_claim_to_have_saved_anything(run: Run, folder: Path) -> None:
    run("template", "empty.xlsx")
    result = run("import", "empty.xlsx")
    assert result.exit_code == 0
    assert result.stdout == "There is no row in what was given: nothing to take in.\n"


def test_an_empty_folder_is_refused(run: Run, folder: Path) -> None:
    (folder / "empty").mkdir()
    result = run("import", "empty")
    assert result.exit_code == 1
    assert "no .csv file" in result.stderr


@pytest.mark.parametrize("words", [(), ("missing.xlsx",), ("--wet-run", ".")])
def test_a_mistyped_import_is_usage(run: Run, words: tuple[str, ...]) -> None:
    assert run("import", *words).exit_code == 2


def test_references_may_hold_anything_people_write(
    take_in: Callable[[Estate], Result], run: Run, ask: Ask, folder: Path
) -> None:
    found = Estate("Ö W/ner & Söhne")
    refs = ["Häuser/1 – Süd", "..", "../../etc", "a b", "B%00", "-x", "🏢", "A" * 60]
    for ref in refs:
        found.building(ref)
        found.zone(ref, "N/1 ä")
    found.survey("a b", "N/1 ä", "S", TESTED)
    found.building("no zones")
    take_in(found)
    assert {row["building"] for row in ask("coverage")} == set(refs)
    for ref in refs:
        assert ask("explain", "--", f"{ref}/N/1 ä")["building"] == ref
        assert run("pack", "--to", "pack.xlsx", "--", ref).exit_code == 0
        assert run("pack", "--", ref).exit_code == 0
    assert run("pack", "no zones").exit_code == 0
    assert {path.parent for path in folder.parent.rglob("*.xlsx")} == {folder}

"""Backup, restore and the change log from the shell."""

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from tests.cli.conftest import Run

Ask = Callable[..., Any]
pytestmark = pytest.mark.usefixtures("filled")


def _add_a_zone(run: Run, folder: Path) -> None:
    """Change something after the backup."""
    (folder / "Zones.csv").write_text("Owner,Building,Zone\nOWN,B-03,Later\n")
    assert run("import", "Zones.csv").exit_code == 0


def test_a_backup_brings_everything_back(run: Run, ask: Ask, folder: Path) -> None:
    before = ask("coverage"), ask("gaps"), ask("explain", "B-01/North")
    written = ask("backup", "all.zip")
    assert written["rows"]["zone"] == 7
    _add_a_zone(run, folder)
    assert len(ask("coverage")) == 8
    restored = ask("restore", "all.zip", "--yes")
    assert restored["rows"] == written["rows"]
    assert (ask("coverage"), ask("gaps"), ask("explain", "B-01/North")) == before
    assert ask("log", "verify") == {"whole": True, "fault": None}


def test_a_backup_never_overwrites_a_file(run: Run, folder: Path) -> None:
    assert run("backup", "all.zip").exit_code == 0
    before = (folder / "all.zip").read_bytes()
    result = run("backup", "all.zip")
    assert result.exit_code == 1
    assert "never overwrites" in result.stderr
    assert (folder / "all.zip").read_bytes() == before


def test_restore_asks_first(run: Run, ask: Ask, folder: Path) -> None:
    run("backup", "all.zip")
    _add_a_zone(run, folder)
    assert run("restore", "all.zip", answer="n\n").exit_code == 1
    assert len(ask("coverage")) == 8
    assert run("restore", "all.zip", answer="y\n").exit_code == 0
    assert len(ask("coverage")) == 7


@pytest.mark.parametrize("keep", [0, 100, -100])
def test_a_damaged_backup_changes_nothing(run: Run, ask: Ask, folder: Path, keep: int) -> None:
    run("backup", "all.zip")
    content = (folder / "all.zip").read_bytes()
    (folder / "bad.zip").write_bytes(content[:keep])
    result = run("restore", "bad.zip", "--yes")
    assert result.exit_code == 1
    assert "bad.zip is no backup" in result.stderr
    assert len(ask("coverage")) == 7


def test_restore_names_what_is_missing_as_usage(run: Run) -> None:
    assert run("restore", "gone.zip", "--yes").exit_code == 2


def test_an_untouched_log_is_whole(run: Run) -> None:
    result = run("log", "verify")
    assert (result.exit_code, result.stdout) == (0, "The change log is whole.\n")


@pytest.mark.parametrize(
    "harm",
    ["UPDATE event SET actor = 'somebody else' WHERE id = 3", "DELETE FROM event WHERE id = 3"],
)
def test_an_altered_log_is_told_and_ends_with_one(run: Run, sqlite_url: str, harm: str) -> None:
    with closing(sqlite3.connect(sqlite_url.removeprefix("sqlite:///"))) as behind:
        names = behind.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for (name,) in names:
            behind.execute(f'DROP TRIGGER "{name}"')
        behind.execute(harm)
        behind.commit()
    result = run("log", "verify")
    assert result.exit_code == 1
    assert result.stdout.startswith("Broken: ")
    answer = run("log", "verify", "--json")
    assert answer.exit_code == 1
    found = json.loads(answer.stdout)
    assert (found["whole"], bool(found["fault"])) == (False, True)

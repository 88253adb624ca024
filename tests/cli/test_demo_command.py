"""The demo from the shell: repeatable, three accounts, never mixed with what is real."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from portfolio.db.session import ADDRESS_VARIABLE
from portfolio.domain.caution import CAUTION
from tests.cli.conftest import Run

Ask = Callable[..., Any]


def test_the_demo_refuses_a_database_with_data_of_its_own(run: Run, ask: Ask, filled: None) -> None:
    before = ask("coverage")
    result = run("demo", "--no-serve")
    assert (result.exit_code, result.stdout) == (1, "")
    assert "holds organisations of its own" in result.stderr
    assert ask("coverage") == before


def test_the_demo_is_repeatable_and_its_passwords_are_new(ask: Ask) -> None:
    first, second = ask("demo", "--no-serve"), ask("demo", "--no-serve")
    assert first["coverage"] == second["coverage"]
    assert sum(first["coverage"].values()) == len(ask("coverage"))
    assert [a["email"] for a in first["accounts"]] == [a["email"] for a in second["accounts"]]
    passwords = {a["password"] for told in (first, second) for a in told["accounts"]}
    assert len(passwords) == 6
    for account in second["accounts"]:
        assert ask("coverage", "--as", account["email"]) is not None
    assert ask("log", "verify")["whole"] is True


def test_the_demo_introduces_three_people_and_keeps_to_a_file_of_its_own(
    run: Run, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(ADDRESS_VARIABLE)
    result = run("demo", "--no-serve")
    assert result.exit_code == 0
    accounts = [line for line in result.stdout.splitlines() if "@demo.invalid" in line]
    assert [line.split("  ")[0] for line in accounts] == [
        "the owner's safety manager",
        "the consultant",
        "the laboratory's account manager",
    ]
    assert " ".join(CAUTION.split()) in " ".join(result.stdout.split())
    assert "no place, owner, product or building in it exists" in result.stdout
    assert not (folder / "portfolio.sqlite3").exists()
    assert (folder / "portfolio-demo.sqlite3").exists()

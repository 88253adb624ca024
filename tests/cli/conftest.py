"""A shell in a folder of its own, over a fresh database."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from portfolio.cli.commands import portfolio
from portfolio.db.session import ADDRESS_VARIABLE
from tests.cli.walls import Estate, estate

Run = Callable[..., Result]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The current folder."""
    found = tmp_path / "here"
    found.mkdir()
    monkeypatch.chdir(found)
    return found


@pytest.fixture
def run(folder: Path, sqlite_url: str, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Runs a command; what is not a refusal but a fault of the program fails the test."""
    monkeypatch.setenv(ADDRESS_VARIABLE, sqlite_url)

    def running(*words: str | Path, answer: str | None = None) -> Result:
        result = CliRunner().invoke(portfolio, [str(word) for word in words], input=answer)
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        return result

    return running


@pytest.fixture
def ask(run: Run) -> Callable[..., Any]:
    """Runs a command with --json, which must succeed, and reads its answer."""

    def asking(*words: str | Path) -> Any:
        place = words.index("--") if "--" in words else len(words)
        result = run(*words[:place], "--json", *words[place:])
        assert result.exit_code == 0, result.stderr
        return json.loads(result.stdout)

    return asking


@pytest.fixture
def take_in(run: Run, folder: Path) -> Callable[[Estate], Result]:
    """Imports an estate, which must succeed."""

    def taking(found: Estate) -> Result:
        result = run("import", found.save(folder / "walls.xlsx"))
        assert result.exit_code == 0, result.stderr
        return result

    return taking


@pytest.fixture
def filled(take_in: Callable[[Estate], Result]) -> None:
    """The estate with a zone of every coverage."""
    take_in(estate())

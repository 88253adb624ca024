"""Commands that read as a person show no more than that person's pages."""

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import click
import openpyxl
import pytest
from click.testing import CliRunner, Result

from portfolio.cli import main
from portfolio.cli.commands import portfolio
from portfolio.cli.store import today
from portfolio.domain.rights import Role
from tests.rights import table
from tests.rights.conftest import Looking
from tests.rights.test_strings import foreign
from tests.rights.world import VIEWERS, canary, email

_OPEN = {"north": ("hidden",), "consult": ("home", "read", "edit"), "lab": ("home",)}
_SHUT = {
    "north": ("south home",),
    "consult": ("north taken", "north over", "north early", "north hidden", "south home"),
    "lab": ("north read", "south home"),
}


_OF_WORKS = (("works", "list"), ("works", "list", "--json"), ("works", "figures", "--json"))
_OF_RULES = (("rules", "export", "-"), ("rules", "check"), ("rules", "check", "--json"))


def _commands(group: click.Group, before: str = "") -> Iterator[tuple[str, click.Command]]:
    for name, command in group.commands.items():
        if isinstance(command, click.Group):
            yield from _commands(command, f"{before}{name} ")
        else:
            yield before + name, command


@pytest.fixture
def run(looking: Looking, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> "_Shell":
    """A shell over a copy of the world, in a folder of its own."""
    path = tmp_path / "copy.sqlite"
    source, target = sqlite3.connect(looking.url.removeprefix("sqlite:///")), sqlite3.connect(path)
    source.backup(target)
    source.close()
    target.close()
    monkeypatch.setenv("PORTFOLIO_DATABASE_URL", f"sqlite:///{path}")
    monkeypatch.chdir(tmp_path)
    return _Shell()


class _Shell:
    def __call__(self, *words: str) -> Result:
        return CliRunner().invoke(portfolio, list(words))


def test_every_command_stands_in_the_table() -> None:
    commands = dict(_commands(portfolio))
    as_somebody = {
        name
        for name, command in commands.items()
        if any(p.name == "as_person" for p in command.params)
    }
    assert as_somebody == set(table.READS)
    assert commands.keys() - as_somebody == table.RUN_BY_THE_OPERATOR


@pytest.mark.parametrize("role", Role)
@pytest.mark.parametrize("who", VIEWERS)
@pytest.mark.parametrize(
    "words",
    [
        ("coverage",),
        ("works", "list"),
        ("works", "figures", "--json"),
        ("gaps",),
        ("decisions", "--all"),
        ("decisions", "--json"),
        ("demand",),
        ("progress",),
        ("progress", "--json"),
        ("demand", "--json"),
        *_OF_RULES,
    ],
)
def test_a_list_from_the_shell_holds_no_word_of_somebody_else(
    looking: Looking, run: _Shell, who: str, role: Role, words: tuple[str, ...]
) -> None:
    found = run(*words, "--as", email(who, role))
    assert (found.exit_code, foreign(looking, found.output, who)) == (0, set())


@pytest.mark.parametrize("who", VIEWERS)
def test_a_list_from_the_shell_holds_what_is_open(run: _Shell, who: str) -> None:
    output = run("coverage", "--json", "--as", email(who, Role.READER)).output
    owner = {"home": who}
    expected = {canary(owner.get(name, "north"), name, "ref") for name in _OPEN[who]}
    assert [ref for ref in sorted(expected) if ref not in output] == []


@pytest.mark.parametrize("who", VIEWERS)
@pytest.mark.parametrize("form", ["explain", "compare", "pack"])
def test_one_thing_from_the_shell_is_there_when_it_is_open(
    looking: Looking, run: _Shell, who: str, form: str
) -> None:
    for name in _OPEN[who]:
        owner = who if name == "home" else "north"
        found = run(*_words(form, owner, name), "--as", email(who, Role.READER))
        assert (found.exit_code, foreign(looking, found.output, who)) == (0, set()), name


@pytest.mark.parametrize("who", VIEWERS)
@pytest.mark.parametrize("form", ["explain", "compare", "pack"])
def test_one_thing_from_the_shell_that_is_not_open_answers_like_nothing(
    run: _Shell,
    who: str,
    form: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def answer(owner: str, name: str) -> tuple[int, str]:
        words = _words(form, owner, name)
        monkeypatch.setattr("sys.argv", ["portfolio", *words, "--as", email(who, Role.ENGINEER)])
        with pytest.raises(SystemExit) as ended:
            main()
        told = capsys.readouterr()
        text = (told.out + told.err).replace(canary(owner, name, "ref"), "REF")
        return int(ended.value.code or 0), text.replace(canary(owner, name, "zone"), "ZONE")

    nothing = answer("nobody", "nowhere")
    assert nothing[0] != 0
    assert {name: answer(*name.split()) for name in _SHUT[who]} == dict.fromkeys(
        _SHUT[who], nothing
    )


@pytest.mark.parametrize(
    ("who", "name"),
    [("consult", "home"), *(("north", name) for name in ("edit", "hidden", "read", "taken"))],
)
def test_a_pack_that_nobody_is_named_for_holds_what_its_owner_sees(
    looking: Looking, run: _Shell, tmp_path: Path, who: str, name: str
) -> None:
    """Although whoever runs the program may read everything: a pack is handed over."""
    path = tmp_path / "pack.xlsx"
    for more in ((), ("--as-of", f"{today()}")):
        found = run("pack", canary(who, name, "ref"), "--to", str(path), *more)
        assert found.exit_code == 0, found.output
        book = openpyxl.load_workbook(path)
        text = " ".join(str(cell) for sheet in book for row in sheet.values for cell in row)
        assert canary(who, name, "ref") in text
        assert foreign(looking, text, who) == set()


def _words(form: str, owner: str, name: str) -> list[str]:
    ref, zone = canary(owner, name, "ref"), canary(owner, name, "zone")
    words = {
        "explain": ["explain", f"{ref}/{zone}"],
        "compare": ["compare", f"{ref}/{zone}", f"{ref}/{zone}"],
        "pack": ["pack", ref, "--to", "pack.xlsx"],
    }
    return words[form]


@pytest.mark.parametrize("who", VIEWERS)
@pytest.mark.parametrize("form", [(), ("--json",)])
def test_tests_are_compared_from_the_shell_by_those_who_see_them(
    looking: Looking, run: _Shell, who: str, form: tuple[str, ...]
) -> None:
    def answer(ref: str) -> tuple[int, str]:
        own = f"test:{canary(who, 'test', 'ref')}"
        found = run("compare", own, f"test:{ref}", "--as", email(who, Role.READER), *form)
        text = found.output.replace(ref, "REF")
        assert foreign(looking, text, who) == set()
        return found.exit_code, text

    nothing = answer("NOTHING")
    for state in ("asked", "refused", "runout", "none"):
        assert answer(canary("keeper", state, "ref")) == nothing
    for state in ("published", "everything"):
        assert "insulation" in answer(canary("keeper", state, "ref"))[1]
    code, kept = answer(canary("keeper", "reference", "ref"))
    assert (code, "insulation" in kept, "53.25" in kept) == (0, False, False)
    assert "the walls are not compared line by line" in kept


def test_nobody_is_seen_as_without_an_account(run: _Shell) -> None:
    found = run("coverage", "--as", "nobody@mail.test")
    assert found.exit_code != 0
    assert "CANARY" not in found.output

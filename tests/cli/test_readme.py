"""README and the commands say the same."""

import re
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from portfolio.cli.commands import portfolio

README = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
EVERYWHERE = {"--help", "-h", "--version"}


def _commands(
    group: click.Group = portfolio, before: str = "portfolio"
) -> Iterator[tuple[str, click.Command]]:
    for name, command in group.commands.items():
        if isinstance(command, click.Group):
            yield from _commands(command, f"{before} {name}")
        else:
            yield f"{before} {name}", command


COMMANDS = dict(_commands())


@pytest.mark.parametrize("name", COMMANDS)
def test_readme_mentions_every_command(name: str) -> None:
    assert re.search(rf"`{name}\b", README)


def test_readme_mentions_every_option() -> None:
    options = {
        option
        for command in COMMANDS.values()
        for parameter in command.params
        if isinstance(parameter, click.Option)
        for option in parameter.opts
    }
    assert [
        o for o in sorted(options - EVERYWHERE) if not re.search(rf"{o}(?![\w-])", README)
    ] == []


def test_readme_names_no_command_that_is_not_there() -> None:
    said = set(re.findall(r"(?:`|bin/)(portfolio [a-z][a-z-]*(?: [a-z][a-z-]*)?)", README))
    groups = {name.rsplit(" ", 1)[0] for name in COMMANDS} - {"portfolio"}
    for words in said:
        first_two = " ".join(words.split()[:2])
        assert words in COMMANDS or (first_two in COMMANDS and first_two not in groups), words


def test_readme_names_no_option_that_is_not_there() -> None:
    known = {o for c in COMMANDS.values() for p in c.params for o in p.opts} | EVERYWHERE
    assert set(re.findall(r"(?<![\w-])--[a-z][a-z-]*", README)) - known == set()


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_but_two_speaks_json(name: str) -> None:
    speaks = any("--json" in parameter.opts for parameter in COMMANDS[name].params)
    assert speaks is (name not in ("portfolio serve", "portfolio db upgrade"))


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_says_what_it_does(name: str) -> None:
    assert COMMANDS[name].help

"""The rules that engineers own, from the shell."""

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from click.testing import Result

from portfolio.db.rules import RuleVersion
from portfolio.db.session import engine_for, writing
from portfolio.services.rules.files import write_rules
from portfolio.services.rules.texts import ExampleTexts, read_rule
from tests.services.rules_support import DEEPER, EQUAL_WOOLS, UNDER_CONDITIONS
from tests.web.portfolios import fill_one_of_each, filling

Run = Callable[..., Result]
FILE = write_rules(("north", read_rule(texts)) for texts in (DEEPER, UNDER_CONDITIONS))


@pytest.fixture
def file(folder: Path, run: Run, sqlite_url: str) -> Path:
    """A file of two rules, over a portfolio in which one zone would be covered by them."""
    with filling(sqlite_url) as portfolio:
        fill_one_of_each(portfolio)
    path = folder / "rules.toml"
    path.write_text(FILE, "utf-8")
    return path


def test_a_dry_run_tells_which_zones_would_change_and_saves_nothing(
    file: Path, run: Run, ask: Callable[..., Any]
) -> None:
    told = run("rules", "import", file, "--dry-run").stdout
    assert "TALL      ASSESS  to-assess        covered" in told
    assert "Dry run: nothing has been saved." in told
    found = ask("rules", "import", file, "--dry-run")
    assert found["zones"] == [
        {"building": "TALL", "zone": "ASSESS", "before": "to-assess", "after": "covered"}
    ]
    assert ask("rules", "export", "--", "-")["rules"] == 0


def test_importing_twice_changes_nothing_and_exporting_gives_the_file_back(
    file: Path, run: Run, ask: Callable[..., Any], folder: Path
) -> None:
    assert ask("rules", "import", file)["rules"] == {"new": 2, "replaced": 0, "unchanged": 0}
    found = ask("rules", "import", file)
    assert found["rules"] == {"new": 0, "replaced": 0, "unchanged": 2}
    assert found["zones"] == []
    assert run("rules", "export", "-").stdout == FILE
    assert ask("rules", "export", "again.toml") == {"rules": 2, "file": "again.toml"}
    assert (folder / "again.toml").read_text("utf-8") == FILE
    assert "deeper-cavity" in json.dumps(ask("explain", "TALL/ASSESS"))


def test_a_changed_rule_becomes_a_further_version(file: Path, ask: Callable[..., Any]) -> None:
    ask("rules", "import", file)
    file.write_text(FILE.replace("A deeper cavity", "A cavity that is deeper", 1), "utf-8")
    assert ask("rules", "import", file)["rules"] == {"new": 0, "replaced": 1, "unchanged": 1}


def test_a_file_with_anything_wrong_saves_nothing_and_tells_everything(
    file: Path, run: Run, ask: Callable[..., Any]
) -> None:
    wrong = FILE.replace('zone = "80"', 'zone = "99"', 1).replace("2027-12-31", '"soon"')
    file.write_text(wrong, "utf-8")
    refused = run("rules", "import", file)
    assert refused.exit_code == 1
    assert 'rules.toml, line 1, "deeper-cavity", row 1, key "expect": "allowed"' in refused.stderr
    assert 'line 25, "deeper-in-wool", key "until": "soon"' in refused.stderr
    assert "2 problem(s). Nothing has been saved." in refused.stderr
    found = json.loads(run("rules", "import", file, "--json").stdout)
    assert [(p["line"], p["entry"], p["column"]) for p in found["problems"]] == [
        (1, "deeper-cavity", "expect"),
        (25, "deeper-in-wool", "until"),
    ]
    assert ask("rules", "export", "--", "-")["rules"] == 0


def test_examples_that_no_longer_come_out_are_named(
    file: Path, run: Run, ask: Callable[..., Any], sqlite_url: str
) -> None:
    ask("rules", "import", file)
    assert run("rules", "check").stdout == "5 of 5 examples come out as is said.\n"
    engine = engine_for(sqlite_url)
    with writing(engine) as session:
        session.execute(
            sa.update(RuleVersion).where(RuleVersion.key == DEEPER.key).values(amount=1)
        )
    engine.dispose()
    checked = run("rules", "check")
    assert checked.exit_code == 1
    assert "north, rule deeper-cavity, version 1: example 1" in checked.stderr
    found = json.loads(run("rules", "check", "--json").stdout)
    assert [(w["rule"], w["example"], w["found"]) for w in found["wrong"]] == [
        ("deeper-cavity", 1, "differs")
    ]


def test_an_owner_that_there_is_not_is_refused(file: Path, run: Run) -> None:
    assert run("rules", "export", "-", "--owner", "nobody").exit_code == 1
    assert run("rules", "check", "--owner", "nobody").exit_code == 1


def test_an_export_takes_no_files_place(file: Path, run: Run) -> None:
    before = file.read_bytes()
    refused = run("rules", "export", file)
    assert refused.exit_code == 1
    assert "is there already: name another file." in refused.stderr
    assert file.read_bytes() == before


def test_an_import_says_of_which_rules_to_be_wary(
    file: Path, run: Run, ask: Callable[..., Any]
) -> None:
    limitless = replace(
        DEEPER, amount="", examples=(DEEPER.examples[0], ExampleTexts("40", "50", "differs"))
    )
    rules = [("north", read_rule(texts)) for texts in (limitless, EQUAL_WOOLS)]
    file.write_text(write_rules(rules), "utf-8")
    told = run("rules", "import", file, "--dry-run").stdout
    assert 'Caution, rule "deeper-cavity": This rule has no amount' in told
    assert 'Caution, rule "equal-wools": This rule speaks of a decisive parameter' in told
    found = ask("rules", "import", file)["cautions"]
    assert [each["rule"] for each in found] == ["deeper-cavity", "equal-wools"]
    assert ask("rules", "import", file)["cautions"] == []

"""The one account that comes before the first sign-in."""

from collections.abc import Callable
from typing import Any

import pytest
import sqlalchemy as sa

from portfolio.db.models import Organisation
from portfolio.db.people import Person
from portfolio.db.session import engine_for, writing
from portfolio.domain.rights import Role
from tests.cli.conftest import Run

Ask = Callable[..., Any]
FIRST = ("people", "first-administrator", "--organisation", "OWN")
EMAIL = ("--email", "first@example.invalid")


def _joined(url: str) -> None:
    """Somebody joined as the organisation's administrator."""
    engine = engine_for(url)
    with writing(engine) as session:
        organisation = session.scalars(sa.select(Organisation)).one()
        person = Person(email="first@example.invalid", organisation_id=organisation.id)
        person.name, person.role, person.is_active = "First", Role.ADMINISTRATOR, True
        person.password_hash = "none"
        session.add(person)
    engine.dispose()


def test_the_link_is_told_once_with_its_end(run: Run) -> None:
    result = run(*FIRST, *EMAIL)
    assert result.exit_code == 0
    assert "/join/" in result.stdout
    assert "It can be used until" in result.stdout


def test_each_link_is_new(ask: Ask) -> None:
    links = {ask(*FIRST, *EMAIL)["link"] for _ in range(2)}
    assert len(links) == 2


def test_an_organisation_has_one_first_administrator(run: Run, sqlite_url: str) -> None:
    assert run(*FIRST, *EMAIL).exit_code == 0
    _joined(sqlite_url)
    result = run(*FIRST, "--email", "second@example.invalid")
    assert (result.exit_code, result.stdout) == (1, "")
    assert "has an administrator already" in result.stderr


def test_an_address_belongs_to_one_organisation(run: Run, sqlite_url: str) -> None:
    run(*FIRST, *EMAIL)
    _joined(sqlite_url)
    result = run("people", "first-administrator", "--organisation", "OTHER", *EMAIL)
    assert result.exit_code == 1
    assert "account elsewhere" in result.stderr


def test_a_reference_that_looks_like_another_one_is_refused_and_makes_nothing(
    run: Run, sqlite_url: str
) -> None:
    result = run("people", "first-administrator", "--organisation", "O\u200bWN", *EMAIL)
    assert result.exit_code == 1
    assert '"O[U+200B]WN": This holds a character that is not seen' in result.stderr
    engine = engine_for(sqlite_url)
    with writing(engine) as session:
        assert session.scalars(sa.select(Organisation)).all() == []
    engine.dispose()


@pytest.mark.parametrize("email", ["nobody", "a@", "@b", ""])
def test_what_is_no_address_is_refused_and_makes_nothing(
    run: Run, sqlite_url: str, email: str
) -> None:
    assert run(*FIRST, "--email", email).exit_code == 1
    engine = engine_for(sqlite_url)
    with engine.connect() as connection:
        assert connection.scalar(sa.select(sa.func.count()).select_from(Organisation)) == 0
    engine.dispose()


@pytest.mark.parametrize(
    "words", [(*FIRST,), ("people", "first-administrator", *EMAIL), (*FIRST, *EMAIL, "--kind", "x")]
)
def test_a_mistyped_invitation_is_usage(run: Run, words: tuple[str, ...]) -> None:
    assert run(*words).exit_code == 2


def test_an_administrator_sees_the_shell_as_the_pages_do(
    run: Run, ask: Ask, sqlite_url: str
) -> None:
    run(*FIRST, *EMAIL)
    _joined(sqlite_url)
    assert ask("coverage", "--as", "first@example.invalid") == []
    assert ask("gaps", "--as", " First@Example.INVALID ") == []

"""Decisions from the shell, for people and for scripts; and the route of a zone."""

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
import sqlalchemy as sa
from click.testing import Result

from portfolio.db.models import Building, Zone
from portfolio.db.session import engine_for, writing
from portfolio.services.coverage import refresh
from portfolio.services.rulings import DecisionFacts, record_decision
from portfolio.services.viewer import LOCAL
from tests.web.portfolios import ON, fill_one_of_each, filling

Ask = Callable[..., Any]
Run = Callable[..., Result]
FACTS = DecisionFacts("Leave it.", "E. Example", "fire engineer", ON, None, "Deeper.", "")


@pytest.fixture
def decided(sqlite_url: str) -> str:
    """A portfolio with a decision on a zone to be assessed; the zone as commands name it."""
    with filling(sqlite_url) as portfolio:
        fill_one_of_each(portfolio)
    engine = engine_for(sqlite_url)
    with writing(engine) as session:
        zone = session.scalars(sa.select(Zone).where(Zone.ref == "ASSESS")).one()
        record_decision(session, LOCAL, zone.id, FACTS, ON)
        name = f"{zone.building.ref}/{zone.ref}"
    engine.dispose()
    return name


def _become_a_hotel(url: str) -> None:
    engine = engine_for(url)
    with writing(engine) as session:
        session.execute(sa.update(Building).values(use="hotel"))
        refresh(session, date(2026, 3, 2))
    engine.dispose()


@pytest.mark.usefixtures("decided")
def test_the_shell_lists_decisions_to_look_at_again_and_why(
    ask: Ask, run: Run, sqlite_url: str
) -> None:
    assert ask("decisions") == []
    assert [row["to_review"] for row in ask("decisions", "--all")] == [False]
    _become_a_hotel(sqlite_url)
    [told] = ask("decisions")
    assert {"what": "use of the building", "from": "flats", "to": "hotel", "on": "2026-03-02"} in (
        told["changed"]
    )
    assert "use of the building: was “flats”, is “hotel”" in run("decisions").stdout


def test_an_explanation_has_the_decisions_and_the_route(ask: Ask, run: Run, decided: str) -> None:
    told = ask("explain", decided)
    assert [one["ruling"] for one in told["decisions"]] == ["Leave it."]
    assert told["route"]["answer"] == "met"
    assert told["route"]["since"] == "2017-07-28"
    words = " ".join(run("explain", decided).stdout.split())
    assert told["route"]["sentence"] in words
    assert "Decision on" in words

"""Days pass: what was computed yesterday and would come out otherwise today is computed again."""

from collections.abc import Iterator
from datetime import date, timedelta

import pytest
import sqlalchemy as sa

from portfolio.db.models import ZoneResult
from portfolio.domain.evidence import Consent
from portfolio.services.coverage import refresh
from portfolio.services.renewing import renew, zones_due
from tests.services.world_support import Estate, consent, estate_in
from tests.web.portfolios import ON, WALL

TOMORROW = ON + timedelta(days=1)


@pytest.fixture
def estate(database_url: str) -> Iterator[Estate]:
    with estate_in(database_url) as found:
        yield found


def coverages(estate: Estate) -> list[str]:
    with estate.reading() as session:
        query = sa.select(ZoneResult.coverage).order_by(ZoneResult.zone_id)
        return [found.value for found in session.scalars(query)]


def test_a_consent_that_runs_out_takes_the_cover_with_it(estate: Estate) -> None:
    with estate.filling() as portfolio:
        holder, owner = portfolio.organisation(ref="holder"), portfolio.organisation(ref="owner")
        test = portfolio.test(holder, ref="T-1", consent=Consent.OWN)
        consent(portfolio, test, owner, until=ON)
        portfolio.zone(portfolio.building(owner, ref="B-1"), ref="Z-1")
    assert coverages(estate) == ["covered"]
    assert (renew(estate.engine, ON), renew(estate.engine, TOMORROW)) == (0, 1)
    assert coverages(estate) == ["no-matching-evidence"]
    assert renew(estate.engine, TOMORROW) == 0


def test_a_survey_of_tomorrow_counts_from_tomorrow_on(estate: Estate) -> None:
    with estate.filling() as portfolio:
        owner = portfolio.organisation(ref="owner")
        building = portfolio.building(owner, ref="B-1")
        portfolio.test(owner, ref="T-1")
        portfolio.survey(portfolio.zone(building, ref="Z-1", wall=None), WALL, on=TOMORROW)
        portfolio.zone(building, ref="Z-2")
    assert coverages(estate) == ["too-little-known", "covered"]
    assert renew(estate.engine, TOMORROW) == 1, "the other zone has nothing to wait for"
    assert coverages(estate) == ["covered", "covered"]


@pytest.mark.parametrize(
    ("dated", "until_then"),
    [
        ({"tested_on": TOMORROW}, "no-matching-evidence"),
        ({"report_on": TOMORROW}, "too-little-known"),
    ],
)
def test_a_test_of_tomorrow_covers_from_tomorrow_on(
    estate: Estate, dated: dict[str, date], until_then: str
) -> None:
    with estate.filling() as portfolio:
        owner = portfolio.organisation(ref="owner")
        portfolio.test(owner, ref="T-1", **dated)
        portfolio.zone(portfolio.building(owner, ref="B-1"), ref="Z-1")
    assert coverages(estate) == [until_then]
    assert renew(estate.engine, TOMORROW) == 1
    assert coverages(estate) == ["covered"]


@pytest.mark.parametrize(
    ("day", "is_due"),
    # on the first of January 2026 the rules "as tested" came into force
    [(date(2026, 1, 1), True), (date(2025, 12, 31), False), (date(2026, 1, 2), False)],
)
def test_a_rule_that_begins_is_noticed(estate: Estate, day: date, is_due: bool) -> None:
    with estate.filling() as portfolio:
        owner = portfolio.organisation(ref="owner")
        portfolio.zone(portfolio.building(owner, ref="B-1"), ref="Z-1")
    with estate.writing() as session:
        refresh(session, day - timedelta(days=1))
        assert bool(zones_due(session, day)) is is_due


def test_where_nothing_is_dated_nothing_is_due(estate: Estate) -> None:
    with estate.filling() as portfolio:
        owner = portfolio.organisation(ref="owner")
        portfolio.test(owner, ref="T-1")
        portfolio.zone(portfolio.building(owner, ref="B-1"), ref="Z-1")
    assert renew(estate.engine, ON + timedelta(days=300)) == 0

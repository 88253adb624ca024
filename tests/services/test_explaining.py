"""Telling the nearest tests only tells the same of them as telling all."""

from collections.abc import Iterator

import pytest
import sqlalchemy as sa

from portfolio.db.models import Zone
from portfolio.domain.evidence import Answer3, Standing
from portfolio.services.explaining import Explanation, explain_fully
from tests.services.world_support import Estate, estate_in
from tests.web.portfolios import ON, wall

WALLS = {
    "SAME": wall(),
    "THICKER": wall(insulation__thickness="200"),
    "DEEPER": wall(insulation__thickness="200", cavity__depth="80"),
    "OPEN": wall(insulation__product=""),
    "OTHER": wall(facing__material="terracotta"),
}


@pytest.fixture
def estate(database_url: str) -> Iterator[Estate]:
    with estate_in(database_url) as found:
        with found.filling() as portfolio:
            owner = portfolio.organisation(ref="owner")
            for ref, built in WALLS.items():
                portfolio.test(owner, ref=ref, build_up=built)
            portfolio.test(owner, ref="FAILED", external_spread=Answer3.NOT_MET)
            portfolio.test(owner, ref="WITHDRAWN", standing=Standing.WITHDRAWN)
            portfolio.zone(portfolio.building(owner, ref="B-1"), ref="Z-1")
        yield found


def explained(estate: Estate, **more: object) -> Explanation:
    with estate.reading() as session:
        zone_id = session.scalars(sa.select(Zone.id)).one()
        return explain_fully(session, estate.viewer("owner"), zone_id, ON, **more)  # type: ignore[arg-type]


def test_tests_come_nearest_first(estate: Estate) -> None:
    found = [(c.test.ref, c.verdict) for c in explained(estate).comparisons]
    assert found == [
        ("SAME", "covers"),
        ("THICKER", "assessable"),
        ("DEEPER", "assessable"),
        ("FAILED", "failed"),
        ("OPEN", "open"),
        ("WITHDRAWN", "apart"),
        ("OTHER", "apart"),
    ]


@pytest.mark.parametrize("most", range(8))
def test_the_nearest_are_the_first_of_all(estate: Estate, most: int) -> None:
    whole = explained(estate)
    some = explained(estate, most=most)
    told = {found.test for found in whole.coverage.nearest} | set(whole.coverage.tests)
    assert some.comparisons == tuple(
        c for i, c in enumerate(whole.comparisons) if i < most or c.test.ref in told
    )
    assert some.compared == whole.compared == len(whole.comparisons)
    assert some.coverage == whole.coverage


def test_a_test_that_is_asked_for_is_told_however_far(estate: Estate) -> None:
    refs = [c.test.ref for c in explained(estate, most=0, also=["OTHER"]).comparisons]
    assert refs[-1] == "OTHER"

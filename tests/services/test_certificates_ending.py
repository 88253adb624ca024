"""The day after a certificate's last one, the zones with its product are looked at again."""

from collections.abc import Iterator
from datetime import timedelta

import pytest

from portfolio.db.certificates import Certificate
from portfolio.services.renewing import renew
from portfolio.services.to_look_at import reopened
from tests.services.world_support import Estate, estate_in
from tests.web.portfolios import ON, wall

TOMORROW = ON + timedelta(days=1)


@pytest.fixture
def estate(database_url: str) -> Iterator[Estate]:
    with estate_in(database_url) as found:
        with found.filling() as portfolio:
            for ref in ("owner", "other"):
                owner = portfolio.organisation(ref=ref)
                building = portfolio.building(owner, ref=f"B-{ref}")
                portfolio.zone(building, ref="WITH", wall=wall(facing__product="panel  a"))
                portfolio.zone(building, ref="WITHOUT", wall=wall(facing__product="Panel AB"))
        with found.writing() as session:
            session.add(
                Certificate(
                    organisation_id=found.organisation("owner"),
                    ref="C-1",
                    product="Panel A",
                    valid_until=ON,
                )
            )
        yield found


def told(estate: Estate, organisation: str = "owner") -> list[str]:
    with estate.reading() as session:
        rows = reopened(session, estate.viewer(organisation)).rows
    return sorted(row.subject_ref for row in rows)


def test_on_its_last_day_it_still_holds(estate: Estate) -> None:
    renew(estate.engine, ON)
    assert told(estate) == []


def test_the_day_after_its_owners_zones_with_the_product_are_re_opened_once(
    estate: Estate,
) -> None:
    for day in (TOMORROW, TOMORROW, TOMORROW + timedelta(days=30)):
        renew(estate.engine, day)
    assert told(estate) == ["B-owner / WITH", "C-1"]
    assert told(estate, "other") == []


def test_a_certificate_that_is_prolonged_and_ends_again_is_told_again(estate: Estate) -> None:
    renew(estate.engine, TOMORROW)
    with estate.writing() as session:
        session.query(Certificate).one().valid_until = TOMORROW + timedelta(days=9)
    renew(estate.engine, TOMORROW + timedelta(days=9))
    assert len(told(estate)) == 2
    renew(estate.engine, TOMORROW + timedelta(days=10))
    assert len(told(estate)) == 4


def test_a_certificate_without_an_end_is_never_told(estate: Estate) -> None:
    with estate.writing() as session:
        session.query(Certificate).one().valid_until = None
    renew(estate.engine, TOMORROW + timedelta(days=3650))
    assert told(estate) == []

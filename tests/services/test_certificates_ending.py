"""The day after a certificate's last one, the zones with its product are looked at again."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
import sqlalchemy as sa

from portfolio.db.certificates import Certificate
from portfolio.db.life import PackMade
from portfolio.db.models import Building, Organisation
from portfolio.services.handing_out import keep_pack
from portfolio.services.packs import building_pack
from portfolio.services.renewing import renew
from portfolio.services.to_look_at import reopened
from portfolio.services.viewer import Viewer
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


def test_the_packs_of_buildings_with_the_product_are_overtaken_and_no_others(
    estate: Estate,
) -> None:
    """Of its owner; what it is called is told to nobody whom a building is open to."""
    with estate.filling() as portfolio:
        owner = portfolio.session.get_one(Organisation, estate.organisation("owner"))
        bare = portfolio.building(owner, ref="B-BARE")
        portfolio.zone(bare, wall=wall(facing__product="Panel AB"))
    with estate.writing() as session:
        buildings = session.scalars(sa.select(Building).order_by(Building.id)).all()
        for row in buildings:
            owner = Viewer("A. Person", row.organisation_id)
            keep_pack(session, owner, building_pack(session, owner, row.id, ON))
        refs = {row.id: row.ref for row in buildings}
    renew(estate.engine, ON)
    renew(estate.engine, TOMORROW)
    with estate.reading() as session:
        packs = session.scalars(sa.select(PackMade)).all()
        because = {refs[pack.building_id]: pack.overtaken_because for pack in packs}
    assert because == {
        "B-owner": f"A certificate of Panel A ended on {ON}",
        "B-other": "",
        "B-BARE": "",
    }
    assert [ref for ref in told(estate) if ref.startswith("pack")] != []
    with estate.reading() as session:
        to = [building for building, ref in refs.items() if ref == "B-owner"]
        rows = reopened(session, estate.viewer("other", to=tuple(to))).rows
    assert rows
    assert "C-1" not in " ".join(f"{row.subject_ref} {row.because}" for row in rows)


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

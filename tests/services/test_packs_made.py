"""How packs that were handed out are told apart, and to whom it is told who made them."""

from collections.abc import Iterator
from datetime import UTC, datetime

import pytest

from portfolio.db.life import PackMade
from portfolio.services.packs_made import makers_told, packs_holding
from portfolio.services.viewer import Viewer
from tests.services.world_support import Estate, estate_in
from tests.web.portfolios import ON

SOMEBODY = "somebody of another organisation"
MAKERS = {
    "A. Owner, Owner Homes": ("owner", "consult", "rival"),
    "B. Consult, Consult Ltd": ("owner", "consult"),
    "C. Rival, Rival Ltd": ("owner", "rival"),
    "local viewer": ("owner", "consult", "rival"),
}


@pytest.fixture
def estate(database_url: str) -> Iterator[Estate]:
    with estate_in(database_url) as found:
        with found.filling() as portfolio:
            names = {"owner": "Owner Homes", "consult": "Consult Ltd", "rival": "Rival Ltd"}
            rows = {ref: portfolio.organisation(ref=ref, name=name) for ref, name in names.items()}
            building = portfolio.building(rows["owner"], ref="B-1")
            for by in MAKERS:
                portfolio.session.add(
                    PackMade(
                        building_id=building.id,
                        at=datetime(2026, 3, 1, 14, 55, tzinfo=UTC),
                        as_of=ON,
                        by=by,
                        sha256="0" * 64,
                        test_ids=[7],
                    )
                )
        yield found


def test_packs_of_one_building_and_minute_are_told_apart(estate: Estate) -> None:
    with estate.reading() as session:
        words = [pack.words for pack in packs_holding(session, [7])]
    assert len(set(words)) == len(MAKERS)
    assert all("of B-1, 2026-03-01 14:55 UTC" in told for told in words)


def test_who_made_a_pack_is_told_to_its_owner_and_the_makers_own_people(estate: Estate) -> None:
    with estate.reading() as session:
        packs = {pack.row.by: pack.row.id for pack in packs_holding(session, [7])}
        told = {
            who: makers_told(session, estate.viewer(who), list(packs.values()))
            for who in ("owner", "consult", "rival")
        }
    for by, pack_id in packs.items():
        for who, makers in told.items():
            assert makers[pack_id] == (by if who in MAKERS[by] else SOMEBODY), (by, who)


@pytest.mark.parametrize(
    ("tests", "buildings", "found"),
    [((), (), False), ((8,), (), False), ((7, 8), (), True), ((), (1,), True)],
)
def test_a_pack_is_found_by_its_tests_and_by_its_building(
    estate: Estate, tests: tuple[int, ...], buildings: tuple[int, ...], *, found: bool
) -> None:
    with estate.reading() as session:
        held = packs_holding(session, tests, buildings)
        unseen = packs_holding(session, tests, buildings, read_by=Viewer("Nobody", 99))
    assert (bool(held), unseen) == (found, [])

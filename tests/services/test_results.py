"""Results are derived: dropped and made again, in part or as a whole, they are the same rows."""

import random
from collections.abc import Iterator
from typing import Any

import pytest
import sqlalchemy as sa
from flask import Flask
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy.orm import Session

from portfolio.db import models
from portfolio.db.results import (
    BuildingCoverage,
    BuildingMissing,
    BuildingToFind,
    BuildingWall,
    Missing,
    ZoneSettling,
    ZoneTest,
)
from portfolio.db.session import engine_for, reading, writing
from portfolio.domain.coverage import Coverage
from portfolio.domain.evidence import Answer3, Consent, Outcome
from portfolio.domain.leaning import Way
from portfolio.domain.surveys import Basis
from portfolio.services.coverage import refresh, refresh_buildings
from portfolio.services.gaps import GapFilter, list_gaps
from portfolio.services.leaning import counts_of
from portfolio.services.reliance import known_tests
from portfolio.services.results import forget_results
from portfolio.services.viewer import LOCAL, Viewer
from portfolio.web import create_app, store
from tests.web.portfolios import ON, fill_one_of_each, filling, wall

DERIVED = (
    models.ZoneResult,
    models.BuildingResult,
    ZoneTest,
    BuildingCoverage,
    BuildingMissing,
    BuildingWall,
    ZoneSettling,
    BuildingToFind,
)
PAGES = ("/", "/buildings", "/gaps", "/gaps?coverage=all", "/find-out", "/demand", "/evidence")
WALLS: tuple[dict[str, Any] | None, ...] = (
    None,
    wall(),
    wall(cavity__depth="80"),
    wall(facing__material="glass"),
    wall(facing__product="Another panel", insulation__thickness=""),
    wall(
        insulation__material="pir-foam",
        insulation__class="E",
        facing__core_category="3",
        facing__calorific_value="44",
        facing__class="D-s2,d0",
    ),
)


@pytest.fixture
def engine(database_url: str) -> Iterator[sa.Engine]:
    """Zones of every coverage, of three owners, one of them with surveys that disagree."""
    with filling(database_url) as portfolio:
        fill_one_of_each(portfolio)
        portfolio.test(portfolio.organisation(), ref="T-PASS", consent=Consent.PUBLISHED)
        owner = portfolio.organisation()
        portfolio.test(
            owner,
            external_spread=Answer3.NOT_MET,
            printed_outcome=Outcome.FAILED,
            build_up=WALLS[-1],
            consent=Consent.PUBLISHED,
        )
        for number in range(3):
            building = portfolio.building(owner, heights=() if number else (18.2,))
            for place, told in enumerate(WALLS):
                area = None if place == number else 12.3 * (place + 1)
                portfolio.zone(building, wall=told, area_m2=area)
        zone = portfolio.zone(building)
        portfolio.survey(zone, wall(insulation__material="pir-foam", insulation__class="E"))
    engine = engine_for(database_url)
    yield engine
    engine.dispose()


def _rows(session: Session) -> dict[str, list[Any]]:
    found = {}
    for kind in DERIVED:
        table = kind.__table__
        query = sa.select(table).order_by(*table.primary_key.columns)
        found[table.name] = [dict(row) for row in session.execute(query).mappings()]
    return found


def _zone_ids(session: Session) -> list[int]:
    return list(session.scalars(sa.select(models.Zone.id).order_by(models.Zone.id)))


def test_a_part_computed_again_leaves_the_rows_as_they_were(engine: sa.Engine) -> None:
    chosen = random.Random(3)
    with writing(engine) as session:
        before = _rows(session)
        ids = _zone_ids(session)
        for size in (1, 2, 5, len(ids)):
            refresh(session, ON, zone_ids=chosen.sample(ids, size))
            assert _rows(session) == before


def test_nothing_computed_again_touches_nothing(engine: sa.Engine) -> None:
    with writing(engine) as session:
        before = _rows(session)
        refresh(session, ON, zone_ids=[])
        refresh_buildings(session, [])
        assert _rows(session) == before


def test_dropped_and_made_again_they_are_the_same(engine: sa.Engine) -> None:
    with writing(engine) as session:
        before = _rows(session)
        forget_results(session)
        assert not any(_rows(session).values())
        refresh(session, ON)
        assert _rows(session) == before


def test_part_by_part_they_become_what_they_are_at_once(engine: sa.Engine) -> None:
    with writing(engine) as session:
        before = _rows(session)
        ids = _zone_ids(session)
        forget_results(session)
        random.Random(4).shuffle(ids)
        for zone_id in ids:
            refresh(session, ON, zone_ids=[zone_id])
        empty = session.scalars(sa.select(models.Building.id).where(models.Building.ref == "EMPTY"))
        refresh_buildings(session, empty.all())
        assert _rows(session) == before


def test_the_counts_are_those_of_the_zones(engine: sa.Engine) -> None:
    with reading(engine) as session:
        results = session.scalars(sa.select(models.ZoneResult)).all()
        gaps = [result for result in results if result.is_gap]
        unknown = sum(len(result.details["unknowns"]) for result in gaps)
        conflict = sum(len(result.details["conflicts"]) for result in gaps)
        missing = BuildingMissing.missing
        counted = sa.select(missing, sa.func.sum(BuildingMissing.gaps)).group_by(missing)
        assert dict(iter(session.execute(counted))) == {
            Missing.UNKNOWN: unknown,
            Missing.CONFLICT: conflict,
        }
        assert conflict
        assert session.scalar(sa.select(sa.func.sum(BuildingCoverage.zones))) == len(results)
        assert session.scalar(sa.select(sa.func.sum(BuildingWall.zones))) == len(gaps)
        assert {result.coverage for result in results} == set(Coverage)


def test_a_test_is_named_by_every_zone_it_bears_on(engine: sa.Engine) -> None:
    with reading(engine) as session:
        kept = session.scalars(sa.select(ZoneTest)).all()
        owners = {row.organisation_id for row in kept}
        known = {owner: known_tests(session, owner, ON).names for owner in owners}
        named = {(row.zone_id, known[row.organisation_id][row.test_id]): row.way for row in kept}
        for result in session.scalars(sa.select(models.ZoneResult)):
            for ref in result.details["against"]:
                assert named.pop((result.zone_id, ref)) is Way.AGAINST
            for near in result.details["nearest"]:
                if near["verdict"] != "apart":
                    named.pop((result.zone_id, near["test"]))
        assert not named


def test_two_holders_tests_of_one_reference_both_count_and_are_told_apart(
    engine: sa.Engine,
) -> None:
    with reading(engine) as session:
        alike = session.scalars(sa.select(models.TestRecord).filter_by(ref="T-PASS")).all()
        north = session.scalars(sa.select(models.Organisation).filter_by(ref="north")).one()
        names = known_tests(session, north.id, ON).names
        seen = [test for test in alike if test.id in names]
        assert len(seen) > 1
        for test in seen:
            is_own = test.organisation_id == north.id
            holder = f" (held by {test.organisation.ref})"
            assert names[test.id] == "T-PASS" + ("" if is_own else holder)
        found = counts_of(session, Viewer("northerner", north.id))
        covering = {test_id for test_id, counts in found.items() if counts[Way.COVERS]}
        assert covering == {test.id for test in seen}


def test_a_dropped_zone_result_takes_its_tests_along(engine: sa.Engine) -> None:
    with writing(engine) as session:
        session.execute(sa.delete(models.ZoneResult))
        session.execute(sa.delete(models.BuildingResult))
        assert not any(_rows(session).values())


@pytest.mark.parametrize("page", PAGES)
def test_pages_are_the_same_after_everything_was_made_again(
    engine: sa.Engine, database_url: str, page: str
) -> None:
    app = create_app(database_url, today=lambda: ON, local=True)
    before = app.test_client().get(page).text
    with writing(engine) as session:
        forget_results(session)
        refresh(session, ON)
    assert app.test_client().get(page).text == before
    _close(app)


def _close(app: Flask) -> None:
    with app.app_context():
        store.engine().dispose()


FILTERS: tuple[GapFilter, ...] = (
    GapFilter(),
    GapFilter(gaps_only=False),
    GapFilter(coverage="too-little-known"),
    GapFilter(coverage="covered", gaps_only=False),
    GapFilter(by_inference=False),
    GapFilter(height_band="18"),
    GapFilter(owner="north"),
    GapFilter(text="glass", gaps_only=False),
    GapFilter(text="building"),
)


@pytest.mark.parametrize("wanted", FILTERS)
@pytest.mark.parametrize("size", [1, 4])
def test_page_by_page_the_list_is_the_whole_list_with_the_same_places(
    engine: sa.Engine, wanted: GapFilter, size: int
) -> None:
    with reading(engine) as session:
        whole = list_gaps(session, LOCAL, wanted)
        pages = [
            list_gaps(session, LOCAL, wanted, limit=size, offset=offset)
            for offset in range(0, whole.total + 1, size)
        ]
    assert whole.total == len(whole.rows)
    assert {page.total for page in pages} == {whole.total}
    assert tuple(row for page in pages for row in page.rows) == whole.rows


def test_a_place_is_that_among_all_gaps_of_the_viewer(engine: sa.Engine) -> None:
    with reading(engine) as session:
        everything = list_gaps(session, LOCAL, GapFilter(gaps_only=False)).rows
        ranks = {row.zone_id: row.rank for row in everything}
        for wanted in FILTERS:
            for row in list_gaps(session, LOCAL, wanted, limit=50).rows:
                assert row.rank == ranks[row.zone_id]
    gaps = [row for row in everything if row.coverage.is_gap]
    assert [row.rank for row in gaps] == list(range(1, len(gaps) + 1))
    assert all(row.rank is None for row in everything if not row.coverage.is_gap)


def test_two_owners_with_the_same_names_share_no_place(database_url: str) -> None:
    with filling(database_url) as portfolio:
        for _ in range(2):
            building = portfolio.building(portfolio.organisation(), ref="SAME", name="Same")
            portfolio.zone(building, ref="SAME", wall=None)
    engine = engine_for(database_url)
    with reading(engine) as session:
        rows = list_gaps(session, LOCAL, GapFilter(text="same"), limit=5).rows
    engine.dispose()
    assert [row.rank for row in rows] == [1, 2]


@given(
    told=st.lists(
        st.tuples(
            st.integers(0, 10),
            st.sampled_from(WALLS),
            st.sampled_from((Basis.OPENING_UP, Basis.DRAWING)),
        ),
        min_size=1,
        max_size=4,
    )
)
@settings(max_examples=8, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_is_surveyed_a_part_computed_is_as_good_as_all(
    engine: sa.Engine, told: list[tuple[int, dict[str, Any] | None, Basis]]
) -> None:
    """Each example adds to what the ones before it left."""
    with writing(engine) as session:
        ids = _zone_ids(session)
        touched = []
        for place, wall_told, basis in told:
            zone = session.get_one(models.Zone, ids[place])
            number = session.scalar(sa.select(sa.func.count()).select_from(models.Survey))
            if wall_told is not None:
                survey = {"ref": f"again {number}", "basis": basis, "on": ON, "build_up": wall_told}
                session.add(models.Survey(zone_id=zone.id, **survey))
                session.flush()
            touched.append(zone.id)
        refresh(session, ON, zone_ids=set(touched))
        partly = _rows(session)
        refresh(session, ON)
        assert _rows(session) == partly

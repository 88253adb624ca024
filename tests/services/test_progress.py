"""Every day is counted once, and the counts are those of the stored results."""

from collections.abc import Iterator
from datetime import date, timedelta

import pytest
import sqlalchemy as sa

from portfolio.db.models import Building, Survey, Zone, ZoneResult
from portfolio.db.progress import CountChange, CountedDay
from portfolio.domain.coverage import Coverage
from portfolio.domain.moving import BUILDINGS, ZONES
from portfolio.domain.rights import Access
from portfolio.services.coverage import refresh
from portfolio.services.editing import coverage_value
from portfolio.services.progress import Progress, ProgressFilter, count_day, progress
from portfolio.services.renewing import renew
from portfolio.services.viewer import LOCAL, Viewer
from tests.services.world_support import Estate, estate_in
from tests.web.portfolios import ON, fill_one_of_each

NEXT = ON + timedelta(days=1)


@pytest.fixture
def estate(database_url: str) -> Iterator[Estate]:
    with estate_in(database_url) as found:
        with found.filling() as portfolio:
            fill_one_of_each(portfolio)
            south = portfolio.building(
                portfolio.organisation(ref="west"), ref="WEST", jurisdiction="Scotland"
            )
            portfolio.zone(south)
        yield found


def seen(
    estate: Estate, wanted: ProgressFilter | None = None, viewer: Viewer = LOCAL, on: date = NEXT
) -> Progress:
    with estate.reading() as session:
        return progress(session, viewer, wanted or ProgressFilter(), on)


def survey_again(estate: Estate, ref: str) -> None:
    """A zone of which nobody has said anything is surveyed like the covered one."""
    with estate.writing() as session:
        zone = session.scalars(sa.select(Zone).where(Zone.ref == ref)).one()
        told = session.scalars(sa.select(Survey).join(Zone).where(Zone.ref == "COVERED")).one()
        session.add(
            Survey(
                zone_id=zone.id,
                ref="S-9",
                basis=told.basis,
                on=told.on,
                source="x",
                build_up=told.build_up,
            )
        )
        session.flush()
        refresh(session, ON, zone_ids=[zone.id])


def test_a_day_is_counted_once_and_what_stays_is_not_kept_again(estate: Estate) -> None:
    for day, first in ((ON, True), (ON, False), (NEXT, False)):
        with estate.writing() as session:
            assert bool(count_day(session, day)) is first
    with estate.reading() as session:
        days = session.scalars(sa.select(CountedDay.day).distinct().order_by(CountedDay.day)).all()
        assert list(days) == [ON, NEXT]
        assert set(session.scalars(sa.select(CountChange.day))) == {ON}


def test_the_counts_are_those_of_the_zones(estate: Estate) -> None:
    renew(estate.engine, ON)
    with estate.reading() as session:
        kept = session.execute(sa.select(ZoneResult.coverage, ZoneResult.by_inference)).all()
    names = [coverage_value(row.coverage, by_inference=row.by_inference) for row in kept]
    found = seen(estate)
    for day in found.every:
        assert {key: amount.number for key, amount in day.counts[ZONES].items()} == {
            name: names.count(name) for name in names
        }


def test_what_happens_on_a_day_shows_on_the_next_and_is_no_break(estate: Estate) -> None:
    renew(estate.engine, ON)
    survey_again(estate, "UNKNOWN")
    renew(estate.engine, NEXT)
    before, after = seen(estate).days
    covered = Coverage.COVERED.value
    assert after.count(ZONES, covered) == before.count(ZONES, covered) + 1
    assert after.breaks == ()
    assert after.counts[ZONES] == seen(estate).now.counts[ZONES]


def test_a_zone_that_is_added_breaks_the_line(estate: Estate) -> None:
    renew(estate.engine, ON)
    with estate.writing() as session:
        building = session.scalars(sa.select(Building).where(Building.ref == "TALL")).one()
        session.add(Zone(building_id=building.id, ref="NEW"))
        session.flush()
        refresh(session, ON)
    renew(estate.engine, NEXT)
    assert seen(estate).days[-1].breaks == ("1 zone came in",)


@pytest.mark.parametrize(
    ("wanted", "zones", "buildings"),
    [
        (ProgressFilter(), 6, 3),
        (ProgressFilter(owner="north"), 5, 2),
        (ProgressFilter(owner="south"), 0, 0),
        (ProgressFilter(jurisdiction="Scotland"), 1, 1),
        (ProgressFilter(use="office"), 2, 1),
        (ProgressFilter(height_band="30"), 3, 1),
    ],
)
def test_a_part_is_counted_by_itself(
    estate: Estate, wanted: ProgressFilter, zones: int, buildings: int
) -> None:
    renew(estate.engine, ON)
    for day in seen(estate, wanted).every:
        assert (day.total(ZONES), day.total(BUILDINGS)) == (zones, buildings)


def test_an_organisation_sees_only_its_own_and_what_is_open_to_it(estate: Estate) -> None:
    renew(estate.engine, ON)
    with estate.reading() as session:
        low = session.scalars(sa.select(Building.id).where(Building.ref == "LOW")).one()
    viewers = [
        (estate.viewer("north"), 5),
        (estate.viewer("west"), 1),
        (estate.viewer("south"), 0),
        (estate.viewer("south", access=Access.READ, to=(low,)), 2),
    ]
    for viewer, zones in viewers:
        for day in seen(estate, viewer=viewer).every:
            assert day.total(ZONES) == zones
    assert seen(estate, ProgressFilter(owner="north"), estate.viewer("west")).now.counts == {}

"""Which route is applied to a zone, wherever it is told, on both databases."""

import io
from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import openpyxl
import pytest

from portfolio.db import changelog
from portfolio.domain.errors import InputError
from portfolio.domain.evidence import Answer3
from portfolio.services.comparing import compare, comparison_fields
from portfolio.services.editing_zones import ZoneFacts, create_zone, editable_zone, save_zone
from portfolio.services.explaining import Explanation, explain
from portfolio.services.exporting import gather_drafts
from portfolio.services.looking_back import look_back, pack_looking_back
from portfolio.services.packs import building_pack
from portfolio.services.references import Kind, Thing
from portfolio.services.route_words import ToldRoute, told_route
from portfolio.services.viewer import Viewer
from tests.services.world_support import Estate, estate_in, log_at
from tests.web.portfolios import ON, WALL

LATER = ON + timedelta(days=10)
COUNTED = date(2023, 5, 1)


class World:
    """An owner's building of flats with its top floor at 20 m, a zone and a test that covers it."""

    def __init__(self, estate: Estate) -> None:
        self.estate = estate
        with estate.filling() as portfolio:
            owner = portfolio.organisation(ref="owner")
            portfolio.organisation(ref="consultancy")
            self.test = portfolio.test(owner, ref="T-1").id
            building = portfolio.building(owner, ref="B-1")
            self.building = building.id
            self.zone = portfolio.zone(building, ref="Z-1", wall=WALL).id
        self.viewer: Viewer = estate.viewer("owner")

    def log_what_is_there(self) -> None:
        with self.estate.writing() as session:
            owner = self.viewer.organisation_id
            things = {"building": self.building, "zone": self.zone, "test": self.test}
            entries = [changelog.Entry("created", k, key, k, owner) for k, key in things.items()]
            entries.append(changelog.Entry("created", "survey", 1, "survey", owner))
            changelog.record(session, self.viewer.actor, entries)

    def work(self, work: str, counted: date | None = None) -> None:
        with self.estate.writing() as session:
            found = editable_zone(session, self.viewer, self.zone)
            facts = ZoneFacts("Z-1", work=work, work_counted_on=counted)
            revision = found.revision
            save_zone(session, self.viewer, self.zone, facts, revision=revision, on=LATER)

    def explained(self) -> Explanation:
        with self.estate.reading() as session:
            return explain(session, self.viewer, self.zone, LATER)

    def told(self) -> ToldRoute:
        return told_route(self.explained().gathered, LATER)

    def coverage(self) -> str:
        return self.explained().coverage.coverage.value


@pytest.fixture
def world(database_url: str) -> Iterator[World]:
    with estate_in(database_url) as found:
        yield World(found)


def test_a_zone_of_which_nobody_said_the_work_is_taken_as_existing_and_says_so(
    world: World,
) -> None:
    assert world.coverage() == "covered"
    told = world.told()
    assert told.applied.answer is Answer3.MET
    assert told.sentence.startswith(
        "Taken as an existing wall, since nobody has said what kind of work it is and the building "
        "is occupied: large-scale test evidence may speak for it in England by the rule since "
        "2017-07-28, because "
    )


def test_an_existing_wall_that_is_said_to_be_one_has_the_same_coverage(world: World) -> None:
    world.work("existing")
    assert world.coverage() == "covered"
    assert world.told().sentence.startswith("Taken as an existing wall, appraised as it stands:")


def test_no_test_covers_new_work_on_flats_at_twenty_metres(world: World) -> None:
    """Regulation 7(2), England: a storey at 18 m or more, since 21 December 2018."""
    world.work("new", COUNTED)
    assert world.coverage() == "no-matching-evidence"
    told = world.told()
    assert told.work == "new work, counted on 2023-05-01"
    assert "no large-scale test is a route for it in England by the rule since 2022" in (
        told.sentence
    )
    assert "(source, published: Building Regulations 2010" in told.sentence


def test_new_work_whose_day_nobody_recorded_is_unknown_and_says_what_settles_it(
    world: World,
) -> None:
    world.work("new")
    assert world.coverage() == "too-little-known"
    assert "what would settle it: the day on which the application" in world.told().sentence


@pytest.mark.parametrize(
    ("work", "counted", "field"),
    [("existing", COUNTED, "work_counted_on"), ("new", date(2999, 1, 1), "work_counted_on")],
)
def test_a_day_that_means_nothing_is_refused(
    world: World, work: str, counted: date, field: str
) -> None:
    with pytest.raises(InputError) as refused:
        world.work(work, counted)
    assert [problem.column for problem in refused.value.problems] == [field]
    facts = ZoneFacts("Z-2", work=work, work_counted_on=counted)
    with pytest.raises(InputError), world.estate.writing() as session:
        create_zone(session, world.viewer, world.building, facts, LATER)


def test_an_export_holds_the_kind_of_work(world: World) -> None:
    world.work("new", COUNTED)
    with world.estate.reading() as session:
        [zone] = gather_drafts(session, world.viewer).zones
    assert (zone.work, zone.work_counted_on) == ("new", COUNTED)


def test_the_pack_tells_the_kind_of_work_and_the_route(world: World) -> None:
    world.work("new", COUNTED)
    with world.estate.reading() as session:
        made = building_pack(session, world.viewer, world.building, LATER)
    assert _row(made.content) == ("new work, counted on 2023-05-01", world.told().sentence)


def _row(content: bytes) -> tuple[Any, Any]:
    sheet = openpyxl.load_workbook(io.BytesIO(content))["Zones"]
    headers, first = list(sheet.iter_rows(values_only=True))[:2]
    found = dict(zip(headers, first, strict=True))
    return found["Kind of work"], found["Route applied"]


def test_a_comparison_with_a_test_tells_the_route_and_one_of_two_zones_does_not(
    world: World,
) -> None:
    zone, test = Thing(Kind.ZONE, world.zone), Thing(Kind.TEST, world.test)
    with world.estate.reading() as session:
        beside = compare(session, world.viewer, test, zone, LATER)
        alike = compare(session, world.viewer, zone, zone, LATER)
    assert beside.route == comparison_fields(beside)["route"] == world.told().sentence
    assert alike.route == ""


def test_looking_back_tells_the_work_that_was_known_then(
    world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    log_at(monkeypatch, ON)
    world.log_what_is_there()
    log_at(monkeypatch, LATER)
    world.work("new", COUNTED)
    with world.estate.reading() as session:
        for day, coverage, work in (
            (ON, "covered", "nobody has said: taken as an existing wall"),
            (LATER, "no-matching-evidence", "new work, counted on 2023-05-01"),
        ):
            found = look_back(session, world.viewer, world.building, day, today=LATER)
            assert found.zones[0].coverage.coverage.value == coverage
            made = pack_looking_back(session, world.viewer, world.building, day, today=LATER)
            assert _row(made.content)[0] == work


def test_the_log_tells_what_the_work_was_and_is(world: World) -> None:
    world.work("new", COUNTED)
    with world.estate.reading() as session:
        last = session.query(changelog.Event).filter_by(subject="zone").all()[-1]
    assert last.changes["work"] == ["", "new"]
    assert last.changes["work_counted_on"] == [None, "2023-05-01"]

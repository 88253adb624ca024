"""The overview counts what is there, says what is not known, and leads to the lists."""

import csv
import io
import re

import openpyxl
import pytest
from flask import Flask
from flask.testing import FlaskClient

from portfolio.db.session import engine_for, reading, writing
from portfolio.domain.coverage import Coverage
from portfolio.services.overview import Overview, overview
from portfolio.services.results import forget_results
from portfolio.services.viewer import LOCAL, Viewer
from portfolio.web.words import share
from tests.web.portfolios import ON, Portfolio, filling, wall
from tests.web.queries import counted
from tests.web.reading import Page, rows


def _overview(database_url: str, viewer: Viewer = LOCAL) -> Overview:
    engine = engine_for(database_url)
    try:
        with reading(engine) as session:
            return overview(session, viewer, ON)
    finally:
        engine.dispose()


@pytest.fixture
def found(app: Flask, database_url: str) -> Overview:
    return _overview(database_url)


def _by_coverage(found: Overview) -> dict[Coverage, int]:
    return {c.coverage: c.zones for c in found.counts if not c.by_inference}


def test_every_coverage_is_counted_once(found: Overview) -> None:
    assert _by_coverage(found) == dict.fromkeys(Coverage, 1)
    assert (found.buildings, found.zones, found.gaps) == (3, 5, 4)


def test_a_zone_without_an_area_adds_nothing_and_is_counted(found: Overview) -> None:
    assert (found.area_m2, found.area_unknown) == (400.0, 1)


def test_bands_add_up_to_all_zones_and_unknown_heights_stand_first(found: Overview) -> None:
    assert sum(band.zones for band in found.bands) == found.zones
    assert [band.key for band in found.bands] == ["", "50", "30", "18", "11", "0"]


def test_what_nobody_recorded_of_a_building_is_counted(found: Overview) -> None:
    missing = found.not_recorded
    assert (missing.heights, missing.jurisdiction, missing.use, missing.evacuation) == (1,) * 4
    assert missing.buildings_without_zones == 1
    assert missing.zones_unsurveyed == 1


def test_a_decisive_layer_that_nobody_knows_is_among_the_unknowns(found: Overview) -> None:
    assert {"facing.1.material", "insulation.1.material"} <= {u.key for u in found.unknowns}


def test_unknowns_are_counted_by_gaps_most_first(found: Overview) -> None:
    counts = [unknown.zones for unknown in found.unknowns]
    assert counts == sorted(counts, reverse=True)
    assert max(counts) <= found.gaps


def test_of_unknowns_that_are_as_frequent_the_decisive_ones_stand_first(found: Overview) -> None:
    once = [unknown.is_decisive for unknown in found.unknowns if unknown.zones == 1]
    assert once == sorted(once, reverse=True)
    assert any(once)


def test_surveys_that_disagree_are_counted_with_what_they_disagree_on(database_url: str) -> None:
    with filling(database_url) as portfolio:
        zone = portfolio.zone(portfolio.building(portfolio.organisation()))
        portfolio.survey(zone, wall(insulation__material="pir-foam", insulation__class="E"))
    found = _overview(database_url)
    assert found.not_recorded.zones_in_conflict == 1
    assert "insulation.1.material" in {conflict.key for conflict in found.conflicts}


@pytest.mark.parametrize(
    ("building", "sides"),
    [
        ({"heights": (18.2,)}, {18}),  # half a metre of unstated tolerance
        ({"heights": (19.0,)}, set()),
        ({"heights": (10.0, 31.0)}, {11, 18, 30}),  # two claims far apart
        ({"heights": (), "storeys": 6}, {18}),  # 17.05 m by storeys, give or take a tenth
        ({"heights": (), "storeys": None}, set()),  # unknown is counted apart
    ],
)
def test_a_height_near_a_limit_lies_on_either_side(
    database_url: str, building: dict[str, object], sides: set[int]
) -> None:
    with filling(database_url) as portfolio:
        portfolio.building(portfolio.organisation(), **building)
    limits = _overview(database_url).not_recorded.either_side
    assert {limit.metres for limit in limits if limit.buildings} == sides


def test_another_organisation_sees_only_its_own(app: Flask, database_url: str) -> None:
    found = _overview(database_url, Viewer("someone", 2))
    assert (found.buildings, found.zones, found.gaps) == (1, 0, 0)
    assert found.first_gaps == ()
    assert found.unknowns == ()


def test_zones_that_nothing_was_computed_for_are_owned_up_to(
    app: Flask, database_url: str, client: FlaskClient
) -> None:
    engine = engine_for(database_url)
    with writing(engine) as session:
        forget_results(session)
    engine.dispose()
    assert _overview(database_url).not_recorded.zones_not_computed == 5
    assert "5 zones have not been compared" in Page(client.get("/").text).text()


def test_each_picture_has_its_numbers_in_a_table(client: FlaskClient) -> None:
    markup = client.get("/").text
    assert markup.count("<svg") == 5
    assert ["C Covered by a test", "1", "20 %", "100 m²", "0"] in rows(markup)
    assert ["30 m to below 50 m", "1", "0", "0", "0", "1", "1", "3"] in rows(markup)


def test_each_number_says_how_it_is_counted(client: FlaskClient) -> None:
    page = Page(client.get("/").text)
    assert page.text("summary").count("counted") == 4


def test_every_link_of_the_pictures_and_tables_leads_somewhere(client: FlaskClient) -> None:
    markup = client.get("/").text
    lists = set(re.findall(r'href="(/(?:gaps|buildings)\?[^"]*)"', markup))
    assert len(lists) > 5
    for address in lists:
        assert client.get(address.replace("&amp;", "&")).status_code == 200, address


def test_a_count_leads_to_as_many_zones(client: FlaskClient) -> None:
    listed = client.get("/gaps?coverage=contradicted&height_band=30").text
    assert "1 to 1 of 1 gaps" in Page(listed).text()


def test_the_first_gaps_come_with_their_reasons(client: FlaskClient) -> None:
    first = next(row for row in rows(client.get("/").text) if "AGAINST Wall 100 m²" in row)
    assert first[3:8] == [
        "X Contradicted by a failing test",
        "people sleep here",
        "30 m to below 50 m 33 m",
        "people stay put",
        "unknown, so placed with the worst",
    ]


def test_an_empty_portfolio_says_how_to_begin(empty_app: Flask) -> None:
    page = Page(empty_app.test_client().get("/").text)
    assert "There is nothing here yet" in page.text()


def test_the_workbook_has_the_caution_and_every_table(client: FlaskClient) -> None:
    answer = client.get("/?format=xlsx")
    book = openpyxl.load_workbook(io.BytesIO(answer.data))
    assert book.sheetnames == [
        "Caution",
        "Coverage",
        "Coverage by height",
        "Unknown at gaps",
        "In conflict at gaps",
        "Not recorded",
        "Works due",
    ]
    assert [c.value for c in book["Coverage"][7]] == ["Covered by a test", 1, 100, 0]
    assert f"overview-{ON.isoformat()}.xlsx" in answer.headers["Content-Disposition"]


def test_each_table_can_be_had_as_csv(client: FlaskClient) -> None:
    text = client.get("/?format=csv&table=coverage-by-height").data.decode("utf-8-sig")
    assert list(csv.reader(io.StringIO(text)))[0][0] == "Height"


def test_a_table_that_is_not_there_is_refused(client: FlaskClient) -> None:
    assert client.get("/?format=csv&table=no-such").status_code == 400


def test_as_many_queries_for_many_buildings_as_for_few(app: Flask, database_url: str) -> None:
    client = app.test_client()
    with counted(app) as few:
        client.get("/")
    with filling(database_url) as portfolio:
        _add_many(portfolio)
    with counted(app) as many:
        client.get("/")
    # two of them read decisions to look at again, and dates of works
    assert len(many) == len(few) <= 16


def _add_many(portfolio: Portfolio) -> None:
    owner = portfolio.organisation()
    for _ in range(8):
        building = portfolio.building(owner)
        portfolio.zone(building)
        portfolio.zone(building, wall=None)


@pytest.mark.parametrize(
    ("part", "whole", "text"),
    [(1, 3, "33 %"), (1, 5000, "below 1 %"), (4999, 5000, "above 99 %"), (0, 5, "0 %"), (0, 0, "")],
)
def test_a_share_is_never_none_or_all_by_rounding(part: int, whole: int, text: str) -> None:
    assert share(part, whole) == text

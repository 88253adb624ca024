"""The page of a building: what is known, its zones, and the way to its evidence pack."""

import pytest
import sqlalchemy as sa
from flask import Flask
from flask.testing import FlaskClient

from portfolio.db import models
from portfolio.web import store
from tests.web.portfolios import filling
from tests.web.queries import counted
from tests.web.reading import Page, rows


def _address(app: Flask, ref: str) -> str:
    with app.app_context(), store.reading() as session:
        found = session.scalars(sa.select(models.Building).filter_by(ref=ref)).one()
    return f"/buildings/{found.id}"


def test_the_worst_zone_gives_the_building_its_coverage(app: Flask, client: FlaskClient) -> None:
    text = Page(client.get(_address(app, "TALL")).get_data(as_text=True)).text("main")
    assert "X Contradicted by a failing test , the worst of its 3 zones: AGAINST" in text


def test_what_nobody_said_is_called_unknown(app: Flask, client: FlaskClient) -> None:
    markup = client.get(_address(app, "EMPTY")).get_data(as_text=True)
    told = Page(markup).text("dl")
    assert "Jurisdiction unknown Use unknown Storeys above ground unknown Homes 10" in told
    assert "Evacuation unknown Sprinklers unknown" in told
    assert "Unknown: nobody has claimed a height" in Page(markup).text("main")


def test_thresholds_say_their_operator(app: Flask, client: FlaskClient) -> None:
    found = rows(client.get(_address(app, "TALL")).get_data(as_text=True))
    operators = [row[0] for row in found if row[0].startswith("floor of the top storey: ")]
    assert [words.removeprefix("floor of the top storey: ")[:14] for words in operators] == [
        "at least 18 m ",
        "more than 11 m",
        "at least 11 m",
    ]


def test_without_a_jurisdiction_no_threshold_is_named(app: Flask, client: FlaskClient) -> None:
    text = Page(client.get(_address(app, "EMPTY")).get_data(as_text=True)).text("main")
    assert "nobody has said in which jurisdiction this building stands" in text


def test_thresholds_and_heights_are_given_out_as_files(app: Flask, client: FlaskClient) -> None:
    address = _address(app, "TALL")
    assert client.get(f"{address}?format=xlsx").data.startswith(b"PK")
    thresholds = client.get(f"{address}?format=csv&table=thresholds").get_data(as_text=True)
    heights = client.get(f"{address}?format=csv&table=heights").get_data(as_text=True)
    assert "higher-risk building in occupation" in thresholds
    assert "33" in heights
    assert client.get(f"{address}?format=pdf").status_code == 400


def test_every_zone_is_linked_in_the_table_and_in_the_drawing(
    app: Flask, client: FlaskClient
) -> None:
    page = Page(client.get(_address(app, "TALL")).get_data(as_text=True))
    links = [a["href"] for a in page.all("a") if a.get("href", "").startswith("/zones/")]
    # two drawings, for wide and narrow windows, the table, and the worst zone at the top
    assert sorted(links.count(link) for link in set(links)) == [3, 3, 4]


def test_coverage_is_kept_apart_from_safety_and_works(app: Flask, client: FlaskClient) -> None:
    text = Page(client.get(_address(app, "TALL")).get_data(as_text=True)).text("main")
    assert "not an appraisal outcome" in text
    assert "not a status of works" in text


def test_the_evidence_pack_is_a_workbook(app: Flask, client: FlaskClient) -> None:
    answer = client.get(f"{_address(app, 'TALL')}/pack.xlsx")
    assert answer.data.startswith(b"PK")
    assert "attachment; filename=evidence-" in answer.headers["Content-Disposition"]


def test_many_zones_cost_no_more_statements(
    app: Flask, client: FlaskClient, database_url: str
) -> None:
    address = _address(app, "TALL")
    with counted(app) as few:
        client.get(address)
    with filling(database_url) as portfolio:
        building = portfolio.session.scalars(sa.select(models.Building).filter_by(ref="TALL")).one()
        for _ in range(20):
            portfolio.zone(building)
    with counted(app) as many:
        client.get(address)
    assert len(many) == len(few)


@pytest.mark.parametrize("storeys", [0, 900_000])
def test_a_nonsense_number_of_storeys_does_not_break_the_page(
    empty_app: Flask, client: FlaskClient, database_url: str, storeys: int
) -> None:
    with filling(database_url) as portfolio:
        building = portfolio.building(
            portfolio.organisation(), ref="ODD", storeys=storeys, heights=(50_000.0,)
        )
        portfolio.zone(building, from_storey=-500, to_storey=storeys)
    assert client.get(_address(empty_app, "ODD")).status_code == 200

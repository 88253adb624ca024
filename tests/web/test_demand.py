"""Demand: groups of walls alike, and what one test of a group would have to contain."""

import csv
import io

import openpyxl
import pytest
from flask import Flask
from flask.testing import FlaskClient

from tests.web.portfolios import filling, wall
from tests.web.queries import counted
from tests.web.reading import Page, rows


@pytest.fixture
def client(empty_app: Flask, database_url: str) -> FlaskClient:
    """Three zones alike behind glass, one that nobody surveyed."""
    with filling(database_url) as portfolio:
        building = portfolio.building(portfolio.organisation(ref="north"), heights=(30.0,))
        for depth in ("50", "50", "80"):
            portfolio.zone(building, wall=wall(facing__material="glass", cavity__depth=depth))
        portfolio.zone(building, wall=None, area_m2=None)
    return empty_app.test_client()


def _first_group(client: FlaskClient) -> str:
    links = Page(client.get("/demand").text).all("a")
    return next(link["href"] for link in links if link["href"].startswith("/demand/"))


def test_walls_alike_are_one_group_and_most_zones_stand_first(client: FlaskClient) -> None:
    first, second = rows(client.get("/demand").text)
    assert first[:6] == ["Group 1", "3", "1", "1", "300 m²", "30 m"]
    assert second[:5] == ["Group 2 survey first", "1", "1", "1", "0 m² 1 without area"]


def test_a_group_says_what_a_test_would_contain(client: FlaskClient) -> None:
    found = rows(client.get(_first_group(client)).text)
    assert ["Facing: material", "glass", "0"] in found
    assert ["Cavity: depth", "50 mm; 80 mm", "0"] in found


def test_a_group_leads_to_its_zones(client: FlaskClient) -> None:
    links = [a["href"] for a in Page(client.get(_first_group(client)).text).all("a")]
    assert sum(link.startswith("/zones/") for link in links) == 3


def test_a_group_that_is_not_there_is_not_found(client: FlaskClient) -> None:
    assert client.get("/demand/no-such-group").status_code == 404


def test_the_files_hold_every_group(client: FlaskClient) -> None:
    text = client.get("/demand?format=csv&size=1").data.decode("utf-8-sig")
    listed = list(csv.DictReader(io.StringIO(text)))
    assert [row["Zones"] for row in listed] == ["3", "1"]
    assert listed[0]["Facing: material"] == "glass"


def test_the_workbook_of_a_group_has_contents_and_zones(client: FlaskClient) -> None:
    content = client.get(_first_group(client) + "?format=xlsx").data
    book = openpyxl.load_workbook(io.BytesIO(content))
    assert book.sheetnames == ["Caution", "What a test would contain", "Zones"]
    assert len(list(book["Zones"].rows)) == 4


def test_an_empty_portfolio_has_no_demand(empty_app: Flask) -> None:
    text = Page(empty_app.test_client().get("/demand").text).text("main")
    assert "no gaps to group" in text


def test_a_stray_filter_is_refused(client: FlaskClient) -> None:
    assert client.get("/demand?owner=north").status_code == 400


def test_as_many_queries_for_many_groups_as_for_few(
    client: FlaskClient, empty_app: Flask, database_url: str
) -> None:
    with counted(empty_app) as few:
        client.get("/demand")
    with filling(database_url) as portfolio:
        building = portfolio.building(portfolio.organisation())
        for facing in ("timber", "terracotta", "fibre-cement", "grc-panel"):
            portfolio.zone(building, wall=wall(facing__material=facing))
    with counted(empty_app) as many:
        client.get("/demand")
    assert len(many) == len(few)

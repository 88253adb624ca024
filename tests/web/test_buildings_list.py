"""The list of buildings: finding, filtering, sorting, paging, taking away."""

import csv
import io

import openpyxl
import pytest
from flask import Flask
from flask.testing import FlaskClient

from portfolio.services.building_list import ORDERS
from portfolio.web.buildings_list import HEADERS, ORDER_OPTIONS
from tests.web.portfolios import filling
from tests.web.queries import counted
from tests.web.reading import Page, rows

HOSTILE = '<script>alert("x")</script>'


def _refs(client: FlaskClient, query: str = "") -> list[str]:
    return [row[0].split()[0] for row in rows(client.get(f"/buildings{query}").text)]


def test_what_comes_first_stands_first_and_no_gap_last(client: FlaskClient) -> None:
    assert _refs(client) == ["TALL", "LOW", "EMPTY"]


@pytest.mark.parametrize(
    ("query", "kept"),
    [
        ("?text=tall", ["TALL"]),
        ("?text=HOUSE+low", ["LOW"]),  # every word, in any order, capitals or not
        ("?text=%25", []),  # no wild cards
        ("?coverage=contradicted", ["TALL"]),
        ("?coverage=contradicted-by-inference", []),
        ("?coverage=too-little-known", ["LOW", "EMPTY"]),
        ("?height_band=30", ["TALL"]),
        ("?height_band=not-recorded", ["EMPTY"]),
        ("?height_band=either-side-of-11", []),  # 10.2 m, 0.5 m either way where nobody says
        ("?height_band=either-side-of-30", []),
        ("?owner=south", ["EMPTY"]),
        ("?use=office", ["LOW"]),
        ("?use=not-recorded", ["EMPTY"]),
        ("?jurisdiction=England", ["TALL", "LOW"]),
        ("?jurisdiction=not-recorded", ["EMPTY"]),
        ("?evacuation=not-recorded", ["EMPTY"]),
        ("?owner=north&use=flats&text=", ["TALL"]),
        ("?order=ref", ["EMPTY", "LOW", "TALL"]),
        ("?order=height", ["EMPTY", "TALL", "LOW"]),  # unknown first
        ("?order=gaps", ["LOW", "TALL", "EMPTY"]),
        ("?order=name", ["EMPTY", "LOW", "TALL"]),
    ],
)
def test_filters_and_orders_keep_what_they_say(
    client: FlaskClient, query: str, kept: list[str]
) -> None:
    assert _refs(client, query) == kept


def test_every_order_that_is_offered_exists() -> None:
    assert [value for value, _ in ORDER_OPTIONS] == list(ORDERS)


@pytest.mark.parametrize(
    ("query", "told"),
    [
        ("?coverage=fine", "too-little-known"),
        ("?owner=nobody", "north, south"),
        ("?colour=red", "no such filter"),
        ("?size=201", "from 1 to 200"),
        ("?size=0", "from 1 to 200"),
        ("?page=-1", "a whole number"),
        ("?page=²", "a whole number"),
        ("?page=2", "the list has 1"),
        ("?format=pdf", "xlsx or csv"),
        ("?text=" + "x" * 201, "up to 200 characters"),
    ],
)
def test_what_is_not_understood_is_refused_and_said(
    client: FlaskClient, query: str, told: str
) -> None:
    answer = client.get(f"/buildings{query}")
    assert answer.status_code == 400
    assert told in Page(answer.text).text("main")


def test_all_that_is_wrong_is_said_at_once(client: FlaskClient) -> None:
    text = Page(client.get("/buildings?coverage=fine&use=barn&colour=red").text).text("main")
    assert "3 things are wrong" in text


def test_the_largest_page_is_still_given(client: FlaskClient) -> None:
    assert client.get("/buildings?size=200").status_code == 200


def test_a_list_that_is_only_part_says_so(client: FlaskClient) -> None:
    page = Page(client.get("/buildings?use=office&text=low").text)
    assert "Only a part is shown. Words: “low”; Use: offices." in page.text()


def test_a_filter_that_keeps_nothing_says_so(client: FlaskClient) -> None:
    assert "No building matches" in Page(client.get("/buildings?text=nowhere").text).text()


def test_what_nobody_recorded_is_said_and_estimates_are_marked(client: FlaskClient) -> None:
    tall, _, empty = rows(client.get("/buildings").text)
    assert tall[6] == "24 est."
    assert empty[4:6] == ["not recorded", "not recorded"]


def test_names_from_a_workbook_cannot_run_in_the_page(app: Flask, database_url: str) -> None:
    with filling(database_url) as portfolio:
        owner = portfolio.organisation(ref="x&y", name=HOSTILE)
        building = portfolio.building(owner, name=HOSTILE, jurisdiction=HOSTILE)
        portfolio.zone(building, ref='"><b>', description=HOSTILE)
    client = app.test_client()
    for address in ("/", "/buildings", "/gaps", "/demand", f"/buildings?text={HOSTILE}"):
        markup = client.get(address).text
        assert "<script>" not in markup, address
        assert "<b>" not in markup, address
    assert "&lt;script&gt;" in client.get("/buildings").text


def test_paging_goes_through_all_buildings_once(app: Flask, database_url: str) -> None:
    with filling(database_url) as portfolio:
        owner = portfolio.organisation()
        for _ in range(7):
            portfolio.building(owner)
    client = app.test_client()
    seen = [ref for page in (1, 2, 3, 4) for ref in _refs(client, f"?size=3&page={page}")]
    assert len(seen) == len(set(seen)) == 10


def test_links_to_other_pages_keep_the_filters(app: Flask) -> None:
    links = Page(app.test_client().get("/buildings?size=1&jurisdiction=England").text).all("a")
    nexts = [link["href"] for link in links if link.get("rel") == "next"]
    assert nexts[0] == "?size=1&jurisdiction=England&page=2"


def test_the_files_hold_the_whole_filtered_list(client: FlaskClient) -> None:
    query = "/buildings?jurisdiction=England&size=1&format="
    book = openpyxl.load_workbook(io.BytesIO(client.get(query + "xlsx").data))
    sheet = list(book["Buildings"].values)
    text = client.get(query + "csv").data.decode("utf-8-sig")
    listed = list(csv.reader(io.StringIO(text)))
    assert list(sheet[0]) == listed[0] == list(HEADERS)
    assert [row[1] for row in sheet[1:]] == [row[1] for row in listed[1:]] == ["TALL", "LOW"]


def test_the_files_are_offered_with_the_filters_of_the_page(client: FlaskClient) -> None:
    links = Page(client.get("/buildings?use=flats").text).all("a")
    offered = [link["href"] for link in links if "download" in link]
    assert offered == ["?use=flats&format=xlsx", "?use=flats&format=csv"]


def test_a_name_that_looks_like_a_formula_stays_text(app: Flask, database_url: str) -> None:
    with filling(database_url) as portfolio:
        portfolio.building(portfolio.organisation(), ref="F", name="=1+1")
    content = app.test_client().get("/buildings?text=%3D1&format=xlsx").data
    [row] = list(openpyxl.load_workbook(io.BytesIO(content))["Buildings"].rows)[1:]
    assert (row[2].value, row[2].data_type) == ("=1+1", "s")


def test_as_many_queries_for_many_buildings_as_for_few(app: Flask, database_url: str) -> None:
    client = app.test_client()
    with counted(app) as few:
        client.get("/buildings")
    with filling(database_url) as portfolio:
        for _ in range(10):
            portfolio.zone(portfolio.building(portfolio.organisation()))
    with counted(app) as many:
        client.get("/buildings")
    assert len(many) == len(few) <= 6

"""The list of gaps: in order, each with its reasons, and the order itself for all to see."""

import csv
import io

import openpyxl
import pytest
from flask import Flask
from flask.testing import FlaskClient

from portfolio.reference.loader import load_reference
from tests.web.portfolios import Portfolio, filling
from tests.web.queries import counted
from tests.web.reading import Page, rows


def _listed(client: FlaskClient, query: str = "") -> list[list[str]]:
    """The rows of the list, without those of the order below it."""
    return [row for row in rows(client.get(f"/gaps{query}").text) if len(row) > 4]


def _zones(client: FlaskClient, query: str = "") -> list[str]:
    return [row[3].split()[0] for row in _listed(client, query)]


def test_gaps_stand_in_their_order_and_covered_zones_are_left_out(client: FlaskClient) -> None:
    assert _zones(client) == ["AGAINST", "UNKNOWN", "NOTHING", "ASSESS"]


@pytest.mark.parametrize(
    ("query", "kept"),
    [
        ("?coverage=contradicted", ["AGAINST"]),
        ("?coverage=contradicted-by-inference", []),
        ("?coverage=to-assess", ["ASSESS"]),
        ("?coverage=covered", ["COVERED"]),
        ("?coverage=all", ["AGAINST", "UNKNOWN", "NOTHING", "ASSESS", "COVERED"]),
        ("?height_band=30", ["AGAINST", "ASSESS"]),
        ("?owner=south", []),
        ("?text=glass", ["NOTHING"]),
        ("?text=tall&size=1&page=2", ["ASSESS"]),
    ],
)
def test_filters_keep_what_they_say(client: FlaskClient, query: str, kept: list[str]) -> None:
    assert _zones(client, query) == kept


def test_a_place_counts_among_all_gaps_whatever_the_filter(client: FlaskClient) -> None:
    assert _listed(client, "?coverage=to-assess")[0][0] == "4"


def test_a_covered_zone_has_no_place(client: FlaskClient) -> None:
    assert _listed(client, "?coverage=covered")[0][0] == "no gap"


def test_a_list_with_covered_zones_is_not_called_gaps(client: FlaskClient) -> None:
    assert Page(client.get("/gaps?coverage=all").text).text("h1") == "Zones, covered ones too"


def test_each_gap_shows_a_reason_for_every_step(client: FlaskClient) -> None:
    steps = load_reference().order.steps
    for row in _listed(client):
        assert all(row[4 : 4 + len(steps)])


def test_what_is_unknown_says_that_it_is_placed_with_the_worst(client: FlaskClient) -> None:
    assert _listed(client)[0][8] == "unknown, so placed with the worst"


def test_what_differs_is_said_in_the_words_of_the_trade(client: FlaskClient) -> None:
    [row] = _listed(client, "?coverage=to-assess")
    assert row[11] == "cavity: depth"


def test_the_whole_order_stands_on_the_page_with_where_it_comes_from(client: FlaskClient) -> None:
    reference = load_reference()
    text = Page(client.get("/gaps").text).text("section")
    assert reference.order.note in text
    assert f"version {reference.order.version}" in text
    for step in reference.order.steps:
        assert step.title in text
        assert f"ours: {step.source}" in text
        assert step.direction in text
        assert all(label in text for label in step.labels.values())


def test_nothing_found_is_no_finding(client: FlaskClient) -> None:
    assert "no finding about any wall" in Page(client.get("/gaps?text=nowhere").text).text()


def test_no_gaps_at_all_is_no_safety(empty_app: Flask) -> None:
    page = Page(empty_app.test_client().get("/gaps").text)
    assert "absence of a gap is not safety" in page.text("main")


@pytest.mark.parametrize("query", ["?coverage=fine", "?height_band=17", "?size=201", "?sort=x"])
def test_what_is_not_understood_is_refused(client: FlaskClient, query: str) -> None:
    assert client.get(f"/gaps{query}").status_code == 400


def test_the_files_hold_all_gaps_with_their_reasons(client: FlaskClient) -> None:
    book = openpyxl.load_workbook(io.BytesIO(client.get("/gaps?format=xlsx&size=1").data))
    sheet = list(book["Gaps"].values)
    text = client.get("/gaps?format=csv").data.decode("utf-8-sig")
    listed = list(csv.DictReader(io.StringIO(text)))
    assert [row[7] for row in sheet[1:]] == [row["Zone"] for row in listed]
    assert [row["Place"] for row in listed] == ["1", "2", "3", "4"]
    assert listed[0]["Reason 2: Sleeping risk"] == "people sleep here"
    assert listed[0]["Tests"] == "T-FAIL"
    assert "facing: material" in listed[1]["Not known"].split("; ")


def test_as_many_queries_for_many_gaps_as_for_few(app: Flask, database_url: str) -> None:
    client = app.test_client()
    with counted(app) as few:
        client.get("/gaps")
    with filling(database_url) as portfolio:
        _add_many(portfolio)
    with counted(app) as many:
        client.get("/gaps")
    with counted(app) as unchanged:
        client.get("/gaps")
    assert len(many) == len(few) <= 11
    assert len(unchanged) <= 8


def _add_many(portfolio: Portfolio) -> None:
    building = portfolio.building(portfolio.organisation())
    for _ in range(10):
        portfolio.zone(building, wall=None)

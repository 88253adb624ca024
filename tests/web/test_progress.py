"""The page on which one sees whether the portfolio moves."""

import csv
import io
from datetime import timedelta

import pytest
from flask import Flask

from portfolio.db.session import engine_for
from portfolio.services.renewing import renew
from tests.web.portfolios import ON, fill_one_of_each, filling


@pytest.fixture
def app(empty_app: Flask, database_url: str) -> Flask:
    with filling(database_url) as portfolio:
        fill_one_of_each(portfolio)
    return empty_app


def test_the_first_page_of_a_day_counts_it_and_the_page_shows_it_with_the_present(
    app: Flask,
) -> None:
    page = app.test_client().get("/progress")
    assert page.status_code == 200
    assert "Now" in page.text
    table = csv.DictReader(io.StringIO(app.test_client().get("/progress?format=csv").text))
    assert [row["All"] for row in table] == ["5", "5"]


def test_days_follow_each_other_and_a_measure_may_be_chosen(app: Flask, database_url: str) -> None:
    engine = engine_for(database_url)
    for days in range(3):
        renew(engine, ON + timedelta(days=days))
    engine.dispose()
    answer = app.test_client().get("/progress?format=csv&measure=buildings&use=flats")
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    assert [row["All"] for row in rows] == ["1"] * 4
    assert [row["What else changed"] for row in rows] == [""] * 4


@pytest.mark.parametrize("query", ["measure=cats", "owner=nobody", "colour=red"])
def test_what_cannot_be_chosen_is_refused_in_words(app: Flask, query: str) -> None:
    answer = app.test_client().get(f"/progress?{query}")
    assert answer.status_code == 400
    assert "filter" in answer.text


def test_a_portfolio_without_anything_says_that_this_is_no_finding(empty_app: Flask) -> None:
    assert "no finding about any wall" in empty_app.test_client().get("/progress").text


def test_every_day_stands_in_the_workbook(app: Flask) -> None:
    answer = app.test_client().get("/progress?format=xlsx")
    assert answer.status_code == 200
    assert answer.data[:2] == b"PK"

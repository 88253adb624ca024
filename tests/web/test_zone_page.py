"""The page of a zone: why it is covered or not, against which test, and what to find out."""

from datetime import date

import pytest
from flask import Flask
from flask.testing import FlaskClient

from portfolio.db import models
from portfolio.domain.evidence import Answer3, Outcome
from portfolio.domain.surveys import Basis
from portfolio.web import store
from tests.web.portfolios import ON, filling, wall
from tests.web.queries import counted
from tests.web.reading import Page, rows


def _id(app: Flask, kind: type[models.Zone | models.TestRecord], ref: str) -> int:
    with app.app_context(), store.reading() as session:
        return next(row.id for row in session.query(kind) if row.ref == ref)


def _zone(app: Flask, ref: str) -> str:
    return f"/zones/{_id(app, models.Zone, ref)}"


def _lead(markup: str) -> str:
    return markup.split('class="lead">')[1].split("</p>", maxsplit=1)[0]


@pytest.mark.parametrize(
    ("ref", "begins"),
    [
        (
            "COVERED",
            "Covered: every parameter of this wall is the same as tested in test T-PASS (rec",
        ),
        ("AGAINST", "Contradicted: test T-FAIL, which failed, had the same decisive materials"),
        ("ASSESS", "Not covered: it differs from the nearest passing test T-PASS in 1 thing"),
        ("UNKNOWN", "Not covered: nobody has surveyed this zone yet"),
        ("NOTHING", "Not covered: no test that may be used has this wall&#39;s decisive layers"),
    ],
)
def test_one_sentence_says_why(app: Flask, client: FlaskClient, ref: str, begins: str) -> None:
    page = client.get(_zone(app, ref)).get_data(as_text=True)
    assert _lead(page).startswith(begins)


def test_a_drawing_alone_is_named_as_the_reason(
    empty_app: Flask, client: FlaskClient, database_url: str
) -> None:
    with filling(database_url) as portfolio:
        owner = portfolio.organisation()
        portfolio.test(owner, ref="T-12")
        zone = portfolio.zone(portfolio.building(owner), ref="DRAWN", wall=None)
        portfolio.survey(zone, wall(), basis=Basis.DRAWING)
    lead = _lead(client.get(_zone(empty_app, "DRAWN")).get_data(as_text=True))
    assert "of which the insulation material has only been seen on a drawing" in lead


def test_covered_is_never_said_to_be_safe(app: Flask, client: FlaskClient) -> None:
    text = Page(client.get(_zone(app, "COVERED")).get_data(as_text=True)).text("main")
    assert "not a finding that anything is safe" in text


def test_differences_come_before_what_is_the_same(app: Flask, client: FlaskClient) -> None:
    markup = client.get(_zone(app, "ASSESS")).get_data(as_text=True)
    assert markup.index('id="differs"') < markup.index('id="alike"')
    assert rows(markup.split('id="differs"')[1])[0][0] == "cavity: depth ≠ differs"


def test_a_value_names_the_survey_it_comes_from(app: Flask, client: FlaskClient) -> None:
    markup = client.get(_zone(app, "ASSESS")).get_data(as_text=True)
    row = rows(markup.split('id="differs"')[1])[0]
    assert "80 mm" in row[1]
    assert "opening-up, 2026-03-01, survey S" in row[1]


def test_another_test_can_be_chosen(app: Flask, client: FlaskClient) -> None:
    failing = _id(app, models.TestRecord, "T-FAIL")
    markup = client.get(f"{_zone(app, 'COVERED')}?test={failing}").get_data(as_text=True)
    assert "Compared with test T-FAIL" in markup


@pytest.mark.parametrize("query", ["?test=99999", "?test=999999999"])
def test_a_test_that_is_not_there_is_not_found(app: Flask, client: FlaskClient, query: str) -> None:
    assert client.get(_zone(app, "COVERED") + query).status_code == 404


@pytest.mark.parametrize("query", ["?test=x", "?test=-1", "?format=pdf"])
def test_nonsense_in_the_address_is_refused(app: Flask, client: FlaskClient, query: str) -> None:
    assert client.get(_zone(app, "COVERED") + query).status_code == 400


def test_the_comparison_can_be_had_as_a_file(app: Flask, client: FlaskClient) -> None:
    answer = client.get(f"{_zone(app, 'ASSESS')}?format=csv")
    lines = answer.get_data(as_text=True).splitlines()
    assert lines[1].startswith("TALL,ASSESS,T-PASS,cavity: depth,80 mm,50 mm,differs")


def test_words_of_a_survey_are_escaped(
    empty_app: Flask, client: FlaskClient, database_url: str
) -> None:
    hostile = "<script>alert(1)</script>"
    with filling(database_url) as portfolio:
        owner = portfolio.organisation()
        zone = portfolio.zone(portfolio.building(owner, name=hostile), ref="H", wall=None)
        portfolio.survey(zone, wall(facing__product=hostile), source=hostile)
    markup = client.get(_zone(empty_app, "H")).get_data(as_text=True)
    assert "<script>" not in markup
    assert "&lt;script&gt;" in markup


def test_a_zone_is_found_with_few_statements_however_many_there_are(
    app: Flask, client: FlaskClient, database_url: str
) -> None:
    with filling(database_url) as portfolio:
        owner = portfolio.organisation()
        building = portfolio.building(owner)
        for _ in range(30):
            portfolio.zone(building)
            portfolio.test(owner)
    with counted(app) as statements:
        client.get(_zone(app, "COVERED"))
    # one of them reads the rules of the owner's engineers, two the failing tests that may be close,
    # and five place all gaps: not again as long as nothing changes
    assert len(statements) <= 25
    with counted(app) as statements:
        client.get(_zone(app, "COVERED"))
    assert len(statements) <= 21


def test_conflicting_claims_stand_side_by_side(
    empty_app: Flask, client: FlaskClient, database_url: str
) -> None:
    with filling(database_url) as portfolio:
        owner = portfolio.organisation()
        zone = portfolio.zone(portfolio.building(owner), ref="C", wall=None)
        portfolio.survey(zone, wall(), ref="S1", on=date(2025, 1, 5))
        portfolio.survey(zone, wall(insulation__material="pir-foam"), ref="S2", on=ON)
    markup = client.get(_zone(empty_app, "C")).get_data(as_text=True)
    row = next(row for row in rows(markup) if row[0].startswith("insulation: material"))
    assert row[1].startswith("PIR foam survey S2")
    assert row[2].startswith("stone wool survey S1")


def test_a_failing_test_that_one_thing_alone_keeps_away_is_said_near_the_top(
    empty_app: Flask, client: FlaskClient, database_url: str
) -> None:
    worse = wall(facing__core_category="3", facing__calorific_value="44")
    failed = {"external_spread": Answer3.NOT_MET, "printed_outcome": Outcome.FAILED}
    with filling(database_url) as portfolio:
        owner = portfolio.organisation()
        for number in range(5):
            portfolio.test(owner, ref=f"T-F{number}", build_up=worse, **failed)
        portfolio.zone(portfolio.building(owner), ref="NEAR")
    page = client.get(_zone(empty_app, "NEAR")).get_data(as_text=True)
    close = page.split("A wall that failed is close")[1].split("</section>")[0]
    assert close.count("one thing alone keeps this wall from it: the facing core category") == 5
    assert "2 more failing tests as close" in close
    assert "changes nothing in the coverage" in close
    assert page.index("A wall that failed is close") < page.index('id="comparison"')

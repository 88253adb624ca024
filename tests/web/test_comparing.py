"""The page that compares any zone or test with any other."""

import csv
import io
import json

import pytest
from flask import Flask
from flask.testing import FlaskClient

from portfolio.db import models
from portfolio.db.documents import Document, DocumentSupport
from portfolio.domain.documents import DocumentKind, FactKind, SeenBy
from portfolio.domain.surveys import Basis
from portfolio.web import store
from tests.web.portfolios import ON, filling, wall
from tests.web.queries import counted
from tests.web.reading import Page, rows

MOST_STATEMENTS = 30


def _named(app: Flask, name: str) -> str:
    """The name in addresses of a zone or test by its reference."""
    kind, row = ("test", models.TestRecord) if name.startswith("T-") else ("zone", models.Zone)
    with app.app_context(), store.reading() as session:
        found = session.query(row).filter_by(ref=name).one()
        return f"{kind}-{found.id}"


def _address(app: Flask, left: str, right: str) -> str:
    return f"/compare?left={_named(app, left)}&right={_named(app, right)}"


def _page(app: Flask, left: str, right: str) -> str:
    answer = app.test_client().get(_address(app, left, right))
    assert answer.status_code == 200
    return answer.get_data(as_text=True)


def _lead(markup: str) -> str:
    return markup.split('class="lead">')[1].split("</p>", maxsplit=1)[0]


def test_zone_and_zone_are_counted_in_a_sentence_and_never_called_covered(app: Flask) -> None:
    markup = _page(app, "COVERED", "ASSESS")
    assert _lead(markup).startswith("The same in ")
    assert _lead(markup).endswith("differing in 1, of which none decisive; nothing unknown.")
    assert "overed" not in Page(markup).text("main").replace("COVERED", "")


def test_differences_come_first_with_both_values_and_where_they_come_from(app: Flask) -> None:
    markup = _page(app, "ASSESS", "COVERED")
    first = rows(markup.split('id="differs"')[1])[0]
    assert first[0].startswith("cavity: depth")
    assert first[1].startswith("80 mm opening-up, 2026-03-01, survey S")
    assert first[2].startswith("50 mm opening-up, 2026-03-01, survey S")
    assert markup.index('id="differs"') < markup.index('id="same"')


def test_test_and_test_name_their_records(app: Flask) -> None:
    first = rows(_page(app, "T-PASS", "T-FAIL").split('id="differs"')[1])[0]
    assert "the record of test T-PASS" in first[1]
    assert "the record of test T-FAIL" in first[2]


@pytest.mark.parametrize(("left", "right"), [("COVERED", "T-PASS"), ("T-PASS", "COVERED")])
def test_a_zone_beside_a_test_is_told_what_the_test_says_of_it(
    app: Flask, left: str, right: str
) -> None:
    assert "of this zone, its gates included: covers this wall" in Page(
        _page(app, left, right)
    ).text("main")


def test_both_walls_are_drawn_and_told_apart(app: Flask) -> None:
    markup = _page(app, "COVERED", "ASSESS")
    assert "Wall sections: Zone COVERED of Tall House, as far as known above" in markup


def test_a_rule_is_named_with_its_source(empty_app: Flask, database_url: str) -> None:
    with filling(database_url) as portfolio:
        building = portfolio.building(portfolio.organisation())
        portfolio.zone(building, ref="A")
        portfolio.zone(building, ref="B", wall=wall(cavity__depth="52"))
    [row] = rows(_page(empty_app, "A", "B").split('id="allowed"')[1].split('id="same"')[0])
    assert "allowed by rule" in row[0]


def test_a_drawing_on_either_side_leaves_the_answer_open(
    empty_app: Flask, database_url: str
) -> None:
    with filling(database_url) as portfolio:
        building = portfolio.building(portfolio.organisation())
        portfolio.zone(building, ref="OPENED")
        drawn = portfolio.zone(building, ref="DRAWN", wall=None)
        portfolio.survey(drawn, wall(), basis=Basis.DRAWING)
    for pair in (("OPENED", "DRAWN"), ("DRAWN", "OPENED")):
        first = rows(_page(empty_app, *pair).split('id="unknown"')[1])[0]
        assert first[0].startswith("insulation: material (decisive)")
        assert "not enough to lean on" in " ".join(first)


def test_a_document_stands_beside_the_values_of_the_layer_that_it_supports(
    app: Flask, database_url: str
) -> None:
    with filling(database_url) as portfolio:
        session = portfolio.session
        zone = session.query(models.Zone).filter_by(ref="ASSESS").one()
        survey = session.query(models.Survey).filter_by(zone_id=zone.id).one()
        roles = [layer["role"] for layer in survey.build_up["layers"]]
        support = DocumentSupport(
            fact=FactKind.SURVEY,
            fact_id=survey.id,
            layer=roles.index("cavity") + 1,
            building_id=zone.building_id,
            zone_id=zone.id,
            added_by="A. Person",
            added_on=ON,
        )
        document = Document(
            organisation_id=zone.building.organisation_id,
            sha256="0" * 64,
            size=1,
            media="application/pdf",
            file_name="opening.pdf",
            kind=DocumentKind.PHOTOGRAPH,
            reference="PHOTO-7",
            seen_by=SeenBy.WITH_FACT,
            added_by="A. Person",
            added_on=ON,
            supports=[support],
        )
        session.add(document)
    found = rows(_page(app, "ASSESS", "COVERED").split('id="differs"')[1])
    [backed] = [row for row in found if "PHOTO-7" in " ".join(row) and "depth" in row[0]]
    assert "PHOTO-7" in backed[1]
    assert not [row for row in found if "PHOTO-7" in " ".join(row) and "cavity" not in row[0]]


def test_the_page_of_a_zone_and_of_a_test_ask_with_what_to_compare(app: Flask) -> None:
    for name in ("COVERED", "T-PASS"):
        kind, _, number = _named(app, name).partition("-")
        markup = app.test_client().get(f"/{kind}s/{number}").get_data(as_text=True)
        assert f'name="left" value="{kind}-{number}"' in markup


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("T-FAIL", "T-FAIL"), ("test:T-FAIL", "T-FAIL"), (" LOW/NOTHING ", "NOTHING")],
)
def test_a_reference_leads_to_the_comparison(app: Flask, typed: str, meant: str) -> None:
    left = _named(app, "COVERED")
    answer = app.test_client().get("/compare", query_string={"left": left, "with": typed})
    assert answer.status_code == 302
    assert answer.location == f"/compare?left={left}&right={_named(app, meant)}"


@pytest.mark.parametrize("typed", ["T-NONE", "test:COVERED", "LOW/COVERED", "a/b/c", "%"])
def test_a_reference_of_nothing_is_asked_for_again(app: Flask, typed: str) -> None:
    left = _named(app, "COVERED")
    answer = app.test_client().get("/compare", query_string={"left": left, "with": typed})
    assert answer.status_code == 404
    assert "Nothing of this reference is here" in answer.get_data(as_text=True)


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("name", ["zone-999999", "test-999999"])
def test_what_is_not_there_is_not_found(app: Flask, side: str, name: str) -> None:
    other = "right" if side == "left" else "left"
    query = {side: name, other: _named(app, "COVERED")}
    assert app.test_client().get("/compare", query_string=query).status_code == 404


@pytest.mark.parametrize(
    "query", ["left=zone-x&right=test-1", "left=building-1", "left=zone-1&format=pdf"]
)
def test_nonsense_in_the_address_is_refused(client: FlaskClient, query: str) -> None:
    assert client.get(f"/compare?{query}").status_code == 400


def test_the_files_hold_what_the_page_holds(app: Flask, client: FlaskClient) -> None:
    address = _address(app, "ASSESS", "COVERED")
    answer = json.loads(client.get(f"{address}&format=json").get_data(as_text=True))
    assert (answer["left"], answer["right"]) == ("TALL/ASSESS", "TALL/COVERED")
    first = answer["comparisons"][0]
    assert first["parameter"] == "cavity.1.depth"
    assert (first["left_value"], first["right_value"]) == ("80 mm", "50 mm")
    assert (first["answer"], first["decisive"], first["rule"]) == ("differs", False, "")
    listed = client.get(f"{address}&format=csv").get_data(as_text=True).lstrip("\ufeff")
    table = list(csv.reader(io.StringIO(listed)))
    assert table[1][:6] == ["TALL/ASSESS", "TALL/COVERED", "cavity: depth", "80 mm", "50 mm"] + [
        "differs"
    ]
    assert len(table) - 1 == len(answer["comparisons"])
    assert client.get(f"{address}&format=xlsx").get_data().startswith(b"PK")


def test_it_is_found_with_few_statements_however_many_things_there_are(
    app: Flask, client: FlaskClient, database_url: str
) -> None:
    with filling(database_url) as portfolio:
        building = portfolio.building(portfolio.organisation())
        for _ in range(30):
            portfolio.zone(building)
            portfolio.test(building.organisation)
    for pair in (("COVERED", "ASSESS"), ("COVERED", "T-PASS"), ("T-PASS", "T-FAIL")):
        with counted(app) as statements:
            client.get(_address(app, *pair))
        assert len(statements) <= MOST_STATEMENTS, pair

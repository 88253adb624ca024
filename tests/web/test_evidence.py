"""The list of tests and the page of one: outcome, gates, and who leans on it."""

import pytest
import sqlalchemy as sa
from flask import Flask
from flask.testing import FlaskClient

from portfolio.db import models
from portfolio.domain.evidence import Answer3, Consent, Outcome
from portfolio.services.viewer import Viewer
from portfolio.web import store
from tests.web.portfolios import filling
from tests.web.queries import counted
from tests.web.reading import Page, rows


def _refs(markup: str) -> list[str]:
    return [row[0].split()[0] for row in rows(markup)]


def _address(app: Flask, ref: str) -> str:
    with app.app_context(), store.reading() as session:
        found = session.scalars(sa.select(models.TestRecord).filter_by(ref=ref)).one()
    return f"/tests/{found.id}"


def test_covering_contradicting_and_near_zones_are_counted_apart(
    app: Flask, client: FlaskClient
) -> None:
    found = {row[0].split()[0]: row[6:10] for row in rows(client.get("/evidence").text)}
    assert found == {"T-PASS": ["1", "0", "0", "2"], "T-FAIL": ["0", "1", "0", "0"]}


@pytest.mark.parametrize(
    ("query", "expected"),
    [
        ("?outcome=failed", ["T-FAIL"]),
        ("?outcome=passed", ["T-PASS"]),
        ("?leaning=against", ["T-FAIL"]),
        ("?text=t-p", ["T-PASS"]),
        ("?standing=withdrawn", []),
        ("?sort=outcome", ["T-FAIL", "T-PASS"]),
        ("?sort=leaning", ["T-FAIL", "T-PASS"]),
        ("?size=1&page=2", ["T-PASS"]),
    ],
)
def test_the_list_is_filtered_sorted_and_paged(
    app: Flask, client: FlaskClient, query: str, expected: list[str]
) -> None:
    assert _refs(client.get(f"/evidence{query}").text) == expected


@pytest.mark.parametrize("query", ["?outcome=fine", "?sort=luck", "?colour=red", "?page=9"])
def test_a_filter_that_is_not_known_is_refused(app: Flask, client: FlaskClient, query: str) -> None:
    assert client.get(f"/evidence{query}").status_code == 400


def test_the_stricter_outcome_counts_and_the_contradiction_is_shown(
    app: Flask, client: FlaskClient, database_url: str
) -> None:
    with filling(database_url) as portfolio:
        owner = portfolio.organisation()
        portfolio.test(owner, ref="T-ODD", external_spread=Answer3.NOT_MET)
    row = next(row for row in rows(client.get("/evidence").text) if row[0].startswith("T-ODD"))
    assert row[1] == "failed printed passed, by the criteria failed: the stricter counts"
    assert "they contradict each other" in client.get(_address(app, "T-ODD")).text


def test_a_printed_pass_without_criteria_is_listed_as_passed(
    app: Flask, client: FlaskClient, database_url: str
) -> None:
    with filling(database_url) as portfolio:
        owner = portfolio.organisation()
        portfolio.test(owner, ref="T-PRINT", external_spread=Answer3.UNKNOWN)
        portfolio.test(
            owner,
            ref="T-MUTE",
            external_spread=Answer3.UNKNOWN,
            printed_outcome=Outcome.NOT_TOLD,
        )
    assert "T-PRINT" in _refs(client.get("/evidence?outcome=passed").text)
    assert _refs(client.get("/evidence?outcome=not-told").text) == ["T-MUTE"]


def test_zones_lean_on_every_holders_test_of_one_reference(
    empty_app: Flask, database_url: str
) -> None:
    with filling(database_url) as portfolio:
        first, second = portfolio.organisation(name="First"), portfolio.organisation(name="Second")
        third = portfolio.organisation(name="Third")
        for owner in (first, second):
            portfolio.test(owner, ref="T-1", consent=Consent.PUBLISHED)
        portfolio.zone(portfolio.building(first))
        # one holder's test does not hide another's, whoever owns the zone
        portfolio.zone(portfolio.building(third))
        portfolio.zone(portfolio.building(third))
    found = rows(empty_app.test_client().get("/evidence").text)
    assert {row[-1]: row[6] for row in found} == {"First": "3", "Second": "3"}
    # each of them can be set beside a zone of whoever holds neither
    client = empty_app.test_client()
    tests = [f"/zones/3?test={number}" for number in (1, 2)]
    assert [client.get(address).status_code for address in tests] == [200, 200]


def test_a_viewer_sees_own_and_published_tests_and_nothing_of_a_refusal(
    app: Flask, client: FlaskClient, database_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    with filling(database_url) as portfolio:
        other = portfolio.organisation()
        portfolio.test(other, ref="T-OPEN", consent=Consent.PUBLISHED)
        portfolio.test(other, ref="T-SHUT")
        asked = portfolio.test(other, ref="T-ASKED")
        south = portfolio.session.scalars(sa.select(models.Organisation).filter_by(ref="south"))
        south_id = south.one().id
        portfolio.session.add(
            models.TestConsent(
                test_id=asked.id,
                organisation_ref="south",
                organisation_id=south_id,
                consent=Consent.REFUSED,
            )
        )
    monkeypatch.setattr(store, "viewer", lambda: Viewer("southerner", south_id))
    found = {row[0].split()[0]: row[5] for row in rows(client.get("/evidence").text)}
    assert found == {"T-OPEN": "published"}
    assert client.get(_address(app, "T-ASKED")).status_code == 404
    assert client.get(_address(app, "T-OPEN")).status_code == 200
    assert client.get(_address(app, "T-OPEN") + "/edit").status_code == 404


def test_zones_that_lean_on_a_test_are_listed_by_how(app: Flask, client: FlaskClient) -> None:
    text = Page(client.get(_address(app, "T-PASS")).text).text("main")
    assert "Zones it covers (1) TALL / COVERED" in text
    assert "It speaks against no zone of yours." in text


def test_each_gate_has_its_reason(app: Flask, client: FlaskClient) -> None:
    gates = {row[0]: row[1:3] for row in rows(client.get(_address(app, "T-FAIL")).text)}
    name = "the outcome follows from the criteria"
    assert gates[name] == ["not met", "the test did not meet its criteria"]
    assert gates["this route is accepted here in: not recorded"][0] == "unknown"


def test_the_list_costs_the_same_however_many_zones_lean(
    app: Flask, client: FlaskClient, database_url: str
) -> None:
    with filling(database_url) as portfolio:
        building = portfolio.building(portfolio.organisation())
        for _ in range(20):
            portfolio.zone(building)
    with counted(app) as statements:
        client.get("/evidence")
    assert len(statements) <= 4


def test_the_list_can_be_had_whole_as_a_file(app: Flask, client: FlaskClient) -> None:
    lines = client.get("/evidence?format=csv&size=1").text.splitlines()
    assert [line.split(",")[0] for line in lines[1:]] == ["T-FAIL", "T-PASS"]

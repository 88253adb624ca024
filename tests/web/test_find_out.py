"""What would settle a zone, on its page, and what to find out over the portfolio."""

import csv
import io
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from portfolio.db import models
from portfolio.domain.evidence import Answer3, Consent, Outcome
from portfolio.domain.surveys import Basis
from portfolio.services import coverage
from portfolio.web import store
from tests.web.portfolios import ON, WALL, Portfolio, filling, wall
from tests.web.queries import counted
from tests.web.reading import Page, rows

MOST_STATEMENTS = 12


def _without(role: str, key: str) -> dict[str, Any]:
    """The tested wall, one thing of it unsaid."""
    layers = [
        {k: v for k, v in layer.items() if (layer["role"], k) != (role, key)}
        for layer in WALL["layers"]
    ]
    return {**WALL, "layers": layers}


@contextmanager
def _half_known(database_url: str) -> Iterator[Portfolio]:
    """Two zones whose cavity nobody measured, in two buildings, and one seen on a drawing too."""
    with filling(database_url) as portfolio:
        owner = portfolio.organisation(ref="north")
        portfolio.test(owner, ref="T-PASS")
        failing = {"external_spread": Answer3.NOT_MET, "printed_outcome": Outcome.FAILED}
        foam = wall(insulation__material="pir-foam", insulation__class="E")
        portfolio.test(owner, ref="T-FAIL", build_up=foam, **failing)
        for name in ("B-1", "B-2"):
            building = portfolio.building(owner, ref=name)
            portfolio.zone(building, ref="CAVITY", wall=_without("cavity", "depth"))
        told = _without("insulation", "material")
        zone = portfolio.zone(building, ref="WOOL", wall=told, area_m2=None)
        portfolio.survey(zone, WALL, basis=Basis.DRAWING)
        portfolio.zone(building, ref="KNOWN")
        yield portfolio


@pytest.fixture
def half_known(empty_app: Flask, database_url: str) -> Flask:
    with _half_known(database_url):
        pass
    return empty_app


def _zone(app: Flask, building: str, ref: str) -> str:
    with app.app_context(), store.reading() as session:
        query = session.query(models.Zone).join(models.Building)
        found = query.filter(models.Building.ref == building, models.Zone.ref == ref).one()
        return f"/zones/{found.id}"


def _settling(markup: str) -> str:
    return markup.split('id="settling"')[1].split('id="comparison"', maxsplit=1)[0]


@pytest.mark.parametrize("query", ["", "?all=1"])
def test_a_zone_says_what_would_settle_it_and_never_that_it_will(
    half_known: Flask, query: str
) -> None:
    address = _zone(half_known, "B-1", "CAVITY")
    section = _settling(half_known.test_client().get(address + query).get_data(as_text=True))
    assert rows(section) == [
        [
            "cavity: depth",
            "drawings, as-built records or a maker's certificate",
            "in the records of the building",
        ]
    ]
    assert "If found as in test T-PASS , the zone could be" in Page(section).text("caption")


def test_a_decisive_fact_found_otherwise_rules_a_test_out_and_lets_a_failing_one_speak(
    half_known: Flask,
) -> None:
    address = _zone(half_known, "B-2", "WOOL")
    client = half_known.test_client()
    link = f"{address}?otherwise=1#settling"
    assert link in _settling(client.get(address).get_data(as_text=True))
    section = _settling(client.get(link).get_data(as_text=True))
    material = [row for row in rows(section) if row[0] == "insulation: material"]
    assert material[0][1].startswith("opening up the wall")
    assert material[1][2:] == ["T-PASS", "T-FAIL"]


def test_what_is_known_well_enough_has_no_such_section(half_known: Flask) -> None:
    address = _zone(half_known, "B-2", "KNOWN")
    assert 'id="settling"' not in half_known.test_client().get(address).get_data(as_text=True)


def test_a_test_that_may_not_be_used_yet_promises_nothing(
    empty_app: Flask, database_url: str
) -> None:
    with filling(database_url) as portfolio:
        owner = portfolio.organisation()
        portfolio.test(owner, consent=Consent.ASKED)
        portfolio.zone(
            portfolio.building(owner, ref="B"), ref="Z", wall=_without("facing", "core_category")
        )
    markup = empty_app.test_client().get(_zone(empty_app, "B", "Z")).get_data(as_text=True)
    # what could be of its place among the gaps is another matter
    before = markup.split('id="find-out"')[0].split('id="place"')[0]
    assert "could be" not in before


def test_facts_are_counted_over_zones_area_and_buildings(half_known: Flask) -> None:
    answer = half_known.test_client().get("/find-out?format=csv").get_data(as_text=True)
    table = list(csv.DictReader(io.StringIO(answer.lstrip("\ufeff"))))
    found = [(row["Fact"], row["Zones with it in a smallest set"]) for row in table]
    assert found == [("cavity: depth", "2"), ("insulation: material", "1")]
    first, second = table
    assert (first["Place"], first["The only thing missing at"]) == ("1", "2")
    assert (first["Area (m²)"], first["Buildings"]) == ("200", "2")
    assert (second["Zones without area"], second["Buildings"]) == ("1", "1")
    settled = "Zones that could be settled with this and all before it"
    assert [row[settled] for row in table] == ["2", "3"]


def test_facts_are_grouped_by_the_way_to_find_them(half_known: Flask) -> None:
    markup = half_known.test_client().get("/find-out").get_data(as_text=True)
    assert "3 zones are too little known. For 3 of them" in Page(markup).text("main")
    assert markup.index('id="way-papers"') < markup.index('id="way-opening-up"')
    assert rows(markup.split('id="way-opening-up"')[1])[0][:2] == ["2", "insulation: material"]


def test_each_fact_leads_to_its_zones(half_known: Flask) -> None:
    client = half_known.test_client()
    markup = client.get("/find-out").get_data(as_text=True)
    address = "/find-out/zones?parameter=cavity.1.depth&amp;way=papers"
    assert address in markup
    found = rows(client.get(address.replace("&amp;", "&")).get_data(as_text=True))
    assert [(row[0].split()[0], row[1].split()[0], row[4]) for row in found] == [
        ("CAVITY", "B-1", "yes"),
        ("CAVITY", "B-2", "yes"),
    ]
    file = client.get(address.replace("&amp;", "&") + "&format=csv").get_data(as_text=True)
    assert file.count("CAVITY") == 2


@pytest.mark.parametrize(
    "query", ["", "?parameter=cavity.1.depth", "?parameter=x&way=papers", "?way=guessing"]
)
def test_a_fact_must_be_named_with_its_way(client: FlaskClient, query: str) -> None:
    assert client.get(f"/find-out/zones{query}").status_code == 400


def test_with_nothing_to_find_the_page_says_so(empty_app: Flask) -> None:
    markup = empty_app.test_client().get("/find-out").get_data(as_text=True)
    assert "No fact about a wall would settle a zone" in markup


def test_what_is_found_leaves_the_counts_when_its_zone_is_computed_again(
    half_known: Flask, database_url: str
) -> None:
    with filling(database_url) as portfolio:
        session = portfolio.session
        building = session.query(models.Building).filter_by(ref="B-1").one()
        [zone] = session.query(models.Zone).filter_by(building_id=building.id)
        portfolio.survey(zone, WALL)
        session.flush()
        coverage.refresh(session, ON, zone_ids=[zone.id])
    answer = half_known.test_client().get("/find-out?format=csv").get_data(as_text=True)
    [first, *_] = csv.DictReader(io.StringIO(answer.lstrip("\ufeff")))
    assert first["Zones with it in a smallest set"] == "1"


def test_it_is_counted_with_few_statements_however_many_zones_there_are(
    half_known: Flask, database_url: str
) -> None:
    with filling(database_url) as portfolio:
        building = portfolio.building(portfolio.organisation())
        for depth in range(30):
            portfolio.zone(building, wall=_without("cavity", "depth"), area_m2=float(depth))
    client = half_known.test_client()
    for page in ("/find-out", "/find-out/zones?parameter=cavity.1.depth&way=papers"):
        with counted(half_known) as statements:
            client.get(page)
        assert len(statements) <= MOST_STATEMENTS, page

"""Works on pages: statuses that need what they need, lists, figures, days."""

import io

import pytest
import sqlalchemy as sa
from flask import Flask
from flask.testing import FlaskClient

from portfolio.db.models import Building, Zone, ZoneResult
from portfolio.web import store
from tests.web.reading import rows
from tests.web.sending import send, values_of

REPLACING = {
    "ref": "W-1",
    "title": "New cladding",
    "decided": "replacement",
    "status": "identified",
    "on": "2026-01-10",
    "programme": "Fund A",
    "estimate_minor": "12,500.50",
    "due_on": "2026-02-01",
    "due_reason": "contract",
}


@pytest.fixture
def place(app: Flask) -> tuple[int, str]:
    """A building, and the reference of a zone of it."""
    with app.app_context(), store.reading() as session:
        found = session.execute(
            sa.select(Building.id, Zone.ref).join(Zone).order_by(Building.id, Zone.id)
        ).first()
        assert found is not None
        return found[0], found[1]


@pytest.fixture
def works(client: FlaskClient, place: tuple[int, str]) -> str:
    """The address of a building's works, of which there is one on one zone."""
    building, zone = place
    page = f"/buildings/{building}/works"
    answer = send(client, f"{page}/new", **REPLACING, zones=zone)
    assert answer.location == f"{page}#works-1"
    return page


def coverages(app: Flask) -> dict[int, str]:
    with app.app_context(), store.reading() as session:
        query = sa.select(ZoneResult.zone_id, ZoneResult.coverage)
        return {zone: str(coverage) for zone, coverage in session.execute(query)}


def test_works_stand_on_their_buildings_page_with_status_and_coverage_apart(
    client: FlaskClient, works: str
) -> None:
    page = client.get(works).text
    for told in ("<strong>identified</strong>", "GBP&nbsp;12,500.50", "policy date (not law)"):
        assert told in page
    assert "Coverage by tests" in page
    [line] = rows(client.get("/works").text)
    assert line[3:5] == ["replacement", "identified"]
    assert "overdue : own deadline, 1 February 2026" in " ".join(line[7].split())


def test_complete_is_refused_until_it_has_a_document_and_a_survey_of_what_was_built(
    app: Flask, client: FlaskClient, works: str, place: tuple[int, str]
) -> None:
    before = coverages(app)
    complete = {"status": "complete", "on": "2026-02-28", "built_on": "2026-02-20"}
    refused = send(client, "/works/1/status", **complete)
    assert refused.status_code == 400
    assert "No document supports the completion." in refused.text
    assert "survey of the new build-up" not in refused.text, "the zone was surveyed on 1 March"
    _paper(client, place[0], "completion:1")
    assert send(client, "/works/1/status", **complete).status_code == 302
    assert "<strong>complete</strong>" in client.get(works).text
    assert coverages(app) == before


def test_what_was_surveyed_before_it_was_built_does_not_show_what_was_built(
    app: Flask, client: FlaskClient, works: str, place: tuple[int, str]
) -> None:
    with app.app_context(), store.writing() as session:
        session.execute(sa.text("UPDATE survey SET \"on\" = '2025-12-01'"))
    _paper(client, place[0], "completion:1")
    built = {"status": "complete", "on": "2026-02-28", "built_on": "2026-02-20"}
    refused = send(client, "/works/1/status", **built)
    assert refused.status_code == 400
    assert f"No survey of the new build-up is recorded of {place[1]}." in refused.text
    assert "a survey of 2026-02-20 or later of each zone" in refused.text


def _paper(client: FlaskClient, building: int, supports: str) -> None:
    """Add a document that supports a fact of the building."""
    address = f"/buildings/{building}/documents/new"
    values = dict(values_of(client.get(address).text)) | {"supports": supports}
    file = {"file": (io.BytesIO(b"%PDF-1.7"), "paper.pdf")}
    answer = client.post(address, data=values | file, content_type="multipart/form-data")
    assert answer.status_code == 302, answer.text


def test_building_work_is_said_of_a_replacement_only(client: FlaskClient, works: str) -> None:
    send(client, "/works/1/edit", decided="survey")
    refused = send(client, "/works/1/status", status="started", on="2026-02-01")
    assert refused.status_code == 400
    assert "is said of building work" in refused.text


def test_statuses_are_kept_and_going_back_needs_a_reason(client: FlaskClient, works: str) -> None:
    send(client, "/works/1/status", status="started", on="2026-02-01")
    back = {"status": "planned", "on": "2026-02-10"}
    assert send(client, "/works/1/status", **back).status_code == 400
    send(client, "/works/1/status", **back, reason="The contractor left.")
    page = client.get(works).text
    for told in ("The contractor left.", ">started<", ">plan in place<", ">identified<"):
        assert told in page


def test_an_interim_measure_costs_its_share_of_each_month(client: FlaskClient, works: str) -> None:
    day = {"started_on": "2026-01-01", "review_on": "2026-02-15", "monthly_minor": "3100"}
    send(client, "/works/1/interim/new", measure="Patrols", **day)
    page = client.get(works).text
    # January and February whole, and one day of March's 31: 3,100 × (2 + 1/31)
    assert "GBP&nbsp;6,300" in page
    send(client, "/works/interim/1/edit", ended_on="2026-01-31", review_on="")
    assert "GBP&nbsp;3,100</td>" in client.get(works).text
    assert "No works match" in client.get("/works?due=due-soon").text


def test_an_interim_measure_without_a_review_is_refused(client: FlaskClient, works: str) -> None:
    answer = send(client, "/works/1/interim/new", measure="Patrols", started_on="2026-01-01")
    assert answer.status_code == 400
    assert "An interim measure is reviewed." in answer.text


def test_the_list_is_filtered_and_given_out(client: FlaskClient, works: str) -> None:
    for shown in ("due=overdue", "status=identified", "programme=Fund+A", "text=cladding"):
        assert len(rows(client.get(f"/works?{shown}").text)) == 1, shown
    for hidden in ("due=due-soon", "status=complete", "decided=test", "text=nothing"):
        assert "No works match" in client.get(f"/works?{hidden}").text, hidden
    assert client.get("/works?status=finished").status_code == 400
    lines = client.get("/works?format=csv").text.splitlines()
    assert len(lines) == 2
    assert ",12500.50," in lines[1]
    for address in ("/works", "/works/figures", works):
        assert client.get(f"{address}?format=xlsx").data.startswith(b"PK"), address


def test_figures_count_the_building(client: FlaskClient, works: str) -> None:
    assert rows(client.get("/works/figures").text)[0][1:6] == ["0", "0", "0", "1", "1"]


def test_two_who_change_the_same_works_see_both_versions(client: FlaskClient, works: str) -> None:
    stale = values_of(client.get("/works/1/edit").text)
    send(client, "/works/1/edit", title="First")
    answer = client.post("/works/1/edit", data=stale | {"title": "Second"})
    assert answer.status_code == 409
    assert "First" in answer.text
    assert "Second" in answer.text


def test_what_cannot_be_read_is_refused_at_its_field(
    client: FlaskClient, place: tuple[int, str]
) -> None:
    wrong = {"estimate_minor": "about 5", "zones": "nowhere", "currency": "pounds"}
    answer = send(client, f"/buildings/{place[0]}/works/new", **REPLACING | wrong)
    assert answer.status_code == 400
    assert "Give an amount of money" in answer.text
    wrong = {"zones": "nowhere", "currency": "£££"}
    answer = send(client, f"/buildings/{place[0]}/works/new", **REPLACING | wrong)
    assert "This building has no zone nowhere." in answer.text
    assert "This is no currency." in answer.text


def test_the_overview_counts_what_is_overdue_and_leads_to_it(
    client: FlaskClient, works: str
) -> None:
    page = client.get("/").text
    assert '<a href="/works?due=overdue">1</a>' in page
    assert '<a href="/works?due=due-soon">0</a>' in page

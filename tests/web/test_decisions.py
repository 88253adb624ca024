"""Decisions on pages: what they ruled on, which are to be looked at again, and how that ends."""

import io
import json

import openpyxl
import pytest
import sqlalchemy as sa
from flask import Flask
from flask.testing import FlaskClient

from portfolio.db.models import Decision, Zone
from portfolio.db.session import reading
from portfolio.web import store
from tests.web.queries import counted
from tests.web.reading import Page
from tests.web.sending import send, values_of

SAID = {
    "ruling": "Leave as it is",
    "by": "E. Example",
    "qualification": "chartered fire engineer",
    "reasons": "The cavity is deeper",
}
HOLDS = {"by": "E. Example", "qualification": "chartered fire engineer", "reason": "No odds."}
AGAIN = "A decision is to be looked at again."


@pytest.fixture
def zone(app: Flask) -> Zone:
    with app.app_context(), reading(store.engine()) as session:
        return session.scalars(sa.select(Zone).where(Zone.ref == "ASSESS")).one()


@pytest.fixture
def decision(app: Flask, client: FlaskClient, zone: Zone) -> int:
    answer = send(client, f"/zones/{zone.id}/decisions/new", **SAID)
    assert answer.status_code == 302
    with app.app_context(), reading(store.engine()) as session:
        return session.scalars(sa.select(Decision.id)).one()


def change_use(client: FlaskClient, zone: Zone, use: str = "hotel") -> None:
    send(client, f"/buildings/{zone.building_id}/edit", use=use)


def text(client: FlaskClient, address: str) -> str:
    answer = client.get(address)
    return Page(answer.get_data(as_text=True)).text("main")


def pages(zone: Zone) -> tuple[str, ...]:
    return f"/zones/{zone.id}", f"/buildings/{zone.building_id}", "/", "/decisions"


def test_the_form_shows_what_the_decision_will_rest_on(client: FlaskClient, zone: Zone) -> None:
    told = text(client, f"/zones/{zone.id}/decisions/new")
    assert "What it will rest on" in told
    assert "coverage: to assess" in told
    assert "use of the building: flats" in told


@pytest.mark.usefixtures("decision")
def test_what_changed_stands_wherever_somebody_looks(client: FlaskClient, zone: Zone) -> None:
    for page in pages(zone):
        assert "was “flats”, is “hotel”" not in text(client, page)
    change_use(client, zone)
    for page in pages(zone):
        assert "use of the building: was “flats”, is “hotel”" in text(client, page), page
    assert "1 decision is to be looked at again" in text(client, "/reopened")
    assert AGAIN in text(client, f"/zones/{zone.id}")


def test_a_confirmation_takes_the_mark_away_and_stays_beside_the_decision(
    client: FlaskClient, zone: Zone, decision: int
) -> None:
    change_use(client, zone)
    answer = send(client, f"/decisions/{decision}/confirm", **HOLDS)
    assert answer.status_code == 302
    told = text(client, f"/zones/{zone.id}")
    assert AGAIN not in told
    assert "Confirmed E. Example, chartered fire engineer, 1 March 2026: No odds." in told
    assert "Leave as it is" in told
    assert "No decision is to be looked at again." in text(client, "/decisions")
    assert "Leave as it is" in text(client, "/decisions?state=all")


@pytest.mark.parametrize("missing", ["by", "qualification", "reason"])
def test_a_confirmation_without_name_qualification_or_reason_is_refused(
    client: FlaskClient, decision: int, missing: str
) -> None:
    answer = send(client, f"/decisions/{decision}/confirm", **(HOLDS | {missing: " "}))
    assert answer.status_code == 400
    assert "Nothing has been saved" in answer.get_data(as_text=True)


def test_a_decision_past_its_last_day_needs_another_one_or_a_tick(
    client: FlaskClient, zone: Zone
) -> None:
    # the day on which it ends
    until = {"valid_until": "2026-03-01"}
    assert send(client, f"/zones/{zone.id}/decisions/new", **SAID, **until).status_code == 302
    answer = send(client, "/decisions/1/confirm", **HOLDS)
    assert answer.status_code == 400
    assert "The decision had a last day, 2026-03-01." in answer.get_data(as_text=True)
    assert send(client, "/decisions/1/confirm", **HOLDS, no_last_day="y").status_code == 302
    assert "no_last_day" not in client.get("/decisions/1/confirm").get_data(as_text=True)


@pytest.mark.parametrize("key", SAID)
def test_a_decision_in_characters_that_nobody_sees_is_refused(
    client: FlaskClient, zone: Zone, key: str
) -> None:
    answer = send(client, f"/zones/{zone.id}/decisions/new", **(SAID | {key: "\u200b\u3164"}))
    assert answer.status_code == 400
    assert "Nothing has been saved" in answer.get_data(as_text=True)


def test_nobody_confirms_what_changed_while_the_form_was_open(
    client: FlaskClient, zone: Zone, decision: int
) -> None:
    opened = client.get(f"/decisions/{decision}/confirm").get_data(as_text=True)
    seen = opened.split('name="seen"')[1].split('value="')[1].split('"')[0]
    change_use(client, zone)
    answer = send(client, f"/decisions/{decision}/confirm", **HOLDS, seen=seen)
    assert answer.status_code == 400
    assert "has changed since you opened this page" in answer.get_data(as_text=True)
    # the form now holds what is shown now
    assert send(client, f"/decisions/{decision}/confirm", **HOLDS).status_code == 302


@pytest.mark.parametrize("seen", [None, "", "0" * 16])
def test_nobody_rules_without_the_word_of_what_they_were_shown(
    client: FlaskClient, zone: Zone, decision: int, seen: str | None
) -> None:
    for address, said in (
        (f"/zones/{zone.id}/decisions/new", SAID | {"ruling": "Take it down"}),
        (f"/decisions/{decision}/confirm", HOLDS),
    ):
        values = values_of(client.get(address).get_data(as_text=True)) | said
        del values["seen"]
        answer = client.post(address, data=values if seen is None else values | {"seen": seen})
        assert answer.status_code == 400
        assert "has changed since you opened this page" in answer.get_data(as_text=True)


@pytest.mark.usefixtures("decision")
def test_the_list_is_given_out_as_a_workbook_csv_and_json(client: FlaskClient, zone: Zone) -> None:
    change_use(client, zone)
    book = openpyxl.load_workbook(io.BytesIO(client.get("/decisions?format=xlsx").data))
    assert "was “flats”, is “hotel”" in str(list(book["Decisions"].iter_rows(values_only=True)))
    assert "Leave as it is" in client.get("/decisions?format=csv").get_data(as_text=True)
    [told] = json.loads(client.get("/decisions?format=json").data)
    assert (told["zone"], told["to_review"]) == ("ASSESS", True)
    assert told["changed"][-1]["to"] == "hotel"


def test_the_list_asks_as_often_for_many_decisions_as_for_one(
    app: Flask, client: FlaskClient, zone: Zone
) -> None:
    asked = []
    for time in range(2):
        for place in range(3):
            said = SAID | {"ruling": f"Leave as it is, {time} {place}"}
            send(client, f"/zones/{zone.id}/decisions/new", **said)
        with counted(app) as statements:
            client.get("/decisions?state=all")
        asked.append(len(statements))
    assert asked[0] == asked[1]


def test_an_unknown_filter_of_the_list_is_refused(client: FlaskClient) -> None:
    assert client.get("/decisions?state=perhaps").status_code == 400


def test_the_zone_says_which_route_was_applied_and_why(client: FlaskClient, zone: Zone) -> None:
    assert "Taken as an existing wall, since nobody has said" in text(client, f"/zones/{zone.id}")
    said = {"work": "new", "work_counted_on": "2023-05-01"}
    assert send(client, f"/zones/{zone.id}/edit", **said).status_code == 302
    told = text(client, f"/zones/{zone.id}")
    assert "Taken as new work whose application counted on 2023-05-01:" in told
    assert "Kind of work new work, counted on 2023-05-01" in told
    told = text(client, f"/buildings/{zone.building_id}")
    assert "new work" in told

"""The pages of sharing and of the change log."""

import csv
import io
import re
from typing import Any

import pytest
import sqlalchemy as sa
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.datastructures import MultiDict
from werkzeug.test import TestResponse

from portfolio.db.models import Building
from portfolio.db.people import BuildingGrant
from portfolio.web import store
from tests.web.accounts import post, signed_in
from tests.web.portfolios import ON
from tests.web.reading import Page, rows
from tests.web.sending import values_of

OWNER, CONSULTANT = "administrator@north.test", "engineer@consultancy.test"


@pytest.fixture
def owner(people_app: Flask) -> FlaskClient:
    return signed_in(people_app, OWNER)


def _building(app: Flask, ref: str) -> int:
    with app.app_context(), store.reading() as session:
        return session.scalars(sa.select(Building.id).where(Building.ref == ref)).one()


def _grants(app: Flask) -> list[BuildingGrant]:
    with app.app_context(), store.reading() as session:
        return list(session.scalars(sa.select(BuildingGrant).order_by(BuildingGrant.id)))


def _send(client: FlaskClient, buildings: list[Any], **more: str) -> TestResponse:
    values = values_of(client.get("/sharing/buildings").text)
    values |= {"consultancy": "consultancy", "access": "read"} | more
    return client.post("/sharing/buildings", data=MultiDict({**values, "building": buildings}))


# --- Choosing and opening ------------------------------------------------------------------------


def test_chosen_buildings_are_opened_and_seen_by_the_consultancy(
    people_app: Flask, owner: FlaskClient
) -> None:
    tall, low = _building(people_app, "TALL"), _building(people_app, "LOW")
    consultant = signed_in(people_app, CONSULTANT)
    assert consultant.get(f"/buildings/{tall}").status_code == 404
    assert _send(owner, [tall], until_day="2026-03-31").location == "/sharing"
    assert consultant.get(f"/buildings/{tall}").status_code == 200
    assert consultant.get(f"/buildings/{low}").status_code == 404
    found = rows(consultant.get("/sharing").text)
    assert found == [["TALL Tall House", "Owner 1", "read only", "1 March 2026", "31 March 2026"]]


def test_buildings_are_found_by_words_and_stay_chosen_from_search_to_search(
    people_app: Flask, owner: FlaskClient
) -> None:
    tall = _building(people_app, "TALL")
    page = _send(owner, [tall], text="low", find="words")
    assert page.status_code == 200
    boxes = {b["id"]: "checked" in b for b in Page(page.text).all("input") if "building-" in str(b)}
    assert boxes == {f"building-{tall}": True, f"building-{_building(people_app, 'LOW')}": False}
    assert _grants(people_app) == []


def test_all_that_is_found_can_be_chosen_at_once(people_app: Flask, owner: FlaskClient) -> None:
    page = Page(_send(owner, [], text="house", find="all").text)
    ticked = [b for b in page.all("input") if b.get("name") == "building" and "checked" in b]
    assert len(ticked) == 2


def test_no_foreign_building_is_offered_or_found(owner: FlaskClient) -> None:
    assert "EMPTY" not in owner.get("/sharing/buildings").text
    assert "No building matches" in _send(owner, [], text="empty", find="words").text


def test_foreign_missing_and_senseless_buildings_answer_alike(
    people_app: Flask, owner: FlaskClient
) -> None:
    wrong = (_building(people_app, "EMPTY"), "99999", "-1", "x", "9" * 30, "")
    answers = [_send(owner, [_building(people_app, "TALL"), one]) for one in wrong]
    assert {answer.status_code for answer in answers} == {404}
    assert _grants(people_app) == []


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"consultancy": ""}, "Choose a consultancy."),
        ({"consultancy": "south"}, "Not a valid choice"),
        ({"access": "own"}, "Not a valid choice"),
        ({"from_day": ""}, "Give a date."),
        ({"until_day": "yesterday"}, "not a date"),
        ({"until_day": "2026-02-01"}, "comes before the first"),
    ],
)
def test_a_form_that_makes_no_sense_is_shown_again_with_what_was_chosen(
    people_app: Flask, owner: FlaskClient, more: dict[str, str], words: str
) -> None:
    tall = _building(people_app, "TALL")
    answer = _send(owner, [tall], **more)
    assert answer.status_code == 400
    assert words in answer.text
    assert re.search(f'id="building-{tall}"[^>]* checked', answer.text)
    assert _grants(people_app) == []


def test_nothing_chosen_opens_nothing(owner: FlaskClient) -> None:
    answer = _send(owner, [])
    assert answer.status_code == 400
    assert "Choose at least one building." in answer.text


# --- Taking back ---------------------------------------------------------------------------------


def test_what_is_taken_back_is_closed_at_once_and_stays_on_the_list(
    people_app: Flask, owner: FlaskClient
) -> None:
    tall = _building(people_app, "TALL")
    consultant = signed_in(people_app, CONSULTANT)
    _send(owner, [tall])
    assert consultant.get(f"/buildings/{tall}").status_code == 200
    post(owner, f"/sharing/buildings/{_grants(people_app)[0].id}/take-back")
    assert consultant.get(f"/buildings/{tall}").status_code == 404
    assert "No building of another organisation is open" in consultant.get("/sharing").text
    assert rows(owner.get("/sharing").text)[0][5].startswith("taken back")


def test_everything_is_taken_back_from_a_consultancy(people_app: Flask, owner: FlaskClient) -> None:
    _send(owner, [_building(people_app, "TALL"), _building(people_app, "LOW")])
    post(owner, "/sharing/consultancies/consultancy/take-back")
    assert all(grant.taken_back_at for grant in _grants(people_app))


def test_grants_of_another_owner_answer_like_missing_ones(
    people_app: Flask, owner: FlaskClient
) -> None:
    _send(owner, [_building(people_app, "TALL")])
    other = signed_in(people_app, "administrator@south.test")
    for grant_id in (_grants(people_app)[0].id, 99_999):
        assert post(other, f"/sharing/buildings/{grant_id}/take-back").status_code == 404
    assert rows(other.get("/sharing").text) == []


# --- Demand --------------------------------------------------------------------------------------


def test_demand_is_shared_previewed_and_stopped(owner: FlaskClient) -> None:
    before = Page(owner.get("/sharing/preview/laboratory").text).text("main")
    assert "sees nothing of you now" in before
    post(owner, "/sharing/demand", laboratory="laboratory", named="yes")
    page = owner.get("/sharing").text
    assert "may appear among three owners or more" in page
    assert "It sees this now" in owner.get("/sharing/preview/laboratory").text
    stop = re.search(r"/sharing/demand/\d+/stop", page)
    assert stop is not None
    post(owner, stop.group(0))
    assert "No laboratory sees your demand." in owner.get("/sharing").text


def test_the_preview_shows_no_name_address_or_exact_height(owner: FlaskClient) -> None:
    main = Page(owner.get("/sharing/preview/laboratory").text).text("table")
    assert "fewer than 3" in main
    for secret in ("Tall House", "TALL", "Owner 1", "33", "10.2"):
        assert secret not in main


def test_each_group_of_the_preview_leads_to_what_the_laboratory_sees_of_it(
    owner: FlaskClient,
) -> None:
    links = Page(owner.get("/sharing/preview/laboratory").text).all("a")
    groups = [a["href"] for a in links if a.get("href", "").startswith("/sharing/preview/")]
    assert groups
    for address in groups:
        main = Page(owner.get(address).text).text("main")
        assert "What a test would contain" in main
        assert "Wool" not in main, "products are the owner's own words"


def test_there_is_no_preview_for_what_is_no_laboratory(owner: FlaskClient) -> None:
    for ref in ("consultancy", "nobody"):
        assert owner.get(f"/sharing/preview/{ref}").status_code == 404
    assert post(owner, "/sharing/demand", laboratory="nobody").status_code == 400


def test_a_laboratory_sees_that_owners_share_and_not_which(
    people_app: Flask, owner: FlaskClient
) -> None:
    post(owner, "/sharing/demand", laboratory="laboratory", named="yes")
    page = Page(signed_in(people_app, "engineer@laboratory.test").get("/sharing").text).text("main")
    assert "fewer than 3" in page
    assert "Owner 1" not in page


# --- The change log ------------------------------------------------------------------------------


def test_the_log_shows_what_is_ones_own_only(people_app: Flask, owner: FlaskClient) -> None:
    _send(owner, [_building(people_app, "TALL")])
    main = Page(owner.get("/log").text).text("main")
    assert "grant TALL opened" in main
    for stranger in ("administrator@south.test", CONSULTANT, "engineer@laboratory.test"):
        told = Page(signed_in(people_app, stranger).get("/log").text).text("main")
        assert "TALL" not in told
        assert "north.test" not in told


def test_the_log_as_a_file_is_the_log_as_a_page(owner: FlaskClient) -> None:
    answer = owner.get("/log?subject=person&format=csv")
    table = list(csv.reader(io.StringIO(answer.data.decode("utf-8-sig"))))
    page = rows(owner.get("/log?subject=person").text)
    assert [line[0] for line in table[1:]] == [row[0] for row in page]
    assert table[0][:4] == ["Entry", "When (UTC)", "Who", "What"]
    assert len(table[1][-1]) == 64
    assert owner.get("/log?format=xlsx").data.startswith(b"PK")


@pytest.mark.parametrize(
    ("query", "status"),
    [
        ("subject=person&actor=admin&from_day=2026-01-01&until_day=31/12/2099", 200),
        ("subject=nothing", 400),
        ("from_day=soon", 400),
        ("colour=red", 400),
        ("page=7", 400),
        ("size=201", 400),
        ("format=pdf", 400),
        ("actor=%00", 200),
    ],
)
def test_the_log_ignores_nothing_that_it_is_asked(
    owner: FlaskClient, query: str, status: int
) -> None:
    assert owner.get(f"/log?{query}").status_code == status


def test_the_log_of_a_local_program_is_read_too(client: FlaskClient) -> None:
    assert client.get("/log").status_code == 200


def test_days_of_a_grant_begin_today(owner: FlaskClient) -> None:
    values = values_of(owner.get("/sharing/buildings").text)
    assert values["from_day"] == ON.isoformat()

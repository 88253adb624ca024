"""A test's standing is changed in two steps: what it would do is shown first."""

import sqlalchemy as sa
from flask import Flask
from flask.testing import FlaskClient

from portfolio.db.models import Building, TestRecord, ZoneResult
from portfolio.web import store
from tests.web.reading import Page
from tests.web.sending import values_of


def address(app: Flask) -> str:
    with app.app_context(), store.reading() as session:
        found = session.scalars(sa.select(TestRecord.id).filter_by(ref="T-PASS")).one()
    return f"/tests/{found}/standing"


def covered(app: Flask) -> int:
    with app.app_context(), store.reading() as session:
        query = sa.select(sa.func.count()).where(ZoneResult.coverage == "covered")
        return session.scalar(query) or 0


def looking(markup: str) -> list[str]:
    """Where each thing of the list is said to have been looked at."""
    actions = (form.get("action", "") for form in Page(markup).all("form"))
    return [action for action in actions if action.endswith("looked-at")]


FALLEN = {"standing": "withdrawn", "reason": "Wired wrongly", "document": "letter 4"}


def test_it_is_shown_and_then_saved(app: Flask, client: FlaskClient) -> None:
    form = address(app)
    first = client.post(form, data=values_of(client.get(form).text) | FALLEN)
    assert first.status_code == 200
    assert "covered by a test" in Page(first.text).text("section").casefold()
    assert covered(app) == 1, "showing must not save"
    second = client.post(form, data=values_of(first.text))
    assert (second.status_code, second.location) == (302, form.removesuffix("/standing"))
    assert covered(app) == 0
    page = client.get(second.location).text
    assert "Wired wrongly" in page
    assert "letter 4" in page


def test_the_zones_that_would_be_re_opened_are_named_also_where_coverage_stays(
    app: Flask, client: FlaskClient
) -> None:
    """A failing test that is disputed speaks on: its zone keeps its coverage and is re-opened."""
    with app.app_context(), store.reading() as session:
        test = session.scalars(sa.select(TestRecord.id).filter_by(ref="T-FAIL")).one()
    form = f"/tests/{test}/standing"
    disputed = FALLEN | {"standing": "disputed"}
    shown = client.post(form, data=values_of(client.get(form).text) | disputed).text
    told = Page(shown).text("section")
    assert "No coverage that you may see would change." in told
    assert "1 zone that you may see, in 1 building" in told
    assert {"TALL", "AGAINST"} <= set(told.split())


def test_packs_are_told_apart_by_number_and_hour(app: Flask, client: FlaskClient) -> None:
    form = address(app)
    with app.app_context(), store.reading() as session:
        building = session.scalars(sa.select(Building.id).filter_by(ref="TALL")).one()
    for _ in range(2):
        assert client.get(f"/buildings/{building}/pack.xlsx").status_code == 200
    shown = client.post(form, data=values_of(client.get(form).text) | FALLEN)
    for number in (1, 2):
        assert f"pack {number} of TALL" in shown.text
    client.post(form, data=values_of(shown.text))
    page = client.get(f"/buildings/{building}").text
    for listed in (client.get("/reopened").text, client.get("/").text):
        for number in (1, 2):
            assert f"pack {number} of TALL" in listed
            assert f'href="/buildings/{building}#pack-{number}"' in listed
            assert f'id="pack-{number}"' in page
        assert listed.count("made by") == 2


def test_what_is_altered_after_it_was_shown_is_shown_again(app: Flask, client: FlaskClient) -> None:
    form = address(app)
    first = client.post(form, data=values_of(client.get(form).text) | FALLEN)
    again = client.post(form, data=values_of(first.text) | {"standing": "disputed"})
    assert again.status_code == 200
    assert covered(app) == 1


def test_a_reason_is_asked_for(app: Flask, client: FlaskClient) -> None:
    form = address(app)
    answer = client.post(form, data=values_of(client.get(form).text) | FALLEN | {"reason": ""})
    assert answer.status_code == 400
    assert "Say why." in answer.text


def test_of_two_changes_the_later_one_is_shown_what_has_become_of_it(
    app: Flask, client: FlaskClient
) -> None:
    form = address(app)
    mine = client.post(form, data=values_of(client.get(form).text) | FALLEN)
    theirs = client.post(form, data=values_of(client.get(form).text) | FALLEN)
    client.post(form, data=values_of(theirs.text))
    answer = client.post(form, data=values_of(mine.text) | {"standing": "withdrawn"})
    assert answer.status_code == 409
    assert "Somebody else" in answer.text


def test_the_overview_the_zone_and_the_list_tell_it_until_it_was_looked_at(
    app: Flask, client: FlaskClient
) -> None:
    form = address(app)
    shown = client.post(form, data=values_of(client.get(form).text) | FALLEN)
    client.post(form, data=values_of(shown.text))
    assert "To look at again" in client.get("/").text
    listed = client.get("/reopened").text
    assert "TALL / COVERED" in listed
    csv = client.get("/reopened?format=csv").text
    assert "TALL / COVERED" in csv
    for action in looking(listed):
        token = values_of(client.get("/reopened").text)["csrf_token"]
        answer = client.post(action, data={"csrf_token": token, "note": "Seen"})
        assert answer.status_code == 302
    assert "To look at again" not in client.get("/").text
    assert "Seen" in client.get("/reopened?state=all").text


def test_looking_without_a_note_is_refused_in_words(app: Flask, client: FlaskClient) -> None:
    form = address(app)
    shown = client.post(form, data=values_of(client.get(form).text) | FALLEN)
    client.post(form, data=values_of(shown.text))
    page = client.get("/reopened").text
    action = looking(page)[0]
    answer = client.post(action, data={"csrf_token": values_of(page)["csrf_token"], "note": " "})
    assert answer.status_code == 400
    assert "Say what was found." in answer.text

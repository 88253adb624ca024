"""Saving what people enter: checked, logged, computed anew, and never lost."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date
from typing import Any

import pytest
import sqlalchemy as sa
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy.orm import Session

from portfolio.db import models
from portfolio.domain.evidence import Standing
from portfolio.domain.surveys import Basis
from portfolio.services.editing import Saved
from portfolio.services.viewer import Viewer
from portfolio.web import store
from portfolio.web.saving import saved_message
from tests.web.portfolios import filling, wall
from tests.web.reading import Page, rows
from tests.web.sending import send, values_of


@contextmanager
def _stored(app: Flask) -> Iterator[Session]:
    with app.app_context(), store.reading() as session:
        yield session


def _one(app: Flask, kind: Any, ref: str) -> Any:
    with _stored(app) as session:
        return session.scalars(sa.select(kind).where(kind.ref == ref)).one()


def _building(app: Flask, ref: str) -> str:
    return f"/buildings/{_one(app, models.Building, ref).id}"


def _zone(app: Flask, ref: str) -> str:
    return f"/zones/{_one(app, models.Zone, ref).id}"


def _test(app: Flask, ref: str) -> str:
    return f"/tests/{_one(app, models.TestRecord, ref).id}"


def _coverage(app: Flask, ref: str) -> str:
    with _stored(app) as session:
        query = (
            sa.select(models.ZoneResult.coverage).join(models.Zone).where(models.Zone.ref == ref)
        )
        return session.scalars(query).one().value


def _events(app: Flask, subject: str) -> list[models.Event]:
    with _stored(app) as session:
        return list(session.scalars(sa.select(models.Event).filter_by(subject=subject)))


# --- Buildings and zones -------------------------------------------------------------------------


def test_a_building_is_added_with_its_heights(app: Flask, client: FlaskClient) -> None:
    answer = send(
        client,
        "/buildings/new",
        ref="NEW",
        name="New House",
        storeys="6",
        heights__0__metres="17,4",
        heights__0__tolerance_m="0.2",
        heights__0__on="31/01/2026",
    )
    assert answer.status_code == 302
    markup = client.get(answer.location).get_data(as_text=True)
    assert ["17.4 m", "± 0.2 m", "unknown", "31 January 2026", "unknown"] in rows(markup)


def test_a_height_near_a_threshold_could_lie_on_either_side(
    app: Flask, client: FlaskClient
) -> None:
    answer = send(
        client,
        "/buildings/new",
        ref="N",
        jurisdiction="England",
        storeys="6",
        homes="12",
        heights__0__metres="18.1",
        heights__0__tolerance_m="0.3",
    )
    found = rows(client.get(answer.location).get_data(as_text=True))
    asked = next(row for row in found if "at least 18 m" in row[0])
    assert asked[1] == "could lie on either side"
    assert "to within less than 0.10 m" in asked[3]


def test_a_change_is_logged_with_what_it_was(app: Flask, client: FlaskClient) -> None:
    send(client, _building(app, "TALL") + "/edit", evacuation="simultaneous")
    event = _events(app, "building")[-1]
    assert event.changes == {"evacuation": ["stay-put", "simultaneous"]}


def test_saving_without_a_change_logs_nothing(app: Flask, client: FlaskClient) -> None:
    send(client, _building(app, "TALL") + "/edit")
    assert _events(app, "building") == []


def test_a_jurisdiction_nobody_recorded_a_route_for_takes_cover_away(
    app: Flask, client: FlaskClient
) -> None:
    answer = send(client, _building(app, "TALL") + "/edit", jurisdiction="Elsewhere")
    assert _coverage(app, "COVERED") == "too-little-known"
    text = Page(client.get(answer.location).get_data(as_text=True)).text("main")
    assert "Zone COVERED of TALL: coverage was covered by a test, is now too little known." in text


def test_what_was_entered_stays_when_it_is_refused(app: Flask, client: FlaskClient) -> None:
    answer = send(
        client, "/buildings/new", ref="", name="Ha<b>lf", storeys="six", heights__0__metres="5 ft"
    )
    assert answer.status_code == 400
    values = values_of(answer.get_data(as_text=True))
    assert (values["name"], values["storeys"]) == ("Ha<b>lf", "six")
    assert values["heights-0-metres"] == "5 ft"


def test_every_error_links_to_its_field(app: Flask, client: FlaskClient) -> None:
    answer = send(client, "/buildings/new", ref="", storeys="six", heights__0__metres="5 ft")
    page = Page(answer.get_data(as_text=True))
    fields = {attributes.get("id") for _, attributes in page.elements}
    links = [a["href"] for a in page.all("a") if a.get("href", "").startswith("#")]
    errors = [link[1:] for link in links if link != "#main"]
    assert errors == ["ref", "storeys", "heights-0-metres"]
    assert set(errors) <= fields


def test_a_reference_taken_already_is_refused(app: Flask, client: FlaskClient) -> None:
    owner = str(_one(app, models.Building, "TALL").organisation_id)
    answer = send(client, "/buildings/new", ref="TALL", owner=owner)
    assert answer.status_code == 400
    assert "has this reference already" in answer.get_data(as_text=True)


def test_a_zone_is_added_with_too_little_known(app: Flask, client: FlaskClient) -> None:
    answer = send(client, _building(app, "EMPTY") + "/zones/new", ref="Z", from_storey="1")
    assert answer.status_code == 302
    assert _coverage(app, "Z") == "too-little-known"


def test_storeys_the_wrong_way_round_are_refused(app: Flask, client: FlaskClient) -> None:
    address = _building(app, "EMPTY") + "/zones/new"
    answer = send(client, address, ref="Z", from_storey="5", to_storey="2")
    assert "The highest storey lies below the lowest, 5." in answer.get_data(as_text=True)


# --- Somebody else was faster --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("address", "mine", "theirs"),
    [
        (lambda app: _building(app, "TALL"), {"name": "Mine"}, {"name": "Theirs"}),
        (lambda app: _zone(app, "COVERED"), {"description": "Mine"}, {"description": "Theirs"}),
        (lambda app: _test(app, "T-PASS"), {"title": "Mine"}, {"title": "Theirs"}),
    ],
)
def test_both_versions_are_shown_and_neither_is_lost(
    app: Flask,
    client: FlaskClient,
    address: Callable[[Flask], str],
    mine: dict[str, str],
    theirs: dict[str, str],
) -> None:
    edit = address(app) + "/edit"
    opened = values_of(client.get(edit).get_data(as_text=True))
    send(client, edit, **theirs)
    answer = client.post(edit, data=opened | mine)
    assert answer.status_code == 409
    markup = answer.get_data(as_text=True)
    assert any(row[1:] == ["Mine", "Theirs"] for row in rows(markup))
    assert "Mine" in values_of(markup).values()
    # a second save, with both versions seen, counts
    assert client.post(edit, data=values_of(markup)).status_code == 302
    assert "Mine" in client.get(address(app)).get_data(as_text=True)


# --- Surveys -------------------------------------------------------------------------------------


def test_a_survey_changes_coverage_and_says_how(app: Flask, client: FlaskClient) -> None:
    later = {"on": "2026-03-01", "basis": "laboratory", "layers__2__thickness_mm": "50"}
    with filling_zone(app) as ref:
        answer = send(client, f"{_zone(app, ref)}/surveys/new", **later)
    text = Page(client.get(answer.location).get_data(as_text=True)).text("main")
    assert "coverage was too little known, is now covered by a test" in text
    assert _events(app, "survey")[-1].changes["basis"] == [None, "laboratory"]


@contextmanager
def filling_zone(app: Flask) -> Iterator[str]:
    """A zone of which a drawing is the only survey."""
    with app.app_context():
        url = store.engine().url.render_as_string(hide_password=False)
    with filling(url) as portfolio:
        building = portfolio.session.scalars(sa.select(models.Building).filter_by(ref="TALL")).one()
        zone = portfolio.zone(building, ref="DRAWN", wall=None)
        portfolio.survey(zone, wall(), basis=Basis.DRAWING, on=date(2020, 1, 1))
    yield "DRAWN"


def test_a_survey_begins_with_the_latest_wall(app: Flask, client: FlaskClient) -> None:
    values = values_of(client.get(_zone(app, "COVERED") + "/surveys/new").get_data(as_text=True))
    assert values["layers-1-role"] == "insulation"
    assert values["layers-1-material"] == "stone-wool"
    assert values["layers-1-thickness_mm"] == "150"
    assert values["basis"] == ""


def test_more_rows_come_without_script_and_keep_what_was_entered(
    app: Flask, client: FlaskClient
) -> None:
    address = _zone(app, "UNKNOWN") + "/surveys/new"
    answer = send(client, address, layers__0__role="facing", source="Half done", more="rows")
    values = values_of(answer.get_data(as_text=True))
    assert answer.status_code == 200
    assert (values["source"], values["layers-0-role"]) == ("Half done", "facing")
    assert "layers-8-role" in values


def test_a_layer_can_be_put_before_another(app: Flask, client: FlaskClient) -> None:
    answer = send(client, _zone(app, "COVERED") + "/surveys/new", more="2")
    values = values_of(answer.get_data(as_text=True))
    assert [values[f"layers-{i}-role"] for i in range(3)] == ["frame", "", "insulation"]


def test_a_wall_never_has_more_rows_than_there_is_room_for(app: Flask, client: FlaskClient) -> None:
    address = _zone(app, "COVERED") + "/surveys/new"
    many = {f"layers__{i}__layer_note": "x" for i in range(30)}
    values = values_of(send(client, address, **many, more="rows").get_data(as_text=True))
    assert "layers-13-role" in values
    assert "layers-14-role" not in values


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"basis": ""}, "Choose what the survey rests on."),
        ({"on": ""}, "Give a date."),
        ({"on": "03/31/2026"}, "There is no such day"),
        ({"on": "2026-03-02"}, "This day has not come yet."),
        ({"layers__1__thickness_mm": "about 100"}, "Layers, row 2, Thickness or depth (mm)"),
        ({"layers__1__material": "glass"}, "Layers, row 2, Material or type"),
        ({"layers__2__class": "A1"}, "A cavity layer has no class."),
        ({"layers__6__core_category": "3"}, "core category 3 does not go with a calorific value"),
    ],
)
def test_what_cannot_be_read_of_a_survey_is_said_where_it_stands(
    app: Flask, client: FlaskClient, changes: dict[str, str], message: str
) -> None:
    address = _zone(app, "COVERED") + "/surveys/new"
    answer = send(client, address, **({"basis": "drawing"} | changes))
    assert answer.status_code == 400
    assert message in Page(answer.get_data(as_text=True)).text("main")


def test_a_survey_that_says_nothing_is_refused(app: Flask, client: FlaskClient) -> None:
    answer = send(client, _zone(app, "UNKNOWN") + "/surveys/new", basis="drawing")
    assert "give at least one layer" in answer.get_data(as_text=True)


# --- Tests ---------------------------------------------------------------------------------------


def test_a_withdrawn_test_reopens_the_zones_that_leaned_on_it(
    app: Flask, client: FlaskClient
) -> None:
    address = _test(app, "T-PASS") + "/edit"
    refused = send(client, address, standing="withdrawn")
    assert refused.status_code == 400
    assert "The standing changes: say why." in refused.text
    answer = send(client, address, standing="withdrawn", standing_note="by its sponsor")
    assert answer.status_code == 302
    assert _coverage(app, "COVERED") != "covered"
    assert _one(app, models.TestRecord, "T-PASS").standing is Standing.WITHDRAWN
    assert _events(app, "test")[-1].changes == {
        "standing": ["live", "withdrawn"],
        "standing_note": ["", "by its sponsor"],
    }


def test_opening_and_saving_a_test_changes_nothing(app: Flask, client: FlaskClient) -> None:
    before = _one(app, models.TestRecord, "T-PASS").build_up
    send(client, _test(app, "T-PASS") + "/edit")
    assert _events(app, "test") == []
    assert _one(app, models.TestRecord, "T-PASS").build_up == before


def test_a_test_is_added_with_its_wall(app: Flask, client: FlaskClient) -> None:
    answer = send(
        client,
        "/tests/new",
        ref="T-NEW",
        leans_on="T-PASS; T-OTHER;",
        burn_through="not-applicable",
        layers__0__role="facing",
        layers__0__material="terracotta",
        layers__0__thickness_mm="20-30",
    )
    assert answer.status_code == 302
    row = _one(app, models.TestRecord, "T-NEW")
    assert row.leans_on == ["T-PASS", "T-OTHER"]
    assert row.burn_through is None
    layer = {"role": "facing", "material": "terracotta", "thickness": "20..30"}
    assert row.build_up["layers"] == [layer]


# --- Rulings -------------------------------------------------------------------------------------


def test_a_decision_never_changes_the_coverage(app: Flask, client: FlaskClient) -> None:
    said = {"ruling": "Leave as it is", "by": "E. Example", "reasons": "The cavity is deeper"}
    said["qualification"] = "chartered fire engineer"
    answer = send(client, _zone(app, "ASSESS") + "/decisions/new", **said)
    assert answer.status_code == 302
    assert _coverage(app, "ASSESS") == "to-assess"
    text = Page(client.get(answer.location).get_data(as_text=True)).text("main")
    assert "E. Example" in text
    assert "Ruled on A To be assessed" in text


def test_a_decision_names_who_decides_and_why(app: Flask, client: FlaskClient) -> None:
    answer = send(client, _zone(app, "ASSESS") + "/decisions/new", ruling="Fine")
    text = Page(answer.get_data(as_text=True)).text("main")
    assert answer.status_code == 400
    assert "Name who decides." in text
    assert "Give the engineer's qualification." in text
    assert "Give the reasons." in text


def _conflicting(app: Flask) -> None:
    with app.app_context():
        url = store.engine().url.render_as_string(hide_password=False)
    with filling(url) as portfolio:
        building = portfolio.session.scalars(sa.select(models.Building).filter_by(ref="TALL")).one()
        zone = portfolio.zone(building, ref="TORN", wall=None)
        portfolio.survey(zone, wall(), ref="S1", on=date(2025, 1, 5))
        other = wall(insulation__material="pir-foam", cavity__depth="80")
        portfolio.survey(zone, other, ref="S2", on=date(2025, 2, 1))


@pytest.mark.parametrize(("everywhere", "left"), [({}, 1), ({"everywhere": "y"}, 0)])
def test_a_settled_conflict_is_gone(
    app: Flask, client: FlaskClient, everywhere: dict[str, str], left: int
) -> None:
    _conflicting(app)
    said = {"survey_ref": "S1", "by": "E. Example", "reason": "S2 looked elsewhere"} | everywhere
    zone = _zone(app, "TORN")
    answer = send(client, f"{zone}/settle/insulation.1.material", **said)
    assert answer.status_code == 302
    markup = client.get(zone).get_data(as_text=True)
    assert markup.count("/settle/") == left
    assert ("Not covered:" in Page(markup).text("main")) == (left > 0)


def test_what_is_no_conflict_cannot_be_settled(app: Flask, client: FlaskClient) -> None:
    assert client.get(_zone(app, "COVERED") + "/settle/facing.1.material").status_code == 404


# --- Safety --------------------------------------------------------------------------------------

FORMS = (
    "/buildings/new",
    "/buildings/1/edit",
    "/buildings/1/zones/new",
    "/zones/1/edit",
    "/zones/1/surveys/new",
    "/zones/1/decisions/new",
    "/tests/new",
    "/tests/1/edit",
    "/upload",
)


@pytest.mark.parametrize("address", FORMS)
def test_no_form_is_taken_without_its_token(app: Flask, client: FlaskClient, address: str) -> None:
    assert "csrf_token" in values_of(client.get(address).get_data(as_text=True))
    assert client.post(address, data={"ref": "X"}).status_code == 400


@pytest.mark.parametrize(
    "address",
    [
        "/buildings/{building}",
        "/buildings/{building}/edit",
        "/buildings/{building}/pack.xlsx",
        "/buildings/{building}/zones/new",
        "/zones/{zone}",
        "/zones/{zone}/edit",
        "/zones/{zone}/surveys/new",
        "/zones/{zone}/decisions/new",
        "/zones/{zone}/settle/facing.1.material",
        "/tests/{test}",
        "/tests/{test}/edit",
    ],
)
def test_what_is_anothers_answers_like_what_is_not_there(
    app: Flask, client: FlaskClient, monkeypatch: pytest.MonkeyPatch, address: str
) -> None:
    with _stored(app) as session:
        south = session.scalars(sa.select(models.Organisation).filter_by(ref="south")).one().id
    ids = {
        "building": _one(app, models.Building, "TALL").id,
        "zone": _one(app, models.Zone, "COVERED").id,
        "test": _one(app, models.TestRecord, "T-PASS").id,
    }
    monkeypatch.setattr(store, "viewer", lambda: Viewer("southerner", south))
    foreign = client.get(address.format(**ids))
    missing = client.get(address.format(building=99999, zone=99999, test=99999))
    assert (foreign.status_code, missing.status_code) == (404, 404)
    assert foreign.data == missing.data


def test_another_organisations_building_cannot_be_added(
    app: Flask, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    with _stored(app) as session:
        by_ref = {row.ref: row.id for row in session.scalars(sa.select(models.Organisation))}
    monkeypatch.setattr(store, "viewer", lambda: Viewer("southerner", by_ref["south"]))
    answer = send(client, "/buildings/new", ref="MINE", owner=str(by_ref["north"]))
    assert answer.status_code == 400
    assert "Not a valid choice" in answer.get_data(as_text=True)


def test_what_to_know_of_a_thing_that_was_saved_is_told_with_it() -> None:
    assert saved_message(Saved(1, "T-1", remarks=("One.", "Two."))) == "T-1 was saved. One. Two."

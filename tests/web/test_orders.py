"""Orders of gaps on pages: listed, looked at, written, and where a gap stands in one."""

import csv
import io
from html import unescape

import pytest
import sqlalchemy as sa
from flask import Flask
from flask.testing import FlaskClient

from portfolio.db.models import Zone
from portfolio.db.orders import OrderVersion
from portfolio.reference.loader import load_reference
from portfolio.web import store
from tests.services.world_support import log_at
from tests.web.portfolios import ON
from tests.web.reading import rows
from tests.web.sending import values_of

NEW = "/orders/new"
TALL_FIRST = {"key": "tall-first", "title": "Tall first", "reason": "Invented for a test."}
ONLY_HEIGHT = {
    f"steps-{row}-place": "1" if criterion == "height-band" else ""
    for row, criterion in enumerate(
        ("coverage", "sleeping", "height-band", "evacuation", "sprinklers", "people", "homes")
    )
}
SHOWS, SAVES = "Show who would move", "Save this order"


def _shown(client: FlaskClient, address: str = NEW, **changed: str) -> str:
    """The form sent once: who would move is shown, and nothing is saved."""
    values = values_of(client.get(address).text)
    told = TALL_FIRST if address == NEW else {}
    answer = client.post(address, data=values | told | ONLY_HEIGHT | changed)
    assert answer.status_code == 200, answer.text
    return answer.text


def _saved(client: FlaskClient, address: str = NEW, **changed: str) -> str:
    """The form sent a second time as it was shown; the address of the order."""
    answer = client.post(address, data=values_of(_shown(client, address, **changed)))
    assert answer.status_code == 302, answer.text
    return answer.location


def versions(app: Flask) -> list[tuple[str, int]]:
    with app.app_context(), store.reading() as session:
        query = sa.select(OrderVersion.key, OrderVersion.version).order_by(OrderVersion.id)
        return [(row.key, row.version) for row in session.execute(query)]


def zone(app: Flask, ref: str) -> str:
    with app.app_context(), store.reading() as session:
        return f"/zones/{session.scalars(sa.select(Zone.id).where(Zone.ref == ref)).one()}"


def test_shipped_orders_are_listed_with_their_sources(client: FlaskClient) -> None:
    text = unescape(client.get("/orders").text)
    for order in load_reference().orders.values():
        assert order.title in text
        assert order.steps[0].source in text


def test_a_published_order_shows_its_table_and_which_steps_are_ours(client: FlaskClient) -> None:
    page = client.get("/orders/shipped/call-in-england-2024")
    text = unescape(page.text)
    assert "30 to 49.99 m, with more than 227 homes (one note)" in text
    assert "30 to 49.99 m, with more than 217 homes (another note)" in text
    sources = [row[-1] for row in rows(page.text)]
    assert sources[0].startswith("secondary: ")
    assert all(source.startswith("ours: ") for source in sources[1:])
    assert client.get("/orders/shipped/none").status_code == 404


def test_who_would_move_is_shown_before_an_order_is_saved(app: Flask, client: FlaskClient) -> None:
    page = _shown(client)
    assert "Not saved yet" in page
    assert SAVES in page
    assert versions(app) == []
    answer = client.post(NEW, data=values_of(page))
    assert answer.location == "/orders/1"
    assert versions(app) == [("tall-first", 1)]


def test_what_was_changed_since_it_was_shown_is_shown_again(
    app: Flask, client: FlaskClient
) -> None:
    values = values_of(_shown(client)) | {"steps-5-place": "2"}
    answer = client.post(NEW, data=values)
    assert (answer.status_code, versions(app)) == (200, [])
    assert SAVES in answer.text


def test_gaps_are_listed_by_an_own_order_and_its_page_says_why(client: FlaskClient) -> None:
    address = _saved(client)
    page = unescape(client.get(address).text)
    assert "Invented for a test." in page
    # whoever sees all organisations needs the owner to tell orders apart
    name = _csv(client, "/orders?format=csv")[-1]["Order"]
    assert name.endswith("/tall-first")
    listed = client.get(f"/gaps?order={name}")
    assert listed.status_code == 200
    assert "own: written by" in unescape(listed.text)


def test_a_further_version_is_written_over_the_latest(app: Flask, client: FlaskClient) -> None:
    first = _saved(client)
    form = client.get(f"{first}/replace").text
    assert values_of(form)["steps-2-place"] == "1"
    second = _saved(client, f"{first}/replace", **{"steps-5-place": "2", "reason": "People too."})
    assert versions(app) == [("tall-first", 1), ("tall-first", 2)]
    assert "Version 1" in client.get(second).text
    assert "replaced" in client.get(first).text
    stale = client.post(
        f"{first}/replace",
        data=values_of(form) | ONLY_HEIGHT | {"title": "Late", "reason": "Late."},
    )
    assert stale.status_code == 409


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"key": "house"}, "An order that the program ships has this key"),
        ({"steps-2-place": "x"}, "This is no place"),
        ({"steps-2-place": ""}, "No criterion has a place"),
        ({"steps-5-place": "1"}, "Two criteria have this place"),
        ({"steps-2-bands": "tall"}, "These are not all numbers"),
        ({"steps-4-place": "2", "steps-4-bands": "throughout | parts, none"}, "worst first"),
        ({"steps-0-criterion": "colour", "steps-0-place": "3"}, "no such criterion"),
        ({"title": ""}, "Give the order a title"),
    ],
)
def test_what_is_no_order_is_refused_at_its_field(
    app: Flask, client: FlaskClient, changed: dict[str, str], message: str
) -> None:
    values = values_of(client.get(NEW).text) | TALL_FIRST | ONLY_HEIGHT | changed
    answer = client.post(NEW, data=values)
    assert answer.status_code == 400
    assert message in unescape(answer.text)
    assert versions(app) == []


def test_the_zone_says_where_it_stands_and_what_would_tell_more(
    app: Flask, client: FlaskClient
) -> None:
    page = unescape(client.get(zone(app, "UNKNOWN")).text)
    assert "Its place among the gaps" in page
    assert "of 4; between" in page or "of 4; whatever is found" in page
    assert "The steps that placed it" in page
    assert "no sign of safety" in page
    other = unescape(client.get(f"{zone(app, 'UNKNOWN')}?order=victoria-guideline-15").text)
    assert "Rating by apartments in reach" in other
    assert client.get(f"{zone(app, 'UNKNOWN')}?order=none").status_code == 400


def test_a_covered_zone_has_no_place_among_the_gaps(app: Flask, client: FlaskClient) -> None:
    assert "Its place among the gaps" not in client.get(zone(app, "COVERED")).text


def test_the_range_of_a_gap_is_drawn_with_its_numbers_in_words(
    app: Flask, client: FlaskClient
) -> None:
    page = client.get(f"{zone(app, 'UNKNOWN')}?order=victoria-guideline-15").text
    assert "which could be any from" in page


def _csv(client: FlaskClient, address: str) -> list[dict[str, str]]:
    text = client.get(address).data.decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


def test_orders_places_and_ranges_are_files_too(app: Flask, client: FlaskClient) -> None:
    assert [row["Order"] for row in _csv(client, "/orders?format=csv")][0] == "house"
    steps = _csv(client, "/orders/shipped/victoria-guideline-15?format=csv")
    assert steps[0]["Status"] == "published"
    gaps = _csv(client, "/gaps?order=victoria-guideline-15&format=csv")
    assert [row["Place"] for row in gaps] == ["1", "2", "3", "4"]
    for row in gaps:
        assert int(row["Could be from"]) <= int(row["Place"]) <= int(row["Could be to"])
        assert "how many homes a cladding fire could reach" in row["Not known for certain"]
    placed = _csv(client, f"{zone(app, 'UNKNOWN')}?format=csv&table=place")
    assert placed[0]["What"] == "Place"
    assert client.get("/orders/shipped/house?format=xlsx").status_code == 200


def test_a_list_in_another_order_keeps_it_from_page_to_page(client: FlaskClient) -> None:
    listed = client.get("/gaps?order=victoria-guideline-15&size=1&page=2").text
    assert "order=victoria-guideline-15&amp;" in listed


def test_an_order_that_there_is_not_is_refused(client: FlaskClient) -> None:
    assert client.get("/gaps?order=none").status_code == 400


def test_looking_back_names_the_order_of_that_day(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    log_at(monkeypatch, ON)
    values = values_of(client.get("/buildings/1/edit").text) | {"note": "Logged."}
    assert client.post("/buildings/1/edit", data=values).status_code == 302
    _saved(client)
    page = client.get(f"/buildings/1/as-of?day={ON.isoformat()}")
    assert page.status_code == 200
    assert "tall-first</span> Tall first, version 1" in page.text

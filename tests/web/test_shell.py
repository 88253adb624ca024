"""What every page has, and what happens when something is wrong."""

from pathlib import Path

import flask
import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.exceptions import BadRequest

from portfolio.domain.caution import CAUTION
from portfolio.domain.errors import InputError, NotFoundError, Problem
from portfolio.web import config, create_app, security
from tests.web.reading import Page

# where an address has a part to fill in: something that is there
PARTS = {"building_id": "1", "zone_id": "1", "test_id": "1", "filename": "app.css"}


def _addresses(app: Flask) -> list[str]:
    """Every address that can be looked at, filled in where we know what with."""
    found = []
    for rule in app.url_map.iter_rules():
        looked_at = "GET" in (rule.methods or ()) and rule.endpoint != "static"
        if looked_at and rule.arguments <= PARTS.keys():
            values = {name: PARTS[name] for name in rule.arguments}
            with app.test_request_context():
                found.append(flask.url_for(rule.endpoint, **values))
    return found


def _pages(app: Flask) -> dict[str, Page]:
    client = app.test_client()
    answers = {address: client.get(address) for address in _addresses(app)}
    return {
        address: Page(answer.text)
        for address, answer in answers.items()
        if answer.mimetype == "text/html" and answer.status_code == 200
    }


def test_every_page_has_a_title_one_heading_and_the_caution(app: Flask) -> None:
    pages = _pages(app)
    assert {"/", "/buildings", "/gaps", "/demand"} <= pages.keys()
    for address, page in pages.items():
        assert page.text("title"), address
        assert len(page.all("h1")) == 1, address
        assert CAUTION in page.text("footer"), address


def test_no_two_pages_have_the_same_title(app: Flask) -> None:
    titles = [page.text("title") for page in _pages(app).values()]
    assert len(set(titles)) == len(titles)


def test_every_page_begins_with_a_way_past_the_navigation(app: Flask) -> None:
    for address, page in _pages(app).items():
        assert page.all("a")[0]["href"] == "#main", address


def test_every_table_that_scrolls_can_be_reached_by_keyboard_and_has_a_name(app: Flask) -> None:
    for address, page in _pages(app).items():
        named = {attributes.get("id") for _, attributes in page.elements}
        for box in page.all("div"):
            if "table-scroll" in box.get("class", ""):
                assert box["tabindex"] == "0", address
                assert box["aria-labelledby"] in named, address


def test_no_id_occurs_twice_on_a_page(app: Flask) -> None:
    for address, page in _pages(app).items():
        ids = [a["id"] for _, a in page.elements if "id" in a]
        assert sorted(set(ids)) == sorted(ids), address


def test_nothing_on_a_page_is_styled_or_scripted_inline(app: Flask) -> None:
    for address, page in _pages(app).items():
        assert not page.all("style"), address
        for _, attributes in page.elements:
            assert not [n for n in attributes if n == "style" or n.startswith("on")], address


@pytest.mark.parametrize(
    "address", ["/", "/gaps?format=csv", "/no-such-page", "/static/app.css", "/buildings?size=999"]
)
def test_every_answer_carries_the_safety_headers(client: FlaskClient, address: str) -> None:
    headers = client.get(address, buffered=True).headers
    assert {name: headers.get(name) for name in security.HEADERS} == security.HEADERS


def test_the_policy_lets_nothing_in_from_elsewhere_or_inline() -> None:
    assert "unsafe" not in security.CONTENT_SECURITY_POLICY
    assert "http" not in security.CONTENT_SECURITY_POLICY
    assert "frame-ancestors 'none'" in security.CONTENT_SECURITY_POLICY


def test_encryption_is_insisted_on_only_where_there_is_some(client: FlaskClient) -> None:
    assert "Strict-Transport-Security" not in client.get("/").headers
    secure = client.get("/", base_url="https://localhost")
    assert "Strict-Transport-Security" in secure.headers


def test_a_static_file_is_kept_long_at_its_own_hash_only(app: Flask, client: FlaskClient) -> None:
    with app.test_request_context():
        address = flask.url_for("static", filename="app.css")
    current, outdated = (
        client.get(found, buffered=True) for found in (address, "/static/app.css?v=old")
    )
    assert "immutable" in current.headers["Cache-Control"]
    assert outdated.headers["Cache-Control"] == "no-cache"


def test_what_is_missing_and_what_is_foreign_look_the_same(empty_app: Flask) -> None:
    @empty_app.get("/foreign")
    def foreign() -> str:
        raise NotFoundError("There is no such building.")

    client = empty_app.test_client()
    missing, hidden = client.get("/no-such-page"), client.get("/foreign")
    assert (missing.status_code, hidden.status_code) == (404, 404)
    assert missing.text == hidden.text


def test_every_problem_with_an_input_is_listed(empty_app: Flask) -> None:
    @empty_app.get("/wrong")
    def wrong() -> str:
        raise InputError([Problem("Too long.", row=14, column="Note"), Problem("<b>Too short.")])

    answer = empty_app.test_client().get("/wrong")
    assert answer.status_code == 400
    assert 'row 14, column "Note": Too long.' in Page(answer.text).text("main")
    assert "<b>Too" not in answer.text


def test_a_form_without_its_token_is_refused_with_a_page(empty_app: Flask) -> None:
    @empty_app.post("/change")
    def change() -> str:
        return "changed"

    answer = empty_app.test_client().post("/change")
    assert answer.status_code == 400
    assert Page(answer.text).text("h1") == "The form was not accepted"


def test_a_mistake_of_the_program_shows_nothing_of_its_inside(empty_app: Flask) -> None:
    @empty_app.get("/broken")
    def broken() -> str:
        raise RuntimeError("the secret inside")

    empty_app.testing = False
    answer = empty_app.test_client().get("/broken")
    assert answer.status_code == 500
    assert "secret inside" not in answer.text
    assert "Traceback" not in answer.text
    assert CAUTION in Page(answer.text).text("footer")


def test_too_large_an_upload_is_refused_with_the_limit(empty_app: Flask) -> None:
    @empty_app.get("/large")
    def large() -> str:
        flask.abort(413)

    answer = empty_app.test_client().get("/large")
    assert answer.status_code == 413
    assert "20 MB" in answer.text


def test_a_request_that_cannot_be_read_is_refused_with_a_page(empty_app: Flask) -> None:
    @empty_app.get("/garbled")
    def garbled() -> str:
        raise BadRequest

    answer = empty_app.test_client().get("/garbled")
    assert answer.status_code == 400
    assert len(Page(answer.text).all("h1")) == 1


def test_the_secret_is_made_once_and_is_its_owners_only(sqlite_url: str) -> None:
    first, again = config.secret_key(sqlite_url), config.secret_key(sqlite_url)
    kept = Path(sqlite_url.removeprefix("sqlite:///") + ".secret")
    assert first == again == kept.read_text("ascii")
    assert len(first) == 64
    assert kept.stat().st_mode & 0o777 == 0o600


def test_the_secret_of_the_environment_comes_first(
    sqlite_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(config.SECRET_VARIABLE, "given")
    assert create_app(sqlite_url).config["SECRET_KEY"] == "given"


def test_without_a_file_the_secret_is_new_each_time() -> None:
    assert config.secret_key("sqlite://") != config.secret_key("sqlite://")

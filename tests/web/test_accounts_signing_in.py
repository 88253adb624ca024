"""Signing in and out, as a browser meets it."""

from datetime import timedelta

import flask
import pytest
import sqlalchemy as sa
from flask import Flask
from flask.testing import FlaskClient

from portfolio.db.people import SignIn
from portfolio.domain.errors import PortfolioError
from portfolio.services.accounts.signing_in import ABSOLUTE_LIMIT, IDLE_LIMIT
from portfolio.web import accounts_guard, config, create_app, store
from portfolio.web.accounts_next import local_or_home
from tests.web.accounts import (
    OTHER_PASSWORD,
    PASSWORD,
    Clock,
    post,
    signed_in,
    try_to_sign_in,
)
from tests.web.reading import Page
from tests.web.sending import values_of

READER, EDITOR = "reader@north.test", "editor@north.test"
PARTS = {"token": "no-link", "ref": "x", "key": "x", "parameter": "x", "filename": "app.css"}


# --- Signed out -----------------------------------------------------------------------------------


def _guarded(app: Flask) -> list[tuple[str, str]]:
    """(method, address) of every route that is not public."""
    found = []
    for rule in app.url_map.iter_rules():
        if rule.endpoint in accounts_guard.PUBLIC:
            continue
        values = {name: PARTS.get(name, "1") for name in rule.arguments}
        with app.test_request_context():
            address = flask.url_for(rule.endpoint, **values)
        found += [(m, address) for m in sorted((rule.methods or set()) - {"HEAD", "OPTIONS"})]
    return found


def test_only_signing_in_joining_and_calendars_by_their_address_are_open_to_everybody() -> None:
    opened = {"static", "signing_in.sign_in", "signing_in.join", "calendars.feed"}
    assert opened == accounts_guard.PUBLIC


def test_no_route_answers_anybody_who_is_not_signed_in(people_app: Flask) -> None:
    client = people_app.test_client()
    guarded = _guarded(people_app)
    assert len(guarded) > 30
    for method, address in guarded:
        answer = client.open(address, method=method)
        if method == "GET":
            assert answer.status_code == 302, address
            assert answer.location.startswith("/sign-in"), address
        else:
            assert answer.status_code == 401, (method, address)


def test_what_does_not_exist_answers_a_stranger_like_what_does(people_app: Flask) -> None:
    client = people_app.test_client()
    there, missing = client.get("/buildings/1"), client.get("/no-such-page")
    assert there.status_code == missing.status_code == 302
    assert missing.location.startswith("/sign-in")


@pytest.mark.parametrize("header", [{"HX-Request": "true"}, {"Sec-Fetch-Dest": "empty"}])
def test_a_script_is_told_instead_of_led_to_another_page(
    people_app: Flask, header: dict[str, str]
) -> None:
    assert people_app.test_client().get("/gaps", headers=header).status_code == 401


def test_a_page_for_strangers_names_no_page_of_the_program(people_app: Flask) -> None:
    page = Page(people_app.test_client().get("/sign-in").text)
    assert page.all("nav") == []


# --- Signing in -----------------------------------------------------------------------------------


def test_the_right_password_leads_to_where_one_was_going(people_app: Flask) -> None:
    client = people_app.test_client()
    asked = client.get("/gaps?text=tall&coverage=all")
    answer = try_to_sign_in(client, READER, to=asked.location)
    assert (answer.status_code, answer.location) == (302, "/gaps?text=tall&coverage=all")
    assert client.get("/gaps").status_code == 200


def test_capitals_and_spaces_around_an_address_do_not_matter(people_app: Flask) -> None:
    assert try_to_sign_in(people_app.test_client(), " Reader@North.TEST ").status_code == 302


def test_who_is_signed_in_stands_on_every_page(people_app: Flask) -> None:
    header = Page(signed_in(people_app, READER).get("/gaps").text).text("header")
    assert "Reader" in header
    assert "Owner 1" in header
    assert "Sign out" in header


@pytest.mark.parametrize("email", [READER, "nobody@nowhere.test", "not an address", "\x01@x"])
def test_a_wrong_password_and_an_unknown_address_get_the_same_words(
    people_app: Flask, email: str
) -> None:
    answer = try_to_sign_in(people_app.test_client(), email, "quite another thing")
    assert answer.status_code == 400
    if "\x01" not in email:
        assert "The e-mail address and the password do not fit." in answer.text


def test_a_deactivated_account_gets_the_same_words(people_app: Flask) -> None:
    administrator = signed_in(people_app, "administrator@north.test")
    reader = _id(people_app, READER)
    post(administrator, f"/people/{reader}/deactivate")
    answer = try_to_sign_in(people_app.test_client(), READER)
    assert "The e-mail address and the password do not fit." in answer.text


def _id(app: Flask, email: str) -> int:
    from portfolio.db.people import Person

    with app.app_context(), store.reading() as session:
        found = session.scalars(sa.select(Person.id).where(Person.email == email))
        return found.one()


def test_each_failure_makes_the_next_attempt_wait_longer(people_app: Flask, clock: Clock) -> None:
    client = people_app.test_client()
    waits = []
    for _ in range(14):
        answer = try_to_sign_in(client, READER, "wrong")
        if answer.status_code == 429:
            waits.append(_wait_told(answer.text))
            clock.tick(seconds=waits[-1])
    assert waits == [2, 4, 8, 16, 32]


def _wait_told(markup: str) -> int:
    words = Page(markup).text("main").partition("Try again in ")[2]
    return int(words.split()[0])


def test_while_it_has_to_wait_even_the_right_password_is_refused(
    people_app: Flask, clock: Clock
) -> None:
    client = people_app.test_client()
    for _ in range(4):
        try_to_sign_in(client, READER, "wrong")
    assert try_to_sign_in(client, READER).status_code == 429
    clock.tick(seconds=2)
    assert try_to_sign_in(client, READER).status_code == 302


def test_an_unknown_address_has_to_wait_like_a_known_one(people_app: Flask) -> None:
    client = people_app.test_client()
    for _ in range(4):
        try_to_sign_in(client, "nobody@nowhere.test", "wrong")
    assert try_to_sign_in(client, "nobody@nowhere.test", "wrong").status_code == 429


def test_guesses_from_one_address_do_not_lock_the_person_out_elsewhere(people_app: Flask) -> None:
    for _ in range(5):
        try_to_sign_in(people_app.test_client(), READER, "wrong")
    elsewhere = {"environ_base": {"REMOTE_ADDR": "203.0.113.9"}}
    assert try_to_sign_in(people_app.test_client(), READER, **elsewhere).status_code == 302


def test_a_success_forgets_the_failures_before_it(people_app: Flask) -> None:
    for _ in range(3):
        try_to_sign_in(people_app.test_client(), READER, "wrong")
        assert try_to_sign_in(people_app.test_client(), READER).status_code == 302


# --- How long it lasts ----------------------------------------------------------------------------


def test_an_idle_browser_is_signed_out(people_app: Flask, clock: Clock) -> None:
    client = signed_in(people_app, READER)
    clock.now += IDLE_LIMIT
    assert client.get("/gaps").status_code == 200
    clock.now += IDLE_LIMIT + timedelta(seconds=1)
    assert client.get("/gaps").status_code == 302


def test_a_busy_browser_is_signed_out_in_the_end(people_app: Flask, clock: Clock) -> None:
    client = signed_in(people_app, READER)
    step = timedelta(minutes=30)
    for _ in range(ABSOLUTE_LIMIT // step):
        clock.now += step
        assert client.get("/account").status_code == 200
    clock.tick(seconds=1)
    assert client.get("/account").status_code == 302


def test_being_seen_is_written_at_most_once_a_minute(people_app: Flask, clock: Clock) -> None:
    client = signed_in(people_app, READER)
    started = clock.now
    clock.tick(seconds=59)
    client.get("/log")
    assert _seen(people_app) == started.replace(tzinfo=None)
    clock.tick(seconds=2)
    client.get("/log")
    assert _seen(people_app) == clock.now.replace(tzinfo=None)


def test_a_page_is_shown_while_somebody_elses_save_takes_long(
    people_app: Flask, clock: Clock
) -> None:
    client = signed_in(people_app, READER)
    clock.tick(minutes=2)
    with people_app.app_context(), store.writing():
        assert client.get("/account").status_code == 200


def _seen(app: Flask) -> object:
    with app.app_context(), store.reading() as session:
        return session.scalars(sa.select(SignIn.seen_at)).one()


def test_signing_out_ends_this_browser_only(people_app: Flask) -> None:
    one, other = signed_in(people_app, READER), signed_in(people_app, READER)
    kept = one.get_cookie("portfolio_session")
    assert kept is not None
    post(one, "/sign-out")
    assert one.get("/gaps").status_code == 302
    assert other.get("/gaps").status_code == 200
    one.set_cookie("portfolio_session", kept.value)
    assert one.get("/gaps").status_code == 302, "the token itself is ended"


def test_signing_out_everywhere_ends_every_browser(people_app: Flask) -> None:
    one, other = signed_in(people_app, READER), signed_in(people_app, READER)
    stranger = signed_in(people_app, EDITOR)
    assert post(one, "/account/sign-out-everywhere").location == "/sign-in"
    assert one.get("/gaps").status_code == other.get("/gaps").status_code == 302
    assert stranger.get("/gaps").status_code == 200


def test_a_new_password_ends_every_browser_and_counts_at_once(people_app: Flask) -> None:
    one, other = signed_in(people_app, READER), signed_in(people_app, READER)
    answer = _change(one, present=PASSWORD)
    assert answer.location == "/sign-in"
    assert one.get("/gaps").status_code == other.get("/gaps").status_code == 302
    assert try_to_sign_in(people_app.test_client(), READER).status_code == 400
    signed_in(people_app, READER, OTHER_PASSWORD)


def _change(client: FlaskClient, **values: str) -> flask.Response:
    new = {"password": OTHER_PASSWORD, "again": OTHER_PASSWORD}
    return post(client, "/account", **(new | values))


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"present": "wrong"}, "The present password does not fit."),
        ({"present": PASSWORD, "again": "another"}, "The two are not the same."),
        ({"present": PASSWORD, "password": "short", "again": "short"}, "too short"),
        ({"present": PASSWORD, "password": "a" * 20, "again": "a" * 20}, "too few characters"),
        ({"present": PASSWORD, "password": "my reader reads", "again": "my reader reads"}, "easy"),
    ],
)
def test_a_password_is_changed_only_to_a_good_one_by_whoever_knows_it(
    people_app: Flask, values: dict[str, str], words: str
) -> None:
    client = signed_in(people_app, READER)
    answer = _change(client, **values)
    assert answer.status_code == 400
    assert words in answer.text
    assert client.get("/gaps").status_code == 200


def test_guesses_at_the_present_password_have_to_wait_too(people_app: Flask) -> None:
    client = signed_in(people_app, READER)
    for _ in range(4):
        _change(client, present="wrong")
    assert "Too many attempts" in _change(client, present=PASSWORD).text


# --- Cookies and forms ----------------------------------------------------------------------------


def _cookies(app: Flask, base: str) -> dict[str, str]:
    client = app.test_client()
    answer = try_to_sign_in(client, READER, base_url=base)
    page = client.get("/account", base_url=base)
    set_ = [*answer.headers.getlist("Set-Cookie"), *page.headers.getlist("Set-Cookie")]
    return {text.partition("=")[0]: text for text in set_}


def test_cookies_are_hidden_from_scripts_and_from_other_sites(people_app: Flask) -> None:
    found = _cookies(people_app, "http://localhost")
    assert found.keys() >= {"portfolio_session", "portfolio_forms"}
    for text in found.values():
        assert "HttpOnly" in text
        assert "SameSite=Lax" in text
        assert "Secure" not in text


def test_cookies_of_an_encrypted_page_are_only_sent_encrypted(people_app: Flask) -> None:
    for text in _cookies(people_app, "https://localhost").values():
        assert "Secure" in text


def test_settings_can_say_that_everything_is_encrypted(
    sqlite_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(config.HTTPS_VARIABLE, "1")
    answer = create_app(sqlite_url).test_client().get("/sign-in")
    assert "Secure" in answer.headers["Set-Cookie"]
    assert "Strict-Transport-Security" in answer.headers


def test_the_store_holds_no_token_of_a_cookie(people_app: Flask) -> None:
    kept = signed_in(people_app, READER).get_cookie("portfolio_session")
    assert kept is not None
    with people_app.app_context(), store.reading() as session:
        assert kept.value not in session.scalars(sa.select(SignIn.token_hash)).all()


def test_the_session_of_before_is_forgotten_on_signing_in(people_app: Flask) -> None:
    client = people_app.test_client()
    with client.session_transaction() as session:
        session["planted"] = "by somebody else"
    try_to_sign_in(client, READER)
    with client.session_transaction() as session:
        assert "planted" not in session


def test_signing_in_anew_ends_the_sign_in_of_before(people_app: Flask) -> None:
    client = signed_in(people_app, READER)
    before = client.get_cookie("portfolio_session")
    assert before is not None
    try_to_sign_in(client, EDITOR)
    other = people_app.test_client()
    other.set_cookie("portfolio_session", before.value)
    assert other.get("/gaps").status_code == 302


def test_pages_of_whoever_signed_in_are_not_kept(people_app: Flask) -> None:
    client = signed_in(people_app, READER)
    for address in ("/gaps", "/gaps?format=csv", "/no-such-page", "/account"):
        assert client.get(address).headers["Cache-Control"] == "no-store", address


def test_no_post_is_taken_without_the_mark_of_our_own_forms(people_app: Flask) -> None:
    client = signed_in(people_app, "administrator@north.test")
    for method, address in _guarded(people_app):
        if method == "POST":
            for headers in ({}, {"HX-Request": "true"}):
                answer = client.post(address, data={"role": "reader"}, headers=headers)
                assert answer.status_code == 400, address
                assert Page(answer.text).text("h1") == "The form was not accepted", address


def test_signing_in_and_joining_need_the_mark_too(people_app: Flask) -> None:
    client = people_app.test_client()
    for address in ("/sign-in", "/join/x"):
        answer = client.post(address, data={"email": READER, "password": PASSWORD})
        assert Page(answer.text).text("h1") == "The form was not accepted"


def test_the_mark_of_somebody_elses_forms_is_refused(people_app: Flask) -> None:
    token = values_of(signed_in(people_app, EDITOR).get("/account").text)["csrf_token"]
    answer = signed_in(people_app, READER).post("/sign-out", data={"csrf_token": token})
    assert answer.status_code == 400


# --- Where one may be led -------------------------------------------------------------------------


@pytest.mark.parametrize(
    "asked",
    [
        "//evil.test",
        "///evil.test",
        "http://evil.test",
        "https:evil.test",
        "/\\evil.test",
        "\\\\evil.test",
        "/\t/evil.test",
        "\t//evil.test",
        "/\n/evil.test",
        "/gaps\r\nSet-Cookie: a=b",
        "\x00/gaps",
        "/gaps\x7f",
        "/\xa0/evil.test",
        "javascript:alert(1)",
        "gaps",
        "",
        "//[",
        "/" + "a" * 3000,
    ],
)
def test_nobody_is_led_away_after_signing_in(people_app: Flask, asked: str) -> None:
    assert local_or_home(asked) == "/"
    client = people_app.test_client()
    with people_app.test_request_context():
        address = flask.url_for("signing_in.sign_in", next=asked)
    assert try_to_sign_in(client, READER, to=address).location == "/"


def test_a_path_of_this_program_is_kept() -> None:
    assert local_or_home("/gaps?text=a%20b&coverage=all") == "/gaps?text=a%20b&coverage=all"


# --- Proxies and numbers --------------------------------------------------------------------------


def _waits_by_forwarded(app: Flask, header: str) -> int:
    client = app.test_client()
    for number in range(5):
        more = {"headers": {"X-Forwarded-For": header.format(number)}}
        status = try_to_sign_in(client, READER, "wrong", **more).status_code
    return status


def test_a_forged_sender_is_not_believed_without_a_proxy(people_app: Flask) -> None:
    assert _waits_by_forwarded(people_app, "203.0.113.{}") == 429


def test_behind_one_proxy_its_word_counts_and_no_earlier_one(
    sqlite_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(config.PROXIES_VARIABLE, "1")
    app = create_app(sqlite_url)
    assert _waits_by_forwarded(app, "203.0.113.{}") == 400
    assert _waits_by_forwarded(app, "198.51.100.{}, 203.0.113.50") == 429


@pytest.mark.parametrize("text", ["-1", "many", "1.5", "10"])
def test_a_number_of_proxies_that_is_none_is_refused_at_the_start(
    sqlite_url: str, monkeypatch: pytest.MonkeyPatch, text: str
) -> None:
    monkeypatch.setenv(config.PROXIES_VARIABLE, text)
    with pytest.raises(PortfolioError, match="PORTFOLIO_PROXIES"):
        create_app(sqlite_url)


def test_a_number_too_large_for_the_store_leads_nowhere(people_app: Flask) -> None:
    client = signed_in(people_app, READER)
    for address in ("/buildings/99999999999999999999", "/zones/2147483648"):
        assert client.get(address).status_code == 404


def test_a_local_program_asks_nobody_to_sign_in(client: FlaskClient) -> None:
    assert client.get("/").status_code == 200
    assert client.get("/sign-in").location == "/"
    for address in ("/account", "/people", "/sharing"):
        assert client.get(address).status_code == 404, address

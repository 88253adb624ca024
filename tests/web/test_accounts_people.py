"""The pages of people: inviting, joining, roles, leaving."""

import re
from typing import Any

import pytest
import sqlalchemy as sa
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from portfolio.db.people import Person
from portfolio.services.accounts.joining import VALID_FOR
from portfolio.services.accounts.mailing import MailServer
from portfolio.web import config, store
from tests.web.accounts import OTHER_PASSWORD, Clock, post, signed_in, try_to_sign_in
from tests.web.reading import Page, rows
from tests.web.sending import send, values_of

ADMINISTRATOR, READER = "administrator@north.test", "reader@north.test"


@pytest.fixture
def administrator(people_app: Flask) -> FlaskClient:
    return signed_in(people_app, ADMINISTRATOR)


def _person(app: Flask, email: str) -> Person:
    with app.app_context(), store.reading() as session:
        return session.scalars(sa.select(Person).where(Person.email == email)).one()


def _invite(client: FlaskClient, email: str = "new@north.test", **more: str) -> TestResponse:
    values = {"email": email, "name": "New Colleague", "role": "editor"} | more
    return post(client, "/people/invite", "/people", **values)


def _link(answer: TestResponse) -> str:
    found = re.search(r"http://localhost(/join/[\w-]+)", answer.text)
    assert found is not None, answer.text
    return found.group(1)


def _join(app: Flask, link: str, **more: str) -> TestResponse:
    values = {"password": OTHER_PASSWORD, "again": OTHER_PASSWORD} | more
    return send(app.test_client(), link, **values)


def test_a_link_is_shown_once_and_lets_a_person_join(
    people_app: Flask, administrator: FlaskClient
) -> None:
    link = _link(_invite(administrator))
    assert "/join/" not in administrator.get("/people").text
    assert "/join/" not in administrator.get("/log").text
    assert _join(people_app, link).location == "/sign-in"
    signed_in(people_app, "new@north.test", OTHER_PASSWORD)


def test_used_outdated_foreign_and_invented_links_answer_alike(
    people_app: Flask, administrator: FlaskClient, clock: Clock
) -> None:
    used, outdated = _link(_invite(administrator)), _link(_invite(administrator, "b@north.test"))
    foreign = _link(_invite(administrator, "administrator@south.test"))
    _join(people_app, used)
    pages = [_join(people_app, foreign)]
    clock.now += VALID_FOR
    client = people_app.test_client()
    pages += [client.get(link) for link in (used, outdated, "/join/invented", "/join/%00")]
    assert {page.status_code for page in pages} == {404}
    assert len({page.text for page in pages}) == 1


def test_a_weak_password_is_told_and_the_link_stays_good(
    people_app: Flask, administrator: FlaskClient
) -> None:
    link = _link(_invite(administrator))
    answer = _join(people_app, link, password="short", again="short")
    assert answer.status_code == 400
    assert "too short" in answer.text
    assert _join(people_app, link).status_code == 302


def test_a_bad_address_is_told_at_its_field(administrator: FlaskClient) -> None:
    answer = _invite(administrator, "nobody")
    assert answer.status_code == 400
    assert "no e-mail address" in Page(answer.text).text("form")


def test_nothing_of_a_name_is_markup(administrator: FlaskClient) -> None:
    _invite(administrator, name="<script>alert(1)</script>")
    assert "<script>alert" not in administrator.get("/people").text
    assert "<script>alert" not in administrator.get("/log").text


def test_without_a_mail_server_nothing_is_said_to_be_sent(administrator: FlaskClient) -> None:
    assert "was sent" not in _invite(administrator).text


def test_a_mail_server_that_fails_leaves_the_link_on_the_page(
    people_app: Flask, administrator: FlaskClient
) -> None:
    nobody = MailServer("127.0.0.1", 1, False, "", "", "program@north.test")
    people_app.config[config.MAIL_VARIABLE] = nobody
    answer = _invite(administrator)
    assert "did not take the message" in answer.text
    _link(answer)


def test_the_page_of_people_says_who_they_are_and_in_which_state(
    people_app: Flask, administrator: FlaskClient
) -> None:
    post(administrator, f"/people/{_person(people_app, READER).id}/deactivate", "/people")
    _invite(administrator)
    found = rows(administrator.get("/people").text)
    states = {row[0].split()[1]: row[2] for row in found if "@north.test" in row[0]}
    assert states[READER] == "deactivated"
    assert states[ADMINISTRATOR] == "active"
    assert found[-1][0] == "New Colleague new@north.test"


def test_a_role_counts_at_once_and_every_page_follows(
    people_app: Flask, administrator: FlaskClient
) -> None:
    reader = signed_in(people_app, READER)
    assert "Upload" not in Page(reader.get("/").text).text("header")
    person_id = _person(people_app, READER).id
    answer = post(administrator, f"/people/{person_id}/role", "/people", role="administrator")
    assert answer.location == "/people"
    header = Page(reader.get("/").text).text("header")
    assert {"Upload", "People", "Sharing"} <= set(header.split())


def test_a_role_that_does_not_exist_is_refused(
    people_app: Flask, administrator: FlaskClient
) -> None:
    person_id = _person(people_app, READER).id
    answer = post(administrator, f"/people/{person_id}/role", "/people", role="king")
    assert answer.status_code == 400
    assert "reader, editor, engineer, administrator" in answer.text


def test_the_last_administrator_stays(people_app: Flask, administrator: FlaskClient) -> None:
    own = _person(people_app, ADMINISTRATOR).id
    for address, values in (("role", {"role": "reader"}), ("deactivate", {})):
        answer = post(administrator, f"/people/{own}/{address}", "/people", **values)
        assert answer.status_code == 400
        assert "at least one active administrator" in answer.text
    assert administrator.get("/people").status_code == 200


def test_whoever_is_deactivated_is_out_at_once_and_may_come_back(
    people_app: Flask, administrator: FlaskClient
) -> None:
    reader, person_id = signed_in(people_app, READER), _person(people_app, READER).id
    post(administrator, f"/people/{person_id}/deactivate", "/people")
    assert reader.get("/gaps").status_code == 302
    assert try_to_sign_in(people_app.test_client(), READER).status_code == 400
    post(administrator, f"/people/{person_id}/reactivate", "/people")
    signed_in(people_app, READER)


def test_a_withdrawn_link_is_gone(people_app: Flask, administrator: FlaskClient) -> None:
    link = _link(_invite(administrator))
    action = re.search(r"/people/invitations/\d+/withdraw", administrator.get("/people").text)
    assert action is not None
    post(administrator, action.group(0), "/people")
    assert people_app.test_client().get(link).status_code == 404


def test_a_person_may_get_a_link_for_a_new_password(
    people_app: Flask, administrator: FlaskClient
) -> None:
    answer = post(administrator, f"/people/{_person(people_app, READER).id}/link", "/people")
    assert _join(people_app, _link(answer)).status_code == 302
    signed_in(people_app, READER, OTHER_PASSWORD)


@pytest.mark.parametrize("role", ["reader", "editor", "engineer"])
def test_others_are_told_that_it_is_not_for_their_role(people_app: Flask, role: str) -> None:
    client = signed_in(people_app, f"{role}@north.test")
    pages: list[Any] = [client.get("/people"), client.get("/sharing")]
    token = values_of(client.get("/account").text)["csrf_token"]
    for address in ("/people/1/link", "/people/1/role", "/people/1/deactivate"):
        pages.append(client.post(address, data={"csrf_token": token, "role": "reader"}))
    for page in pages:
        assert page.status_code == 403
        assert "administrator" in Page(page.text).text("main")


def test_people_of_others_answer_like_people_that_do_not_exist(
    people_app: Flask, administrator: FlaskClient
) -> None:
    foreign = _person(people_app, "administrator@south.test").id
    answers = [
        post(administrator, f"/people/{person_id}/{what}", "/people", role="reader")
        for person_id in (foreign, 99_999)
        for what in ("role", "link", "deactivate", "reactivate")
    ]
    assert {answer.status_code for answer in answers} == {404}
    assert len({_without_marks(answer.text) for answer in answers}) == 1


def _without_marks(markup: str) -> str:
    return re.sub(r'name="csrf_token" value="[^"]+"', "", markup)


def test_an_account_shows_its_browsers_and_which_one_this_is(people_app: Flask) -> None:
    signed_in(people_app, READER)
    found = rows(signed_in(people_app, READER).get("/account").text)
    assert sorted(row[2] for row in found) == ["another", "this one"]

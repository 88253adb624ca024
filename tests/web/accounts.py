"""People who sign in, and a clock that a test moves on."""

from datetime import UTC, datetime, timedelta
from typing import Any

from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from portfolio.db.models import OrganisationKind
from portfolio.db.people import Person
from portfolio.domain.rights import Role
from portfolio.services.accounts import passwords
from tests.web.portfolios import Portfolio
from tests.web.sending import values_of

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
PASSWORD = "seven green kettles"
OTHER_PASSWORD = "four wooden ladders"
NORTH, SOUTH = "north", "south"


class Clock:
    """The time as a test has it."""

    def __init__(self) -> None:
        self.now = NOON

    def __call__(self) -> datetime:
        return self.now

    def tick(self, **more: float) -> None:
        self.now += timedelta(**more)


def person(portfolio: Portfolio, organisation_id: int, email: str, role: Role, **more: Any) -> Any:
    """Somebody who may sign in with PASSWORD."""
    values = {
        "organisation_id": organisation_id,
        "email": email,
        "name": email.partition("@")[0].title(),
        "role": role,
        "password_hash": passwords.hashed(PASSWORD),
    }
    row = Person(**(values | more))
    portfolio.session.add(row)
    portfolio.session.flush()
    return row


def fill_people(portfolio: Portfolio, owners: dict[str, int]) -> None:
    """One person of each role in the first owner, an administrator in each other organisation."""
    for role in Role:
        person(portfolio, owners[NORTH], f"{role.value}@north.test", role)
    person(portfolio, owners[SOUTH], "administrator@south.test", Role.ADMINISTRATOR)
    for kind in (OrganisationKind.CONSULTANCY, OrganisationKind.LABORATORY):
        found = portfolio.organisation(ref=kind.value, name=f"The {kind.value}", kind=kind)
        person(portfolio, found.id, f"engineer@{kind.value}.test", Role.ENGINEER)
        person(portfolio, found.id, f"administrator@{kind.value}.test", Role.ADMINISTRATOR)


def try_to_sign_in(
    client: FlaskClient,
    email: str,
    password: str = PASSWORD,
    *,
    to: str = "/sign-in",
    **more: Any,
) -> TestResponse:
    """Send the form of signing in as a browser does."""
    values = values_of(client.get(to, **more).text)
    return client.post(to, data={**values, "email": email, "password": password}, **more)


def signed_in(app: Flask, email: str, password: str = PASSWORD) -> FlaskClient:
    """A browser in which somebody has signed in."""
    client = app.test_client()
    answer = try_to_sign_in(client, email, password)
    if answer.status_code != 302:
        raise AssertionError(answer.text)
    return client


def post(client: FlaskClient, address: str, page: str = "/account", **values: Any) -> TestResponse:
    """Press a button of a page: its address, with the mark that the page's forms carry."""
    token = values_of(client.get(page).text)["csrf_token"]
    return client.post(address, data={"csrf_token": token, **values})

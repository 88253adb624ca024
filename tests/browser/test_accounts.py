"""Signing in, inviting and sharing in a browser: by keyboard, without script, on a phone."""

import threading
from collections.abc import Iterator
from typing import Any

import pytest
import sqlalchemy as sa
from werkzeug.serving import WSGIRequestHandler, make_server

from portfolio.db.models import Organisation
from portfolio.web import create_app, store
from tests.browser.measuring import cells_outside, sideways
from tests.web.accounts import OTHER_PASSWORD, PASSWORD, Clock, fill_people
from tests.web.portfolios import ON, fill_one_of_each, filling

pytestmark = pytest.mark.browser

ADMINISTRATOR = "administrator@north.test"
WIDTHS = {"desk": 1280, "phone": 390}
PAGES = [
    "/",
    "/account",
    "/people",
    "/sharing",
    "/sharing/buildings",
    "/sharing/preview/laboratory",
    "/log",
]


class _Silent(WSGIRequestHandler):
    def log(self, *_: Any, **__: Any) -> None:
        """The log of requests would only hide what a test says."""


@pytest.fixture
def guarded(sqlite_url: str) -> Iterator[str]:
    """Where the application listens in which everybody has to sign in."""
    with filling(sqlite_url) as portfolio:
        fill_one_of_each(portfolio)
        found = portfolio.session.execute(sa.select(Organisation.ref, Organisation.id))
        fill_people(portfolio, {row.ref: row.id for row in found})
    app = create_app(sqlite_url, today=lambda: ON, now=Clock())
    server = make_server("127.0.0.1", 0, app, threaded=True, request_handler=_Silent)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.port}"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
        with app.app_context():
            store.engine().dispose()


def _sign_in(page: Any, address: str, email: str, password: str = PASSWORD) -> None:
    """By keyboard alone."""
    page.goto(address + "/sign-in")
    page.get_by_label("E-mail").focus()
    page.keyboard.type(email)
    page.keyboard.press("Tab")
    page.keyboard.type(password)
    with page.expect_navigation():
        page.keyboard.press("Enter")
    page.get_by_role("button", name="Sign out").wait_for()


def _share_and_invite(page: Any, address: str) -> str:
    """Open a building, share demand, invite somebody: pages with something on them. The link."""
    page.goto(address + "/sharing/buildings")
    page.get_by_label("TALL Tall House").check()
    page.get_by_label("Consultancy").select_option("consultancy")
    _press(page, "Open these buildings")
    page.get_by_label("Our name").check()
    _press(page, "Share our demand")
    page.goto(address + "/people")
    page.get_by_label("Name", exact=True).fill("New Colleague with Quite a Long Name")
    page.get_by_label("E-mail").fill("new.colleague.with.a.long.address@north.test")
    _press(page, "Make the link")
    link: str = page.get_by_label("One-time link").input_value()
    return link


def _press(page: Any, name: str) -> None:
    with page.expect_navigation():
        page.get_by_role("button", name=name).click()


def test_a_person_is_invited_joins_and_signs_in_without_script(browser: Any, guarded: str) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    _sign_in(page, guarded, ADMINISTRATOR)
    link = _share_and_invite(page, guarded)
    _press(page, "Sign out")
    page.goto(link)
    page.get_by_label("New password").fill(OTHER_PASSWORD)
    page.get_by_label("The same again").fill(OTHER_PASSWORD)
    _press(page, "Set the password")
    assert page.get_by_role("status").inner_text() == "Your password is set. Sign in with it."
    email = "new.colleague.with.a.long.address@north.test"
    _sign_in(page, guarded, email, OTHER_PASSWORD)
    context.close()


def test_enter_in_the_search_finds_and_does_not_share(browser: Any, guarded: str) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    _sign_in(page, guarded, ADMINISTRATOR)
    page.goto(guarded + "/sharing/buildings")
    page.get_by_label("LOW Low House").check()
    page.get_by_label("Find buildings").fill("tall")
    with page.expect_navigation():
        page.get_by_label("Find buildings").press("Enter")
    assert page.get_by_label("LOW Low House").is_checked()
    assert not page.get_by_label("TALL Tall House").is_checked()
    page.goto(guarded + "/sharing")
    assert page.get_by_text("No grants").count() == 1
    context.close()


def test_no_page_of_accounts_scrolls_sideways_or_breaks_its_policy(page: Any, guarded: str) -> None:
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))
    _sign_in(page, guarded, ADMINISTRATOR)
    _share_and_invite(page, guarded)
    wider, outside = {}, {}
    for name, width in WIDTHS.items():
        page.set_viewport_size({"width": width, "height": 800})
        for path in PAGES:
            page.goto(guarded + path)
            if (over := sideways(page)) > 0:
                wider[name, path] = over
            if name == "phone" and (cells := cells_outside(page)):
                outside[path] = cells
    assert (wider, outside, complaints) == ({}, {}, [])


def test_the_way_back_after_signing_out_shows_nothing(page: Any, guarded: str) -> None:
    _sign_in(page, guarded, ADMINISTRATOR)
    page.goto(guarded + "/people")
    _press(page, "Sign out")
    page.go_back()
    page.get_by_role("heading", name="Sign in").wait_for()


def test_paper_has_the_people_and_no_buttons(page: Any, guarded: str) -> None:
    _sign_in(page, guarded, ADMINISTRATOR)
    page.goto(guarded + "/people")
    page.emulate_media(media="print")
    assert page.get_by_text("reader@north.test").is_visible()
    row = page.get_by_role("row").filter(has_text="reader@north.test")
    assert row.get_by_role("cell").first.inner_text() == "reader"
    headers = [header.inner_text() for header in page.get_by_role("columnheader").all()]
    assert headers == ["Name", "Role", "State", "Last seen"]
    assert not page.get_by_role("button", name="Deactivate").first.is_visible()
    assert not page.get_by_role("button", name="Sign out").is_visible()

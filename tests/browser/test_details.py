"""A survey filled in by keyboard, and pages of single things in a real browser."""

from collections.abc import Iterator
from typing import Any

import pytest

from tests.browser.measuring import cells_outside, sideways

pytestmark = pytest.mark.browser

PAGES = (
    "/buildings/1",
    "/buildings/1/edit",
    "/buildings/1/zones/new",
    "/zones/1",
    "/zones/2",
    "/zones/4",
    "/compare",
    "/compare?left=zone-1&right=zone-2",
    "/compare?left=test-1&right=zone-3",
    "/compare?left=test-1&right=test-2",
    "/zones/1/surveys/new",
    "/zones/1/decisions/new",
    "/zones/1/edit",
    "/decisions",
    "/decisions/1/confirm",
    "/evidence",
    "/tests/1",
    "/tests/1/edit",
    "/tests/1/standing",
    "/tests/1/consents",
    "/reopened",
    "/documents",
    "/certificates",
    "/rules",
    "/rules/new",
    "/orders",
    "/orders/shipped/victoria-guideline-15",
    "/orders/new",
    "/gaps?order=call-in-england-2024",
    "/buildings/1/missing-documents",
    "/upload",
    "/classify",
)

# what the margins leave of A4, in CSS pixels
SHEET = {"width": 703, "height": 1016}


@pytest.fixture
def complaints(page: Any) -> Iterator[list[str]]:
    """Whatever the browser complains of while a test lasts."""
    found: list[str] = []
    page.on("console", lambda message: found.append(message.text))
    page.on("pageerror", lambda error: found.append(str(error)))
    yield found
    assert found == []


def test_no_page_is_wider_than_a_phone(page: Any, address: str, complaints: list[str]) -> None:
    wide, outside = {}, {}
    for path in PAGES:
        page.goto(address + path)
        for width in (390, 320):
            page.set_viewport_size({"width": width, "height": 844})
            if (over := sideways(page)) > 0:
                wide[path, width] = over
            if cells := cells_outside(page):
                outside[path, width] = cells
    assert (wide, outside) == ({}, {})


def test_paper_has_no_controls(page: Any, address: str) -> None:
    page.emulate_media(media="print")
    found = {}
    for path in PAGES:
        page.goto(address + path)
        if (
            shown := page.locator("input, select, textarea, button, .button")
            .filter(visible=True)
            .count()
        ):
            found[path] = shown
    assert found == {}


def test_the_first_sheet_of_a_zone_is_filled(page: Any, address: str) -> None:
    page.set_viewport_size(SHEET)
    page.emulate_media(media="print")
    page.goto(f"{address}/zones/1")
    assert _foot(page, ".beside > figure") <= SHEET["height"]
    # with a long list above it the drawing may go to the next sheet: text comes before it
    page.goto(f"{address}/zones/4")
    assert page.locator("#find-out").is_visible()
    assert _foot(page, ".beside > div") <= page.locator(".beside > figure").bounding_box()["y"]


def _foot(page: Any, selector: str) -> float:
    box = page.locator(selector).bounding_box()
    return float(box["y"] + box["height"])


def test_no_page_breaks_the_security_policy(page: Any, address: str, complaints: list[str]) -> None:
    for path in PAGES:
        assert page.goto(address + path).status == 200


def _tab_to(page: Any, wanted: str) -> None:
    """Press Tab until the field of that id has the focus."""
    for _ in range(200):
        if page.evaluate("document.activeElement.id") == wanted:
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab never reaches {wanted}")


def _choose(page: Any, field: str, words: str) -> None:
    """Choose in a list by typing the beginning of a word."""
    _tab_to(page, field)
    page.keyboard.type(words)


def test_a_survey_filled_in_by_keyboard_changes_coverage(
    page: Any, address: str, complaints: list[str]
) -> None:
    page.goto(f"{address}/zones/4/surveys/new")
    assert "UNKNOWN" in page.inner_text("h1")
    _choose(page, "basis", "look")
    for row, (role, material) in enumerate((("insulation", "stone"), ("facing", "terracotta"))):
        _choose(page, f"layers-{row}-role", role)
        _choose(page, f"layers-{row}-material", material)
    # Enter in a field saves the survey, it does not press a button for more rows
    _tab_to(page, "layers-1-thickness_mm")
    page.keyboard.type("6")
    page.keyboard.press("Enter")
    page.wait_for_url("**/zones/4")
    assert "was saved" in page.inner_text(".message")
    layers = " ".join(page.inner_text("ol.layers").split())
    assert "facing: terracotta tile or baguette, 6 mm" in layers


def test_an_error_leads_to_its_field(page: Any, address: str) -> None:
    page.goto(f"{address}/buildings/new")
    page.fill("#storeys", "six")
    page.keyboard.press("Enter")
    page.click(".error-summary a[href='#storeys']")
    assert page.evaluate("document.activeElement.id") == "storeys"
    assert page.input_value("#storeys") == "six"

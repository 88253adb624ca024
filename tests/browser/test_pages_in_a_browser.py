"""Pages as a browser shows them: on a desk, on a phone, by keyboard, on paper, at night."""

from collections import Counter
from typing import Any

import pytest

from tests.browser.measuring import cells_outside, sideways

pytestmark = pytest.mark.browser

PAGES = [
    "/",
    "/buildings",
    "/gaps",
    "/gaps?coverage=all",
    "/find-out",
    "/demand",
    "/no-such-page",
    "/gaps?x=1",
]
WIDTHS = {"desk": 1280, "phone": 390}


@pytest.fixture
def watched(page: Any) -> Any:
    """A page of which everything that the browser complains about is kept, for `complaints`."""
    page.complaints = []
    page.on("console", lambda message: page.complaints.append(message.text))
    page.on("pageerror", lambda error: page.complaints.append(str(error)))
    return page


def test_no_page_scrolls_sideways_or_breaks_its_policy(watched: Any, address: str) -> None:
    wider = {}
    for name, width in WIDTHS.items():
        watched.set_viewport_size({"width": width, "height": 800})
        for path in PAGES:
            watched.goto(address + path)
            if (over := sideways(watched)) > 0:
                wider[name, path] = over
    # the two error pages are themselves "complained" about as failed loads; nothing else may be
    unexpected = [c for c in watched.complaints if "404" not in c and "400" not in c]
    assert (wider, unexpected) == ({}, [])


def test_nothing_is_asked_of_another_machine(watched: Any, address: str) -> None:
    asked: list[str] = []
    watched.on("request", lambda request: asked.append(request.url))
    for path in PAGES:
        watched.goto(address + path)
    assert [url for url in asked if not url.startswith(address)] == []


def test_the_first_tab_shows_the_way_past_the_navigation(page: Any, address: str) -> None:
    page.goto(address + "/gaps")
    page.keyboard.press("Tab")
    link = page.locator(":focus")
    assert link.inner_text() == "Skip to the page's content"
    assert link.bounding_box()["y"] >= 0
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"


def test_a_narrow_window_shows_tables_row_by_row(page: Any, address: str) -> None:
    page.set_viewport_size({"width": 390, "height": 800})
    outside = {}
    for path in PAGES:
        page.goto(address + path)
        if cells := cells_outside(page):
            outside[path] = cells
    assert outside == {}
    page.goto(address + "/gaps")
    shown = page.locator("td[data-column='1. Coverage']").first
    name = shown.evaluate("cell => getComputedStyle(cell, '::before').content")
    assert (name, shown.is_visible()) == ('"1. Coverage"', True)


def test_a_table_shown_row_by_row_is_still_one_for_screen_readers(page: Any, address: str) -> None:
    told = {}
    for width in WIDTHS.values():
        page.set_viewport_size({"width": width, "height": 800})
        page.goto(address + "/buildings")
        tree = page.context.new_cdp_session(page).send("Accessibility.getFullAXTree")
        roles = Counter(node["role"]["value"] for node in tree["nodes"] if not node["ignored"])
        told[width] = {role: roles[role] for role in ("table", "row", "columnheader", "cell")}
    assert told[1280] == told[390]
    assert (told[390]["table"], told[390]["columnheader"]) == (1, 11)


def test_a_wide_table_is_reached_and_scrolled_by_keyboard(page: Any, address: str) -> None:
    page.set_viewport_size({"width": 800, "height": 800})
    page.goto(address + "/buildings")
    for _ in range(60):
        page.keyboard.press("Tab")
        if "table-scroll" in (page.locator(":focus").get_attribute("class") or ""):
            break
    page.keyboard.press("ArrowRight")
    # asked from here, since the page's own policy lets no text be run as script in it
    for _ in range(100):
        if page.locator(":focus").evaluate("box => box.scrollLeft") > 0:
            break
        page.wait_for_timeout(20)
    assert page.locator(":focus").evaluate("box => box.scrollLeft") > 0
    name, box = page.locator("tbody th").first, page.locator(".table-scroll")
    assert abs(name.bounding_box()["x"] - box.bounding_box()["x"]) < 3


def test_headers_stay_in_sight_while_a_table_scrolls(page: Any, address: str) -> None:
    page.goto(address + "/gaps")
    box = page.locator(".table-scroll").first
    box.evaluate("box => { box.scrollTop = 400 }")
    header = page.locator(".table-scroll thead th").first.bounding_box()
    assert abs(header["y"] - box.bounding_box()["y"]) < 3


def test_a_list_is_filtered_without_script_and_by_keyboard(browser: Any, address: str) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(address + "/buildings")
    page.get_by_label("Words in reference").focus()
    page.keyboard.type("tall")
    page.keyboard.press("Enter")
    page.wait_for_url("**/buildings?text=tall*")
    assert page.get_by_text("1 to 1 of 1 buildings").count() == 2
    context.close()


def test_every_focus_can_be_seen(page: Any, address: str) -> None:
    page.goto(address + "/gaps")
    for _ in range(16):
        page.keyboard.press("Tab")
        width = page.evaluate("parseFloat(getComputedStyle(document.activeElement).outlineWidth)")
        style = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert (width >= 2, style) == (True, "solid")


def test_paper_has_the_whole_table_and_no_controls(page: Any, address: str) -> None:
    page.goto(address + "/gaps")
    page.emulate_media(media="print")
    box = page.locator(".table-scroll").first
    assert box.evaluate("box => box.scrollHeight - box.clientHeight") <= 1
    assert not page.locator("form").first.is_visible()
    assert not page.locator("nav[aria-label=Main]").is_visible()
    assert page.locator(".caution").is_visible()


def test_a_coverage_is_read_the_same_by_day_and_by_night(page: Any, address: str) -> None:
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        page.goto(address)
        for mark in page.locator("tbody .mark").all()[:6]:
            assert mark.inner_text().split() != []
            ink, ground = mark.locator(".sign").evaluate(
                "sign => [getComputedStyle(sign).color, getComputedStyle(sign).backgroundColor]"
            )
            assert _contrast(ink, ground) >= 4.5, (scheme, mark.inner_text())


def _contrast(first: str, second: str) -> float:
    """The contrast of two colours as WCAG 2 counts it."""
    light, dark = sorted((_luminance(first), _luminance(second)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: str) -> float:
    channels = [int(part) / 255 for part in colour.strip("rgba() ").split(",")[:3]]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

"""Rules that engineers own, on pages."""

from html import unescape

import pytest
import sqlalchemy as sa
from flask import Flask
from flask.testing import FlaskClient

from portfolio.db.rules import RuleVersion
from portfolio.web import store
from tests.web.reading import rows
from tests.web.sending import values_of

NEW = "/rules/new"
DEEPER = {
    "key": "deeper-cavity",
    "title": "A deeper cavity",
    "parameter": "cavity.1.depth",
    "kind": "not-less",
    "amount": "40",
    "since": "2026-01-01",
    "document": "Note 7",
    "clause": "3.2",
    "author": "A. Engineer",
    "reason": "Invented for a test.",
    "conditions-0-parameter": "insulation.1.material",
    "conditions-0-words": "stone wool | glass wool",
    "examples-0-zone": "80",
    "examples-0-tested": "50",
    "examples-0-expect": "allowed",
    "examples-0-others": "insulation: material = stone-wool",
    # an empty row between two is passed over
    "examples-2-zone": "95",
    "examples-2-tested": "50",
    "examples-2-expect": "differs",
    "examples-2-others": "insulation: material = stone-wool",
}
SHOWS, SAVES = "Show what this would change", "Save this rule"


def _shown(client: FlaskClient, address: str = NEW, **changed: str) -> str:
    """The form sent once: what would change is shown, and nothing is saved."""
    values = values_of(client.get(address).text)
    told = DEEPER if address == NEW else {}
    answer = client.post(address, data=values | told | changed)
    assert answer.status_code == 200, answer.text
    return answer.text


def _saved(client: FlaskClient, address: str = NEW, **changed: str) -> str:
    """The form sent a second time as it was shown; the address of the rule."""
    answer = client.post(address, data=values_of(_shown(client, address, **changed)))
    assert answer.status_code == 302, answer.text
    return answer.location


def versions(app: Flask) -> list[tuple[str, int]]:
    with app.app_context(), store.reading() as session:
        query = sa.select(RuleVersion.key, RuleVersion.version).order_by(RuleVersion.id)
        return [(row.key, row.version) for row in session.execute(query)]


def test_what_a_rule_would_change_is_shown_before_it_is_saved(
    app: Flask, client: FlaskClient
) -> None:
    page = _shown(client)
    assert "Zones whose coverage would change (1)" in page
    assert ("TALL / ASSESS", "To be assessed", "Covered by a test") in [
        tuple(row) for row in rows(page)
    ]
    assert SAVES in page
    assert versions(app) == []
    answer = client.post(NEW, data=values_of(page))
    assert answer.location == "/rules/1"
    assert versions(app) == [("deeper-cavity", 1)]
    told = client.get(answer.location).text
    assert "deeper-cavity, version 1 was saved." in told
    assert "coverage was to be assessed, is now covered by a test." in told


def test_what_is_changed_after_it_was_shown_is_shown_anew(app: Flask, client: FlaskClient) -> None:
    values = values_of(_shown(client)) | {"amount": "35"}
    answer = client.post(NEW, data=values)
    assert answer.status_code == 200
    assert SAVES in answer.text
    assert versions(app) == []


def test_one_rule_shows_its_examples_and_what_it_rests_on(client: FlaskClient) -> None:
    page = client.get(_saved(client)).text
    assert "not less than tested, and at most 40 mm more" in page
    assert "insulation: material is glass wool or stone wool" in page
    assert "Note 7, 3.2" in page
    assert page.count("as expected") == 0
    assert "insulation: material: stone-wool" in page


def test_the_zone_says_which_rule_allowed_it(client: FlaskClient) -> None:
    _saved(client)
    found = next(
        page
        for page in (client.get(f"/zones/{number}").text for number in range(1, 6))
        if "<title>Zone ASSESS" in page
    )
    told = unescape(found)
    assert "It leans on the engineer's rule deeper-cavity (version 1, by A. Engineer" in told
    assert (
        'allowed by rule <span class="ref">deeper-cavity</span>: version 1, by A. Engineer' in told
    )


def test_a_further_version_takes_the_place_of_the_one_before(
    app: Flask, client: FlaskClient
) -> None:
    address = _saved(client)
    page = client.get(_saved(client, f"{address}/replace", until="2026-02-28")).text
    assert versions(app) == [("deeper-cavity", 1), ("deeper-cavity", 2)]
    assert "Version 2: <strong>ended</strong>" in page
    assert "Version 1: replaced, from 1 January 2026, by A. Engineer" in page


def test_two_who_write_a_version_see_both(client: FlaskClient) -> None:
    address = f"{_saved(client)}/replace"
    stale = values_of(_shown(client, address, title="Second"))
    _saved(client, address, title="First")
    answer = client.post(address, data=stale)
    assert answer.status_code == 409
    assert "Somebody else has saved this in the meantime" in answer.text
    again = client.post(address, data=values_of(answer.text))
    assert (again.status_code, SAVES in again.text) == (200, True)


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"examples-2-zone": "85"}, "Examples, row 3, The answer is: By this rule alone"),
        ({"examples-2-others": "insulation: material = wol"}, "row 3, Where both have: This can"),
        ({"examples-2-others": "colour = red"}, "row 3, Where both have: No rule could ask"),
        ({"conditions-0-words": "wol"}, "Conditions, row 1, Is one of: This cannot be read."),
        ({"amount": "much"}, "By at most: This is no amount."),
        ({"kind": "present"}, "The zone may be: A rule of this kind does not speak"),
        ({"until": "2025-01-01"}, "Until: It would end before it begins."),
        ({"key": ""}, "Key: Give the rule a key."),
        ({"key": "as-tested-cavity-depth"}, "Key: This is a rule that the program ships."),
        ({"author": ""}, "Engineer: Name the engineer who answers for it."),
        ({"since": ""}, "From: Give a date."),
    ],
)
def test_what_cannot_be_a_rule_is_refused_at_its_field(
    app: Flask, client: FlaskClient, changed: dict[str, str], told: str
) -> None:
    values = values_of(client.get(NEW).text) | DEEPER | changed
    answer = client.post(NEW, data=values)
    assert answer.status_code == 400
    assert told in unescape(answer.text)
    assert SHOWS in answer.text
    assert versions(app) == []


def test_the_list_is_given_out_with_the_shipped_rules(client: FlaskClient) -> None:
    _saved(client)
    assert "deeper-cavity" in client.get("/rules").text
    lines = client.get("/rules?format=csv").text.splitlines()
    assert [line.split(",")[0] for line in lines[1:3]] == [
        "deeper-cavity",
        "as-tested-barrier-spacing",
    ]
    assert client.get("/rules?format=xlsx").data.startswith(b"PK")
    assert client.get("/rules?sort=nothing").status_code == 400


def test_a_rule_that_is_not_there_is_not_found(client: FlaskClient) -> None:
    assert client.get("/rules/1").status_code == 404
    assert client.get("/rules/1/replace").status_code == 404


LIMITLESS = {"amount": "", "examples-2-zone": "40"}
DECISIVE = {
    "parameter": "insulation.1.material",
    "kind": "equals",
    "amount": "",
    "equals": "stone wool | glass wool",
    "conditions-0-parameter": "",
    "conditions-0-words": "",
    "examples-0-zone": "stone-wool",
    "examples-0-tested": "glass-wool",
    "examples-0-others": "",
    "examples-2-zone": "eps",
    "examples-2-tested": "glass-wool",
    "examples-2-others": "",
}


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        (LIMITLESS, "it allows more than tested, however much."),
        (
            {
                "kind": "not-more",
                "amount": "",
                "examples-0-zone": "1",
                "examples-2-zone": "60",
            },
            "it allows less than tested, down to nothing.",
        ),
        (DECISIVE, "speaks of a decisive parameter (insulation: material)"),
    ],
)
def test_a_rule_to_be_wary_of_says_so_before_it_is_saved_and_after(
    client: FlaskClient, changed: dict[str, str], told: str
) -> None:
    page = _shown(client, **changed)
    assert "Decisive are system family" in page
    assert told in unescape(page)
    saved = client.post(NEW, data=values_of(page)).location
    for address in (saved, "/rules", "/rules?format=csv"):
        assert told in unescape(client.get(address).text)


def test_a_rule_with_a_limit_on_what_is_not_decisive_needs_no_caution(client: FlaskClient) -> None:
    page = _shown(client)
    saved = client.post(NEW, data=values_of(page)).location
    told = page + client.get(saved).text
    assert "This rule has no amount" not in told
    assert "This rule speaks of a decisive parameter" not in told


def test_insulation_that_burns_worse_is_refused_at_its_field(client: FlaskClient) -> None:
    values = values_of(client.get(NEW).text) | DEEPER | DECISIVE
    answer = client.post(NEW, data=values | {"equals": "stone wool | eps"})
    assert answer.status_code == 400
    assert "zone by zone, not for a rule" in answer.text

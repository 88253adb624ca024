"""The page on which a holder records what sponsors said to others."""

import re

import pytest
import sqlalchemy as sa
from flask import Flask

from portfolio.db.models import TestRecord
from portfolio.db.session import engine_for, reading
from tests.web.accounts import signed_in
from tests.web.reading import rows
from tests.web.sending import send, values_of

_MESSAGE = re.compile(r"<[^>]*message-success[^>]*>(.*?)</", re.DOTALL)
EDITOR, READER, OTHER = "editor@north.test", "reader@north.test", "administrator@south.test"


@pytest.fixture
def address(people_app: Flask, database_url: str) -> str:
    """The page of north's test."""
    engine = engine_for(database_url)
    with reading(engine) as session:
        found = session.scalars(sa.select(TestRecord.id).filter_by(ref="T-PASS")).one()
    engine.dispose()
    return f"/tests/{found}/consents"


def test_what_was_said_is_entered_listed_and_changed(people_app: Flask, address: str) -> None:
    client = signed_in(people_app, EDITOR)
    asked = {"organisation": "south", "purpose": "an appraisal", "document": "letter 7"}
    assert send(client, address, **asked, consent="asked").status_code == 302
    [row] = rows(client.get(address).text)
    told = ["asked", "not recorded", "an appraisal", "no end", "its reference and outcome only"]
    assert row[1:6] == told
    again = f"{address}?organisation=south"
    assert values_of(client.get(again).text)["document"] == "letter 7"
    changed = send(client, again, consent="given", on="2026-01-05", until="2026-02-28")
    assert changed.status_code == 302
    [row] = rows(client.get(address).text)
    until = "28 February 2026 has run out"
    assert row[1:5] == ["given", "5 January 2026", "an appraisal", until]


def test_the_answer_is_the_same_for_a_reference_that_nobody_has(
    people_app: Flask, address: str
) -> None:
    """South is there and has zones; the editor of north does not know it."""
    client, told = signed_in(people_app, EDITOR), []
    for ref in ("south", "nobody"):
        answer = send(client, address, organisation=ref, consent="given", shows="everything")
        page = client.get(address)
        [row] = rows(page.text)
        shown = [message for message in _MESSAGE.findall(page.text) if "was saved" in message]
        told.append(
            (answer.status_code, answer.location, shown, [w.replace(ref, "-") for w in row])
        )
        [link] = re.findall(rf'href="({address}/[0-9]+/take-back)"', page.text)
        assert send(client, link, reason="Only tried.").status_code == 302
    assert told[0] == told[1]
    assert told[0][2], "a message that was not found would be the same as any other"


def test_an_entry_made_by_mistake_is_taken_back_with_a_reason(
    people_app: Flask, address: str
) -> None:
    client = signed_in(people_app, EDITOR)
    send(client, address, organisation="south", consent="refused")
    [link] = re.findall(rf'href="({address}/[0-9]+/take-back)"', client.get(address).text)
    refused = send(client, link, reason=" ")
    assert (refused.status_code, "Say why it is taken back." in refused.text) == (400, True)
    assert client.post(link, data={"reason": "No mark of the form."}).status_code == 400
    assert len(rows(client.get(address).text)) == 1
    assert send(client, link, reason="The wrong organisation.").location == address
    assert "Nothing is recorded for another organisation." in client.get(address).text
    assert "The wrong organisation." in client.get(address.removesuffix("/consents")).text
    assert client.get(link).status_code == 404


def test_of_two_editors_the_second_sees_both_versions(people_app: Flask, address: str) -> None:
    client = signed_in(people_app, EDITOR)
    values = values_of(client.get(address).text) | {"organisation": "south"}
    assert client.post(address, data=values | {"consent": "given"}).status_code == 302
    second = client.post(address, data=values | {"consent": "refused"})
    assert second.status_code == 409
    assert "Somebody else has saved this in the meantime" in second.text
    assert ["Consent", "refused", "given"] in rows(second.text)


def test_the_test_leads_to_its_consents_for_those_who_may_change_it(
    people_app: Flask, address: str
) -> None:
    test = address.removesuffix("/consents")
    assert f'href="{address}"' in signed_in(people_app, EDITOR).get(test).text
    assert f'href="{address}"' not in signed_in(people_app, READER).get(test).text
    assert signed_in(people_app, OTHER).get(address).status_code == 404

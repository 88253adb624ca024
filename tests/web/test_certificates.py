"""Certificates of materials on pages."""

import io

from flask.testing import FlaskClient

from tests.web.reading import rows
from tests.web.sending import send, values_of

NEW = "/certificates/new"
PANEL = {"ref": "C-1", "product": "Panel", "reaction_class": "A2-s1,d0", "calorific_value": "2.5"}


def test_a_certificate_is_added_by_a_form_and_says_whether_it_is_valid(
    client: FlaskClient,
) -> None:
    days = {"valid_from": "2025-01-01", "valid_until": "2026-02-28"}
    assert send(client, NEW, **PANEL, **days).location == "/certificates/1"
    page = client.get("/certificates/1").text
    assert "Today: <strong>not valid</strong>. It ran out on 2026-02-28." in page
    assert "2.5 MJ/kg" in page
    send(client, "/certificates/1/edit", valid_until="2026-03-01")
    assert "Today: <strong>valid</strong>" in client.get("/certificates/1").text


def test_what_cannot_be_read_is_refused_at_its_field(client: FlaskClient) -> None:
    answer = send(client, NEW, ref="C-1", reaction_class="fireproof", calorific_value="high")
    assert answer.status_code == 400
    for told in ("Say of which product it speaks.", "Give one number in MJ/kg"):
        assert told in answer.text
    assert "no class of EN 13501-1" in send(client, NEW, **PANEL | {"reaction_class": "G"}).text


def test_two_who_change_one_see_both_versions(client: FlaskClient) -> None:
    send(client, NEW, **PANEL)
    stale = values_of(client.get("/certificates/1/edit").text)
    send(client, "/certificates/1/edit", product="First")
    answer = client.post("/certificates/1/edit", data=stale | {"product": "Second"})
    assert answer.status_code == 409
    assert "First" in answer.text
    assert "Second" in answer.text


def test_the_list_is_filtered_and_given_out(client: FlaskClient) -> None:
    send(client, NEW, **PANEL, valid_from="2026-01-01", valid_until="2027-01-01")
    send(client, NEW, ref="C-2", product="Wool")
    assert [row[0] for row in rows(client.get("/certificates").text)] == ["C-1", "C-2"]
    assert [row[0] for row in rows(client.get("/certificates?valid=unknown").text)] == ["C-2"]
    lines = client.get("/certificates?valid=met&format=csv").text.splitlines()
    assert [line.split(",")[0] for line in lines[1:]] == ["C-1"]
    assert client.get("/certificates?format=xlsx").data.startswith(b"PK")
    assert client.get("/certificates?valid=perhaps").status_code == 400
    assert "No certificate matches" in client.get("/certificates?text=nothing").text


def test_the_paper_is_added_to_its_certificate(client: FlaskClient) -> None:
    send(client, NEW, **PANEL)
    address = "/certificates/1/documents/new"
    values = dict(values_of(client.get(address).text))
    file = {"file": (io.BytesIO(b"%PDF-1.7"), "paper.pdf")}
    assert client.post(address, data=values | file).location == "/documents/1"
    assert "paper.pdf" in client.get("/certificates/1").text
    assert "/certificates/1" in client.get("/documents/1").text

"""Documents on pages: added by a form, listed, handed out safely, taken back with a reason."""

import io
from typing import Any

import pytest
import sqlalchemy as sa
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from portfolio.db.documents import Document
from portfolio.db.models import Building, Survey, TestRecord, Zone
from portfolio.services.documents.contents import contents_for
from portfolio.web import store
from tests.web.queries import counted
from tests.web.reading import Page, rows
from tests.web.sending import values_of

PDF = b"%PDF-1.7 a report"
SAVED = "application/octet-stream", "attachment"
PNG = b"\x89PNG\r\n\x1a\n and pixels"


def id_of(app: Flask, kind: type[Any], ref: str) -> int:
    with app.app_context(), store.reading() as session:
        found: int = session.scalars(sa.select(kind.id).where(kind.ref == ref)).one()
    return found


@pytest.fixture
def zone(app: Flask) -> str:
    return f"/zones/{id_of(app, Zone, 'COVERED')}"


def add(
    client: FlaskClient,
    page: str,
    content: bytes | None = PDF,
    name: str = "report.pdf",
    **changes: Any,
) -> TestResponse:
    """Fill in the form of a page and send it with a file."""
    address = f"{page}/documents/new"
    values: dict[str, Any] = dict(values_of(client.get(address).text)) | changes
    if content is not None:
        values["file"] = (io.BytesIO(content), name)
    return client.post(address, data=values)


def file_of(client: FlaskClient, number: int = 1) -> TestResponse:
    return client.get(f"/documents/{number}/file")


def test_a_document_is_added_by_a_form_and_stands_on_the_page(
    client: FlaskClient, zone: str
) -> None:
    assert add(client, zone, reference="R-7", on="2026-02-01").location == "/documents/1"
    [document] = [row for row in rows(client.get(zone).text) if "report.pdf" in row[0]]
    assert document[0] == "report.pdf R-7"
    assert document[1:3] == ["report", "1 February 2026"]
    assert document[3].startswith("TALL / COVERED / survey ")
    assert file_of(client).data == PDF


@pytest.mark.parametrize(("kind", "ref"), [(Building, "TALL"), (TestRecord, "T-PASS")])
def test_buildings_and_tests_have_documents_of_their_own(
    client: FlaskClient, app: Flask, kind: type[Any], ref: str
) -> None:
    page = f"/{'buildings' if kind is Building else 'tests'}/{id_of(app, kind, ref)}"
    add(client, page)
    assert "report.pdf" in client.get(page).text


def test_a_document_can_support_one_layer(client: FlaskClient, zone: str) -> None:
    add(client, zone, layer="3")
    assert ", layer 3" in client.get("/documents/1").text
    answer = add(client, zone, layer="30")
    assert answer.status_code == 400
    assert "This has no such layer." in answer.text


def test_a_document_that_is_held_supports_more_by_its_number(
    client: FlaskClient, zone: str, app: Flask
) -> None:
    add(client, zone)
    other = f"/tests/{id_of(app, TestRecord, 'T-PASS')}"
    assert add(client, other, None, document="1").location == "/documents/1"
    assert "report.pdf" in client.get(other).text


def test_the_same_file_again_is_told_and_is_the_same_document(
    client: FlaskClient, zone: str
) -> None:
    add(client, zone)
    again = add(client, zone, name="again.pdf", layer="1")
    assert again.location == "/documents/1"
    told = client.get("/documents/1").text
    assert "You held this content already, as document 1" in told
    assert "Only your organisation may see it, with everything that it supports." in told


def test_who_may_see_it_now_is_told_where_a_narrower_choice_is_made(
    client: FlaskClient, zone: str
) -> None:
    add(client, zone, seen_by="with-fact")
    add(client, zone, layer="1", seen_by="own")
    assert "Only your organisation may see it from now on" in client.get("/documents/1").text


def test_a_shown_document_is_attached_only_by_whoever_chooses_that_it_is_shown(
    client: FlaskClient, zone: str, app: Flask
) -> None:
    add(client, zone, seen_by="with-fact")
    other = f"/tests/{id_of(app, TestRecord, 'T-PASS')}"
    refused = add(client, other, None, document="1", seen_by="own")
    assert refused.status_code == 400
    assert "is shown to whoever may see what it supports" in refused.text
    assert add(client, other, None, document="1", seen_by="with-fact").status_code == 302


@pytest.mark.parametrize(
    ("content", "changes", "told"),
    [
        (None, {}, "Choose a file"),
        (b"", {}, "The file is empty."),
        (PDF, {"on": "2026-03-02"}, "This day has not come yet."),
        (PDF, {"kind": "novel"}, "Not a valid choice"),
        (PDF, {"supports": "survey:999"}, "Not a valid choice"),
        (PDF, {"supports": "../secret"}, "Not a valid choice"),
    ],
)
def test_what_cannot_be_kept_is_refused_at_its_field(
    client: FlaskClient, zone: str, content: bytes | None, changes: dict[str, str], told: str
) -> None:
    answer = add(client, zone, content, **changes)
    assert answer.status_code == 400
    assert told in answer.text
    assert "There are no documents yet." in client.get("/documents").text


def test_a_document_that_is_not_there_cannot_be_attached(client: FlaskClient, zone: str) -> None:
    assert add(client, zone, None, document="7").status_code == 404


@pytest.mark.parametrize(
    ("content", "name", "told"),
    [
        (PDF, "report.pdf", ("application/pdf", "attachment")),
        (PNG, "photo.png", ("image/png", "inline")),
        (b"<html><script>1</script>", "photo.png", SAVED),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "a.svg", SAVED),
        (b"MZ program", "photo.jpg", SAVED),
        (PNG + b"<script>", "page.html", ("image/png", "inline")),
    ],
)
def test_a_file_is_handed_out_as_what_its_bytes_show_and_never_as_a_page(
    client: FlaskClient, zone: str, content: bytes, name: str, told: tuple[str, str]
) -> None:
    add(client, zone, content, name)
    answer = file_of(client)
    assert answer.data == content
    how, _, _ = answer.headers["Content-Disposition"].partition(";")
    assert (answer.headers["Content-Type"], how) == told
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\plans\\north.pdf", "north.pdf"),
        ("Außenwand <b>.pdf", "Außenwand &lt;b&gt;.pdf"),
        ("a; b=c.html", "a; b=c.html"),
    ],
)
def test_a_files_name_is_only_ever_shown(
    client: FlaskClient, zone: str, name: str, shown: str, app: Flask
) -> None:
    add(client, zone, name=name)
    assert shown in client.get("/documents").text
    assert "\n" not in file_of(client).headers["Content-Disposition"]
    with app.app_context():
        [kept] = contents_for(store.engine()).names()
    assert len(kept) == 64


def test_a_damaged_file_is_not_handed_out(client: FlaskClient, zone: str, app: Flask) -> None:
    add(client, zone)
    with app.app_context():
        folder = contents_for(store.engine()).folder
    [path] = folder.glob("*/*")
    path.write_bytes(b"%PDF-1.7 another")
    answer = file_of(client)
    assert answer.status_code == 500
    assert "The file of this document cannot be read" in answer.text


def test_taking_a_document_away_stands_in_the_log(client: FlaskClient, zone: str) -> None:
    add(client, zone)
    file_of(client)
    assert "document 1, report.pdf" in client.get("/log?subject=export").text


def test_a_document_is_detached_with_a_reason(client: FlaskClient, zone: str) -> None:
    add(client, zone)
    values = values_of(client.get("/documents/1").text)
    address = "/documents/supports/1/detach"
    assert client.post(address, data=values | {"reason": " "}).status_code == 400
    done = client.post(address, data=values | {"reason": "of another wall"})
    assert done.location == zone
    assert "No document supports anything here" in client.get(zone).text
    assert "of another wall" in client.get("/log?subject=document").text
    assert client.get("/documents/1").status_code == 200
    assert client.post(address, data=values | {"reason": "again"}).status_code == 404


def test_the_list_is_filtered_and_given_out_as_it_is_shown(client: FlaskClient, zone: str) -> None:
    add(client, zone)
    add(client, zone, PNG, "photo.png", kind="photograph")
    assert [row[1] for row in rows(client.get("/documents").text)] == ["photo.png", "report.pdf"]
    kept = client.get("/documents?kind=photograph")
    assert [row[1] for row in rows(kept.text)] == ["photo.png"]
    lines = client.get("/documents?kind=photograph&format=csv").text.splitlines()
    assert lines[0].lstrip("\ufeff").startswith("Document,File,Kind")
    assert [line.split(",")[1] for line in lines[1:]] == ["photo.png"]
    assert client.get("/documents?format=xlsx").data.startswith(b"PK")
    assert client.get("/documents?kind=novel").status_code == 400
    assert client.get("/documents?colour=red").status_code == 400
    assert "No document matches" in client.get("/documents?text=nothing").text


def test_what_lacks_a_document_is_listed_until_it_has_one(
    client: FlaskClient, app: Flask, zone: str
) -> None:
    address = f"/buildings/{id_of(app, Building, 'TALL')}/missing-documents"
    before = [row[2] for row in rows(client.get(address).text)]
    assert before.count("COVERED") == 1
    add(client, zone)
    assert [row[2] for row in rows(client.get(address).text)].count("COVERED") == 0
    assert "COVERED" not in client.get(f"{address}?format=csv").text
    assert client.get(f"{address}?format=xlsx").data.startswith(b"PK")


def test_a_zone_that_nobody_surveyed_has_nothing_to_support(
    client: FlaskClient, app: Flask
) -> None:
    page = f"/zones/{id_of(app, Zone, 'UNKNOWN')}/documents/new"
    assert "add a survey first" in client.get(page).text


def test_every_control_has_a_label_and_needs_no_script(client: FlaskClient, zone: str) -> None:
    add(client, zone)
    for address in (f"{zone}/documents/new", "/documents/1", "/documents"):
        page = Page(client.get(address).text)
        labelled = {label["for"] for label in page.all("label")}
        controls = [*page.all("input"), *page.all("select"), *page.all("textarea")]
        ids = {c["id"] for c in controls if c.get("type") != "hidden"}
        assert ids <= labelled, address


def test_a_long_list_asks_no_more_of_the_store_than_a_short_one(
    client: FlaskClient, app: Flask, zone: str
) -> None:
    def asked() -> int:
        with counted(app) as statements:
            client.get("/documents")
        return len(statements)

    add(client, zone, b"0")
    few = asked()
    for number in range(1, 8):
        add(client, zone, str(number).encode(), layer=str(number))
    assert asked() == few


def test_documents_that_are_held_are_rows_with_files(client: FlaskClient, app: Flask) -> None:
    survey = id_of(app, Zone, "COVERED")
    add(client, f"/zones/{survey}")
    with app.app_context(), store.reading() as session:
        row = session.scalars(sa.select(Document)).one()
        fact = session.get_one(Survey, row.supports[0].fact_id)
        assert (row.size, fact.zone_id) == (len(PDF), survey)

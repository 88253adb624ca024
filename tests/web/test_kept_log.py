"""A log that was added to a test as a document is judged on a page, and a part of it enlarged."""

import hashlib
import io

import openpyxl
import pytest
from flask import Flask
from flask.testing import FlaskClient

from portfolio.db.models import TestRecord
from portfolio.services.documents.contents import contents_for
from portfolio.web import store
from tests.cli.test_classify import NOT_SEEN, log_text
from tests.domain.invented_log import stretch
from tests.web.reading import Page, rows
from tests.web.sending import send, values_of
from tests.web.test_documents import add, id_of

FAILING = log_text({"L2 main": stretch(700.0, 500, 600)}).encode()


@pytest.fixture
def log(app: Flask, client: FlaskClient) -> str:
    """The page of the log, which is document 1; document 2 tells what was seen."""
    page = f"/tests/{id_of(app, TestRecord, 'T-PASS')}"
    assert add(client, page, FAILING, "log.csv").location == "/documents/1"
    assert add(client, page, NOT_SEEN.encode(), "seen.csv").location == "/documents/2"
    return "/documents/1/log?ignition=300&observations=2"


def test_it_is_judged_by_the_criteria_that_the_tests_record_names(
    client: FlaskClient, log: str
) -> None:
    answer = client.get(log)
    assert answer.status_code == 200
    # the record of T-PASS: BS 8414 part 1, edition 2015, annex A
    assert "annex A: not met." in Page(answer.text).text("main")
    [external] = [row for row in rows(answer.text) if row[0] == "External fire spread"]
    assert external[4:7] == ["TC3", "8:19.3", "6:39.3"]


def test_the_rig_is_drawn_when_the_hottest_channel_has_been_read(
    client: FlaskClient, log: str
) -> None:
    rig = client.get(log).text.partition('class="drawing drawing-rig"')[2].partition("</svg>")[0]
    assert "Rises 8:20 after ignition" in rig
    assert ">700<" in rig


def test_its_document_leads_to_it(client: FlaskClient, log: str) -> None:
    hrefs = [link.get("href") for link in Page(client.get("/documents/1").text).all("a")]
    assert log.partition("?")[0] in hrefs


def test_a_stretch_and_some_channels_are_drawn_and_the_judgement_stays(
    client: FlaskClient, log: str
) -> None:
    whole = client.get(log).text
    part = client.get(f"{log}&from=7&until=11&channel=TC3").text
    assert part.count('class="drawing drawing-traces"') == 1
    assert whole.count('class="drawing drawing-traces"') == 4
    assert rows(part) == rows(whole)
    [ticked] = [box for box in Page(part).all("input") if "checked" in box]
    assert ticked["value"] == "TC3"


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("from=900&until=901", "Nothing was recorded"),
        ("from=-1000&until=-900", "Nothing was recorded"),
        ("from=11&until=7", "ends before it begins"),
        ("channel=NOBODY", "no such channel"),
        ("channel=TC3&channel=NOBODY", "no such channel"),
        ("minute=-3", "This is no minute."),
        *(
            (f"{name}={value}", "This is no minute.")
            for name in ("minute", "from", "until")
            for value in ("1e308", "-1e308", "inf", "nan", "1441", "-1441")
        ),
    ],
)
def test_a_part_that_cannot_be_drawn_is_refused(
    client: FlaskClient, log: str, query: str, words: str
) -> None:
    answer = client.get(f"{log}&{query}")
    assert answer.status_code == 400
    assert words in answer.text
    assert 'class="drawing' not in answer.text


@pytest.mark.parametrize("query", ["from=-5&until=0", "from=7&until=7", "minute=0", "minute=1440"])
def test_the_edges_of_what_can_be_drawn_are_drawn(
    client: FlaskClient, log: str, query: str
) -> None:
    assert client.get(f"{log}&{query}").status_code == 200


@pytest.mark.parametrize("damage", ["missing", "altered"])
@pytest.mark.parametrize(
    ("content", "named"),
    [
        (FAILING, "The log, log.csv (document 1)"),
        (NOT_SEEN.encode(), "The list of observations, seen.csv (document 2)"),
    ],
)
def test_of_the_files_of_a_log_the_damaged_one_is_named(
    client: FlaskClient, log: str, content: bytes, named: str, damage: str
) -> None:
    with client.application.app_context():
        folder = contents_for(store.engine()).folder
    (path,) = [one for one in folder.glob("*/*") if one.read_bytes() == content]
    if damage == "missing":
        path.unlink()
    else:
        path.write_bytes(b"another")
    answer = client.get(log)
    assert answer.status_code == 500
    assert f"{named}, is missing or not as it was added." in answer.text
    assert answer.text.count("(document ") == 1


def test_the_page_names_its_document_and_the_content_of_it(client: FlaskClient, log: str) -> None:
    shown = Page(client.get(log).text).text("main")
    assert f"log.csv, document 1, SHA-256 {hashlib.sha256(FAILING).hexdigest()}" in shown


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("minute=soon", "This is no minute."),
        ("from=1e999", "This is no minute."),
        ("observations=two", "number"),
        ("annex=Z", "no choice"),
        ("colour=red", "no such filter"),
    ],
)
def test_what_makes_no_sense_is_said(client: FlaskClient, log: str, query: str, words: str) -> None:
    answer = client.get(f"{log.partition('?')[0]}?{query}")
    assert answer.status_code == 400
    assert words in answer.text


def test_what_is_no_log_is_refused_in_words(app: Flask, client: FlaskClient) -> None:
    page = f"/tests/{id_of(app, TestRecord, 'T-PASS')}"
    add(client, page, b"%PDF-1.7 a report", "report.pdf")
    answer = client.get("/documents/1/log")
    assert answer.status_code == 400
    assert "report.pdf" in answer.text


def test_a_document_that_is_not_there_is_not_there(client: FlaskClient, log: str) -> None:
    assert client.get("/documents/99/log").status_code == 404
    answer = client.get(f"{log.partition('?')[0]}?observations=99")
    assert answer.status_code == 400
    assert "The list of observations of this log is not there for you to see." in answer.text


# --- what is kept with it ------------------------------------------------------------------------

KEPT = {
    "ignition": "5:00",
    "criteria": "BR 135, third edition (2013), annex A",
    "test_edition": "2015",
    "observations": "2",
}
READING = "/documents/1/log/reading"


def test_what_is_kept_opens_the_page_and_the_address_overrides_it(
    client: FlaskClient, log: str
) -> None:
    answer = send(client, READING, **KEPT)
    assert answer.location == "/documents/1/log"
    page = client.get("/documents/1/log").text
    assert "annex A: not met." in Page(page).text("main")
    assert rows(page) == rows(client.get(f"{log}&annex=A&edition=2015").text)
    other = client.get("/documents/1/log?ignition=400&annex=B").text
    assert "annex B" in Page(other).text("main")
    assert "judged otherwise than it is kept" in other
    assert "judged otherwise than it is kept" not in page
    # looking at it otherwise has changed nothing
    assert rows(client.get("/documents/1/log").text) == rows(page)


def test_what_the_address_asks_for_can_be_kept(client: FlaskClient, log: str) -> None:
    page = Page(client.get(f"{log}&annex=B").text)
    [href] = [a["href"] for a in page.all("a") if READING in (a.get("href") or "")]
    values = values_of(client.get(href or "").text)
    told = {name: values[name] for name in ("ignition", "observations", "criteria")}
    assert told == {
        "ignition": "300",
        "observations": "2",
        "criteria": "BR 135, third edition (2013), annex B",
    }
    assert client.post(READING, data=values).status_code == 302
    assert "annex B" in Page(client.get("/documents/1/log").text).text("main")


def test_two_who_keep_it_see_both_versions(client: FlaskClient, log: str) -> None:
    stale = values_of(client.get(READING).text)
    send(client, READING, **KEPT)
    answer = client.post(READING, data=stale | KEPT | {"ignition": "301"})
    assert answer.status_code == 409
    assert "Somebody else has saved this in the meantime" in answer.text
    assert ["Ignition", "301", "5:00"] in rows(answer.text)
    again = values_of(answer.text)
    assert client.post(READING, data=again).status_code == 302
    assert values_of(client.get(READING).text)["ignition"] == "301"


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("ignition", "at noon", "ignition"),
        ("criteria", "BR 999", "Not a valid choice"),
        ("observations", "77", "Not a valid choice"),
        ("channels", "2", "seen.csv"),
    ],
)
def test_a_reading_by_which_the_log_cannot_be_read_is_not_kept(
    client: FlaskClient, log: str, field: str, value: str, words: str
) -> None:
    answer = send(client, READING, **KEPT | {field: value})
    assert answer.status_code == 400
    assert words.casefold() in answer.text.casefold()
    assert "Nobody has said yet how this log is read" in client.get("/documents/1/log").text


# --- its answers in the record -------------------------------------------------------------------


@pytest.fixture
def record(app: Flask, client: FlaskClient, log: str) -> str:
    """The page that takes the answers into the record of T-PASS, of a log that is kept."""
    send(client, READING, **KEPT)
    return f"/documents/1/log/tests/{id_of(app, TestRecord, 'T-PASS')}"


def test_the_log_leads_to_its_record_once_its_reading_is_kept(
    app: Flask, client: FlaskClient, log: str
) -> None:
    address = f"/documents/1/log/tests/{id_of(app, TestRecord, 'T-PASS')}"
    assert address not in client.get(log).text
    assert client.get(address).status_code == 400
    send(client, READING, **KEPT)
    assert address in client.get("/documents/1/log").text


def test_what_would_change_is_shown_and_confirmed(client: FlaskClient, record: str) -> None:
    page = client.get(record).text
    assert ["External spread", "met", "not met"] in [row[:3] for row in rows(page)]
    assert ["Run time (s)", "unknown", "3600"] in [row[:3] for row in rows(page)]
    assert "Zones whose coverage would change" in page
    answer = client.post(record, data=values_of(page))
    assert answer.status_code == 302
    test = client.get(answer.location).text
    assert "COVERED" in test
    assert "From the log log.csv (document 1), SHA-256" in test
    again = client.get(record).text
    assert "Nothing would change" in again
    assert "Take these answers" not in again


def test_what_was_not_shown_is_not_saved(client: FlaskClient, record: str) -> None:
    shown = values_of(client.get(record).text)
    send(client, READING, ignition="310")
    for data in (shown, shown | {"shown": "1 1 no_early_end=not-met"}):
        answer = client.post(record, data=data)
        assert answer.status_code == 409
        assert "has changed meanwhile" in answer.text
    # what is shown now can be confirmed
    assert client.post(record, data=values_of(answer.text)).status_code == 302


def test_a_request_without_the_forms_mark_saves_nothing(client: FlaskClient, record: str) -> None:
    assert client.post(record, data={"shown": "1 1"}).status_code == 400
    assert "Take these answers" in client.get(record).text


# --- as files ------------------------------------------------------------------------------------


def test_the_answers_and_the_readings_are_given_as_files_as_the_log_is_kept(
    client: FlaskClient, log: str
) -> None:
    send(client, READING, **KEPT)
    page = Page(client.get("/documents/1/log").text)
    links = [a["href"] for a in page.all("a") if a.get("href", "").startswith("?")]
    assert len(links) == 4
    [book, *tables] = [client.get(f"/documents/1/log{href}") for href in links]
    workbook = openpyxl.load_workbook(io.BytesIO(book.data))
    assert "annex A: not met." in workbook["Conclusion"]["B2"].value
    assert len(workbook["Charts"]._charts) == 4
    readings = list(workbook["Readings"].iter_rows(values_only=True))
    assert (readings[0][0], readings[1][0]) == ("Time from ignition (s)", -300)
    heads = [table.data.decode("utf-8-sig").partition(",")[0] for table in tables]
    assert heads == ["Criterion", "Channel", "Time from ignition (s)"]
    assert tables[2].text.count("\n") == len(readings)
    # an address that asks for another reading is given that one
    other = client.get("/documents/1/log?ignition=400&format=csv&table=readings").text
    assert "\n-400,18" in other


def test_a_log_that_cannot_be_read_is_no_file(client: FlaskClient, log: str) -> None:
    answer = client.get("/documents/1/log?ignition=noon&format=xlsx")
    assert answer.status_code == 400
    assert answer.mimetype == "text/html"

"""A log that was added to a test as a document is judged on a page, and a part of it enlarged."""

import pytest
from flask import Flask
from flask.testing import FlaskClient

from portfolio.db.models import TestRecord
from tests.cli.test_classify import NOT_SEEN, log_text
from tests.domain.invented_log import stretch
from tests.web.reading import Page, rows
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


def test_a_part_without_anything_in_it_is_drawn_empty(client: FlaskClient, log: str) -> None:
    assert client.get(f"{log}&from=9000&until=9001").status_code == 200
    assert client.get(f"{log}&from=11&until=7").status_code == 200
    assert client.get(f"{log}&channel=NOBODY").status_code == 200


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
    assert client.get(f"{log.partition('?')[0]}?observations=99").status_code == 404

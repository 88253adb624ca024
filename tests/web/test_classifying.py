"""A logger's file judged on a page; the log is invented, and nothing of it is kept."""

import io
from typing import Any

import openpyxl
import pytest
import sqlalchemy as sa
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from portfolio.db import models
from portfolio.domain.caution import CAUTION
from portfolio.web import downloads, store
from tests.cli.test_classify import NOT_SEEN, log_text
from tests.domain.invented_log import stretch
from tests.web.reading import Page, rows
from tests.web.sending import values_of

FAILING = log_text({"L2 main": stretch(700.0, 500, 600)})
ASKED = {"ignition": "300", "annex": "B", "test_edition": "2015+A1:2017"}


def judged(client: FlaskClient, log: str = FAILING, **given: Any) -> TestResponse:
    """Hand a log in as a browser does; nothing seen unless given otherwise."""
    values = values_of(client.get("/classify").text)
    files = {
        "log": (io.BytesIO(log.encode()), "log.csv"),
        "observations": (io.BytesIO(NOT_SEEN.encode()), "seen.csv"),
    }
    found: TestResponse = client.post("/classify", data=values | ASKED | files | given)
    return found


def test_the_page_answers_criterion_by_criterion_with_both_clocks(client: FlaskClient) -> None:
    answer = judged(client)
    assert answer.status_code == 200
    assert "By BR 135, third edition (2013), annex B: not met." in Page(answer.text).text("main")
    (external,) = [row for row in rows(answer.text) if row[0] == "External fire spread"]
    # 600 K six sevenths of the way from 495 s to 500 s; ts at 100 s
    assert external[1] == "not met"
    assert external[4:7] == ["TC3", "8:19.3", "6:39.3"]
    assert external[9] == "from memory"


def test_the_page_draws_the_chart_and_the_rig_at_the_minute_asked_for(client: FlaskClient) -> None:
    text = judged(client, minute="9").text
    assert text.count('class="drawing drawing-traces"') == 4
    assert text.count('class="drawing drawing-rig"') == 1
    assert "Rises 9:00 after ignition" in text
    page = Page(text)
    ids = [attributes["id"] for _, attributes in page.elements if "id" in attributes]
    assert len(ids) == len(set(ids))
    assert CAUTION in page.text("footer")
    # the form still says what was asked
    assert values_of(text)["ignition"] == "300"


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"ignition": "noon"}, "The time of ignition cannot be read"),
        ({"minute": "late"}, "This is no minute"),
        ({"minute": "nan"}, "This is no minute"),
        ({"annex": "Z"}, "Nothing has been saved"),
        ({"given_as": "pdf"}, "Nothing has been saved"),
    ],
)
def test_what_cannot_be_used_is_refused_on_the_page(
    client: FlaskClient, given: dict[str, Any], said: str
) -> None:
    answer = judged(client, **given)
    assert answer.status_code == 400
    assert said in Page(answer.text).text("main")


def test_without_a_file_the_page_asks_for_one(client: FlaskClient) -> None:
    values = values_of(client.get("/classify").text)
    answer = client.post("/classify", data=values | ASKED)
    assert answer.status_code == 400
    assert "Choose the file of a log first." in Page(answer.text).text("main")


def test_every_problem_of_a_file_is_listed_with_its_place(client: FlaskClient) -> None:
    answer = judged(client, "Time s,L1 ext main\n0,warm\nx,18\n")
    assert answer.status_code == 400
    told = Page(answer.text).text("main")
    assert 'log.csv, row 2, column "L1 ext main"' in told
    assert 'log.csv, row 3, column "Time s"' in told


def test_markup_in_a_file_is_text(client: FlaskClient) -> None:
    log = FAILING.replace("TC3", "<b>TC3</b>")
    assert "<b>TC3" not in judged(client, log).text


@pytest.mark.parametrize(
    ("kind", "mimetype", "first"),
    [
        ("criteria", downloads.CSV, "Criterion,Answer"),
        ("channels", downloads.CSV, "Channel,Place"),
        ("readings", downloads.CSV, "Time from ignition (s),TC1 (°C)"),
    ],
)
def test_tables_are_given_as_csv(client: FlaskClient, kind: str, mimetype: str, first: str) -> None:
    answer = judged(client, given_as=kind)
    assert (answer.status_code, answer.content_type) == (200, mimetype)
    assert answer.data.decode("utf-8-sig").startswith(first)


def test_the_workbook_has_native_charts(client: FlaskClient) -> None:
    answer = judged(client, given_as="xlsx")
    assert answer.content_type == downloads.XLSX
    book = openpyxl.load_workbook(io.BytesIO(answer.data))
    assert len(book["Charts"]._charts) == 4


def test_nothing_but_the_handing_out_is_stored(app: Flask, client: FlaskClient) -> None:
    def counts() -> tuple[int, int]:
        with app.app_context(), store.reading() as session:
            events = session.scalar(sa.select(sa.func.count()).select_from(models.Event)) or 0
            tests = session.scalar(sa.select(sa.func.count()).select_from(models.TestRecord)) or 0
            return events, tests

    before = counts()
    judged(client)
    assert counts() == before
    judged(client, given_as="criteria")
    assert counts() == (before[0] + 1, before[1])

"""The answers of a kept log go into its test's record: shown beforehand, saved like a change."""

import hashlib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from portfolio.db.documents import Document
from portfolio.db.life import Reopened
from portfolio.db.models import Event, TestRecord
from portfolio.domain.documents import SeenBy
from portfolio.domain.errors import ForbiddenError, InputError, NotFoundError
from portfolio.domain.evidence import Answer3, Outcome
from portfolio.domain.rights import Role
from portfolio.services import editing
from portfolio.services.editing import Saved, StaleError
from portfolio.services.editing_tests import editable_test, save_test
from portfolio.services.log_answers import (
    AnswersPage,
    answers_page,
    read_answers,
    records_to_answer,
    take_answers,
)
from portfolio.services.log_readings import ReadingFacts, keep_reading
from portfolio.services.viewer import Viewer
from tests.cli.test_classify import NOT_SEEN, log_text
from tests.domain.invented_log import stretch
from tests.services.documents_support import Papers, papers_in
from tests.web.portfolios import ON

MET, NOT_MET, UNKNOWN = Answer3
FAILING = {"L2 main": stretch(700.0, 500, 600)}


@pytest.fixture
def papers(database_url: str, tmp_path: Path) -> Iterator[Papers]:
    """The north's zone is covered by its test T-north, of BS 8414 part 1."""
    with papers_in(database_url, tmp_path / "documents") as found:
        yield found


def keep_log(papers: Papers, courses: Any = None, seen: str = NOT_SEEN, **more: Any) -> int:
    """A log of the north's test, with how it is read."""
    north, test = papers.estate.viewer("north"), papers.test("T-north")
    content = log_text(courses).encode()
    shown = SeenBy.WITH_FACT
    log = papers.add(north, test, content=content, name="log.csv", reference="LOG-7", seen_by=shown)
    told = papers.add(north, test, content=seen.encode(), name="seen.csv")
    facts = ReadingFacts("300", class_annex="A", test_edition="2015", observations=told.id)
    with papers.estate.writing() as session:
        keep_reading(session, north, log.id, replace(facts, **more), revision=0, on=ON)
    return log.id


def shown(papers: Papers, log: int, viewer: Viewer | None = None) -> AnswersPage:
    by, test = viewer or papers.estate.viewer("north"), papers.test("T-north").id
    with papers.estate.reading() as session:
        read = read_answers(session, by, papers.contents, log, test, on=ON)
        return answers_page(session, by, read, test, ON)


def take(papers: Papers, page: AnswersPage) -> Saved:
    with papers.estate.writing() as session:
        by = papers.estate.viewer("north")
        return take_answers(session, by, page.read, page.test_id, revision=page.revision, on=ON)


def record(papers: Papers) -> TestRecord:
    with papers.estate.reading() as session:
        return session.get_one(TestRecord, papers.test("T-north").id)


def coverages(papers: Papers) -> dict[int, str]:
    with papers.estate.reading() as session:
        return editing.coverages(session)


def test_what_would_change_is_shown_and_then_saved(papers: Papers) -> None:
    page = shown(papers, keep_log(papers, FAILING))
    told = [(line.answer.title, line.before, line.answer.value) for line in page.changes]
    assert told == [("External spread", MET, NOT_MET), ("Run time (s)", None, 3600)]
    assert [line.answer.field for line in page.untold] == ["burn_through"]
    assert page.effects is not None
    [zone] = page.effects.zones
    assert (zone.zone_ref, zone.before, zone.after) == ("Z-north", "covered", "contradicted")
    # nothing is written until it is confirmed
    assert (record(papers).external_spread, record(papers).revision) == (MET, 1)
    saved = take(papers, page)
    assert saved.changes == page.effects.zones
    row = record(papers)
    assert (row.external_spread, row.run_seconds, row.revision) == (NOT_MET, 3600, 2)
    # the printed outcome and the classification stay what the papers say
    assert (row.printed_outcome, row.class_annex) == (Outcome.PASSED, "A")


def test_the_change_log_says_which_log_it_came_from(papers: Papers) -> None:
    log = keep_log(papers, FAILING)
    page = shown(papers, log)
    take(papers, page)
    with papers.estate.reading() as session:
        event = session.scalars(sa.select(Event).filter_by(subject="test")).one()
        reopened = session.scalars(sa.select(Reopened)).all()
    assert event.changes == {"external_spread": ["met", "not-met"], "run_seconds": [None, 3600]}
    sha256 = hashlib.sha256(log_text(FAILING).encode()).hexdigest()
    assert event.reason == (
        f"From the log LOG-7 (document {log}), SHA-256 {sha256}, judged by BR 135, third edition "
        "(2013), annex A."
    )
    assert [row.subject_ref for row in reopened] == ["B-north / Z-north"]


def test_what_cannot_be_told_never_takes_the_place_of_something_recorded(papers: Papers) -> None:
    page = shown(papers, keep_log(papers, seen="Observation,Seen\nflames-above-rig,yes\n"))
    assert {line.answer.field for line in page.untold} == {
        "burn_through",
        "no_early_end",
        "run_seconds",
    }
    take(papers, page)
    row = record(papers)
    assert (row.no_flames_above_rig, row.no_early_end, row.run_seconds) == (NOT_MET, MET, None)


def test_a_record_that_says_so_already_is_left_alone(papers: Papers) -> None:
    log = keep_log(papers)
    take(papers, shown(papers, log))
    page = shown(papers, log)
    assert (page.changes, page.effects) == ((), None)
    take(papers, page)
    assert record(papers).revision == 2


def test_a_record_that_was_changed_meanwhile_is_not_overwritten(papers: Papers) -> None:
    page = shown(papers, keep_log(papers, FAILING))
    with papers.estate.writing() as session:
        north = papers.estate.viewer("north")
        opened = editable_test(session, north, page.test_id)
        facts = replace(opened.facts, title="Another")
        save_test(session, north, page.test_id, facts, revision=1, on=ON)
    with pytest.raises(StaleError):
        take(papers, page)
    assert record(papers).external_spread is MET


def test_answers_of_a_reading_that_was_changed_meanwhile_are_not_saved(papers: Papers) -> None:
    log = keep_log(papers, FAILING)
    page = shown(papers, log)
    with papers.estate.writing() as session:
        north = papers.estate.viewer("north")
        keep_reading(session, north, log, ReadingFacts("200"), revision=1, on=ON)
    with pytest.raises(StaleError):
        take(papers, page)
    assert record(papers).external_spread is MET


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        ({"class_annex": "B"}, "another part of the test"),
        ({"class_annex": "B"}, "another annex"),
        ({"test_edition": "2020"}, "another edition of the test"),
        ({"class_annex": ""}, "by which criteria"),
    ],
)
def test_answers_for_another_test_than_the_records_are_refused(
    papers: Papers, reading: dict[str, str], words: str
) -> None:
    log = keep_log(papers, **reading)
    with pytest.raises(InputError, match=words):
        shown(papers, log)


def test_what_is_not_kept_is_not_taken(papers: Papers) -> None:
    north = papers.estate.viewer("north")
    content = log_text().encode()
    log = papers.add(north, papers.test("T-north"), content=content, name="log.csv").id
    with pytest.raises(InputError, match="Keep how this log is read first"):
        shown(papers, log)


def test_only_who_may_change_the_record_is_offered_it(papers: Papers) -> None:
    log, estate = keep_log(papers), papers.estate
    reader = estate.viewer("north", Role.READER)
    with estate.reading() as session:
        north = estate.viewer("north")
        assert [ref for _, ref in records_to_answer(session, north, log)] == ["T-north"]
        for other in (reader, estate.viewer("south")):
            assert records_to_answer(session, other, log) == []
    with pytest.raises(ForbiddenError):
        shown(papers, log, reader)
    with pytest.raises(NotFoundError):
        shown(papers, log, estate.viewer("south"))


def test_a_log_speaks_of_the_tests_that_it_supports_only(papers: Papers) -> None:
    log, south = keep_log(papers), papers.estate.viewer("south")
    test = papers.test("T-south").id
    with papers.estate.reading() as session, pytest.raises(NotFoundError):
        read_answers(session, south, papers.contents, log, test, on=ON)


ORDERS = [(FAILING, None), (None, FAILING)]


@pytest.mark.parametrize("courses", ORDERS, ids=["failing first", "failing second"])
def test_no_log_acquits_what_another_one_of_the_test_says_is_not_met(
    papers: Papers, courses: tuple[Any, Any]
) -> None:
    logs = [keep_log(papers, course) for course in courses]
    failing = logs[courses.index(FAILING)]
    expected = MET
    for log in (*logs, *reversed(logs)):
        page = shown(papers, log)
        told = {line.answer.field: line for line in page.untold}
        if log == failing:
            expected = NOT_MET
        else:
            reason = told["external_spread"].answer.reason
            assert f"LOG-7 (document {failing}), says not met" in reason
        take(papers, page)
        assert record(papers).external_spread is expected


def test_early_end_and_how_long_it_ran_are_held_back_together(papers: Papers) -> None:
    """Of the log that knows of no early end, where another one saw it."""
    ended = NOT_SEEN.replace("early-end,no,,", "early-end,yes,10:00,")
    assert ended != NOT_SEEN
    early = keep_log(papers, seen=ended)
    page = shown(papers, keep_log(papers, {"L2 main": stretch(20.0, 500, 600)}))
    held = {line.answer.field: line.answer.reason for line in page.untold}
    for field in ("no_early_end", "run_seconds"):
        assert f"(document {early}), says not met" in held[field]


def test_nothing_is_acquitted_beside_a_log_that_cannot_be_judged(papers: Papers) -> None:
    damaged = keep_log(papers, FAILING)
    log = keep_log(papers)
    with papers.estate.reading() as session:
        sha256 = session.get_one(Document, damaged).sha256
    papers.contents._place(sha256).write_bytes(b"altered")
    page = shown(papers, log)
    assert [line.answer.value for line in page.changes + page.same] == []
    assert "cannot be judged, and may say not met" in page.untold[0].answer.reason


def test_answers_beside_a_log_whose_reading_was_changed_meanwhile_are_not_saved(
    papers: Papers,
) -> None:
    other, log = keep_log(papers, FAILING, ignition=""), keep_log(papers)
    page = shown(papers, log)
    with papers.estate.writing() as session:
        north = papers.estate.viewer("north")
        keep_reading(session, north, other, ReadingFacts("300"), revision=1, on=ON)
    with pytest.raises(StaleError):
        take(papers, page)

"""How a log is read is kept with it, saved by one at a time, and asked again for everybody."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
import sqlalchemy as sa

from portfolio.db.models import Event
from portfolio.domain.documents import SeenBy
from portfolio.domain.errors import ForbiddenError, InputError, NotFoundError
from portfolio.domain.evidence import Answer3
from portfolio.domain.rights import Role
from portfolio.services.editing import StaleError
from portfolio.services.history import SOMEBODY
from portfolio.services.kept_logs import judge_kept_log, opening_reading
from portfolio.services.log_readings import (
    KeptReading,
    ReadingFacts,
    keep_reading,
    kept_reading,
    lists_beside,
    lists_seen,
)
from portfolio.services.viewer import Viewer
from tests.cli.test_classify import NOT_SEEN, log_text
from tests.services.documents_support import Papers, papers_in
from tests.web.portfolios import ON

READING = ReadingFacts("300", "BR 135", "third edition (2013)", "A", "2015")


@pytest.fixture
def papers(database_url: str, tmp_path: Path) -> Iterator[Papers]:
    with papers_in(database_url, tmp_path / "documents") as found:
        yield found


@pytest.fixture
def log(papers: Papers) -> int:
    """A log of the south's test, which the north may see in full."""
    south, test = papers.estate.viewer("south"), papers.test("T-south")
    shown = SeenBy.WITH_FACT
    return papers.add(south, test, content=log_text().encode(), name="log.csv", seen_by=shown).id


def seen(papers: Papers, whose: str = "south", seen_by: SeenBy = SeenBy.WITH_FACT) -> int:
    """A list of observations beside the log."""
    by, test = papers.estate.viewer(whose), papers.test(f"T-{whose}")
    content = NOT_SEEN.encode()
    return papers.add(by, test, content=content, name="seen.csv", seen_by=seen_by).id


def keep(
    papers: Papers,
    log: int,
    facts: ReadingFacts = READING,
    revision: int = 0,
    viewer: Viewer | None = None,
) -> None:
    with papers.estate.writing() as session:
        by = viewer or papers.estate.viewer("south")
        keep_reading(session, by, log, facts, revision=revision, on=ON)


def kept(papers: Papers, log: int, whose: str = "south") -> KeptReading | None:
    with papers.estate.reading() as session:
        return kept_reading(session, papers.estate.viewer(whose), log, ON)


def events(papers: Papers) -> list[Event]:
    with papers.estate.reading() as session:
        return list(session.scalars(sa.select(Event).filter_by(subject="log reading")))


def test_what_is_kept_opens_the_log_for_whoever_sees_it(papers: Papers, log: int) -> None:
    assert kept(papers, log) is None
    keep(papers, log)
    found = kept(papers, log)
    assert found == KeptReading(READING, "A. Person, south", ON, 1)
    # who works for the holder is not told to others
    assert kept(papers, log, "north") == KeptReading(READING, SOMEBODY, ON, 1)
    with papers.estate.reading() as session:
        opened, _ = opening_reading(session, papers.estate.viewer("north"), log, ON)
    assert opened == READING


def test_who_kept_what_stands_in_the_log_with_the_whole_state(papers: Papers, log: int) -> None:
    keep(papers, log)
    keep(papers, log, ReadingFacts("290", test_edition="2015"), 1)
    first, second = events(papers)
    assert (first.action, second.action) == ("kept", "changed")
    assert first.actor == "A. Person, south"
    assert first.changes["ignition"] == ["", "300"]
    assert second.changes == {
        "ignition": ["300", "290"],
        "class_document": ["BR 135", ""],
        "class_edition": ["third edition (2013)", ""],
        "class_annex": ["A", ""],
    }
    assert second.state is not None
    assert (second.state["ignition"], second.state["document_id"]) == ("290", log)


def test_saving_the_same_again_writes_nothing(papers: Papers, log: int) -> None:
    keep(papers, log)
    keep(papers, log, READING, 1)
    assert len(events(papers)) == 1


@pytest.mark.parametrize("first", [(), (READING,)])
def test_the_second_of_two_saves_is_told_of_the_first(
    papers: Papers, log: int, first: tuple[ReadingFacts, ...]
) -> None:
    for facts in first:
        keep(papers, log, facts)
    revision, mine = len(first), ReadingFacts("310")
    keep(papers, log, mine, revision)
    with pytest.raises(StaleError) as told:
        keep(papers, log, ReadingFacts("320"), revision)
    assert (told.value.stored, told.value.revision) == (mine, revision + 1)
    found = kept(papers, log)
    assert found is not None
    assert found.facts == mine


def test_only_editors_of_the_holder_say_how_a_log_is_read(papers: Papers, log: int) -> None:
    with pytest.raises(ForbiddenError):
        keep(papers, log, viewer=papers.estate.viewer("south", Role.READER))
    with pytest.raises(ForbiddenError):
        keep(papers, log, viewer=papers.estate.viewer("north"))
    with pytest.raises(NotFoundError):
        keep(papers, log, viewer=papers.estate.viewer("consult"))
    assert kept(papers, log) is None


def test_a_list_that_the_editor_does_not_see_cannot_be_named(papers: Papers, log: int) -> None:
    foreign = seen(papers, "north", SeenBy.OWN)
    with pytest.raises(InputError, match="no such document") as told:
        keep(papers, log, ReadingFacts("300", observations=foreign))
    assert [problem.column for problem in told.value.problems] == ["observations"]


def test_lists_are_offered_from_the_documents_of_the_same_test(papers: Papers, log: int) -> None:
    south = papers.estate.viewer("south")
    beside = seen(papers)
    papers.add(south, papers.test("T-south"), name="report.pdf")
    papers.add(south, papers.survey("S-south"), content=b"a,b", name="other.csv")
    with papers.estate.reading() as session:
        assert [row.id for row in lists_beside(session, south, log, ON)] == [beside]


def test_a_log_is_judged_as_it_is_kept(papers: Papers, log: int) -> None:
    south = papers.estate.viewer("south")
    keep(papers, log, ReadingFacts("300", class_annex="A", observations=seen(papers)))
    with papers.estate.reading() as session:
        opened, _ = opening_reading(session, south, log, ON)
        done = judge_kept_log(session, south, papers.contents, log, opened, on=ON)
    assert done.found.criteria.no_flames_above_rig is Answer3.MET
    assert done.found.ignition_s == 300.0


def test_who_does_not_see_the_list_is_not_shown_another_answer(papers: Papers, log: int) -> None:
    hidden = seen(papers, seen_by=SeenBy.OWN)
    keep(papers, log, ReadingFacts("300", class_annex="A", observations=hidden))
    north = papers.estate.viewer("north")
    with papers.estate.reading() as session:
        opened, _ = opening_reading(session, north, log, ON)
        assert lists_seen(session, papers.estate.viewer("south"), opened, ON) == {hidden}
        assert lists_seen(session, north, opened, ON) == frozenset()
        with pytest.raises(InputError, match="list of observations of this log is not there"):
            judge_kept_log(session, north, papers.contents, log, opened, on=ON)


def test_a_reading_kept_on_a_day_bears_that_day(papers: Papers, log: int) -> None:
    with papers.estate.writing() as session:
        south = papers.estate.viewer("south")
        keep_reading(session, south, log, READING, revision=0, on=date(2026, 2, 3))
    found = kept(papers, log)
    assert found is not None
    assert found.on == date(2026, 2, 3)

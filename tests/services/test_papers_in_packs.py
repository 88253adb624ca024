"""A pack is overtaken by what happens to the papers that stand in it, and to nobody else's."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
import sqlalchemy as sa

from portfolio.db.documents import DocumentSupport
from portfolio.db.life import Concerned, PackMade, Reopened
from portfolio.db.models import Organisation, TestConsent
from portfolio.db.people import BuildingGrant
from portfolio.domain.documents import SeenBy, SupportedFact
from portfolio.domain.evidence import Shows
from portfolio.domain.rights import Access
from portfolio.services.documents.adding import detach
from portfolio.services.handing_out import keep_pack
from portfolio.services.log_changes import LogEffects, foreseen_of_log
from portfolio.services.log_readings import ReadingFacts, keep_reading
from portfolio.services.packs import building_pack
from portfolio.services.papers_in_packs import UNTOLD
from tests.cli.test_classify import log_text
from tests.services.documents_support import Papers, papers_in
from tests.web.portfolios import ON

READING = ReadingFacts("300", class_annex="A", test_edition="2015")
OTHERWISE = [
    replace(READING, ignition="200"),
    replace(READING, ignition=""),
    replace(READING, class_annex="B"),
    replace(READING, test_edition=""),
]


@pytest.fixture
def papers(database_url: str, tmp_path: Path) -> Iterator[Papers]:
    """The north leans on its own test, and on the south's, which it sees in full."""
    with papers_in(database_url, tmp_path / "documents") as found:
        with found.estate.writing() as session:
            session.add(
                BuildingGrant(
                    building_id=found.building("B-north"),
                    organisation_id=found.estate.organisation("consult"),
                    access=Access.EDIT,
                    from_day=date(2026, 1, 1),
                    granted_by="A. Person",
                )
            )
        yield found


def add_log(papers: Papers, whose: str, seen_by: SeenBy = SeenBy.WITH_FACT) -> int:
    by, test = papers.estate.viewer(whose), papers.test(f"T-{whose}")
    shown = {"name": "log.csv", "reference": "LOG-7", "seen_by": seen_by}
    return papers.add(by, test, content=log_text().encode(), **shown).id


def read(papers: Papers, log: int, whose: str, facts: ReadingFacts, revision: int) -> None:
    with papers.estate.writing() as session:
        by = papers.estate.viewer(whose)
        keep_reading(session, by, log, facts, revision=revision, on=ON)


def make_pack(papers: Papers, whose: str = "north") -> None:
    building = papers.building(f"B-{whose}")
    with papers.estate.writing() as session:
        by = papers.estate.viewer(whose)
        keep_pack(session, by, building_pack(session, by, building, ON))


def because(papers: Papers) -> list[str]:
    with papers.estate.reading() as session:
        query = sa.select(PackMade.overtaken_because).order_by(PackMade.id)
        return list(session.scalars(query))


def foreseen(papers: Papers, log: int, whose: str, *, was_kept: bool = True) -> LogEffects:
    with papers.estate.reading() as session:
        by = papers.estate.viewer(whose)
        return foreseen_of_log(session, by, log, ON, was_kept=was_kept)


def looked_at_again(papers: Papers) -> list[tuple[str, str]]:
    with papers.estate.reading() as session:
        rows = session.scalars(sa.select(Reopened).order_by(Reopened.id)).all()
    return [
        (row.subject.value, row.subject_ref) for row in rows if row.subject is not Concerned.PACK
    ]


@pytest.mark.parametrize("facts", OTHERWISE)
@pytest.mark.parametrize("whose", ["north", "south"])
def test_a_log_that_is_read_otherwise_overtakes_packs_and_re_opens_its_record(
    papers: Papers, whose: str, facts: ReadingFacts
) -> None:
    log = add_log(papers, whose)
    read(papers, log, whose, READING, 0)
    make_pack(papers)
    told = foreseen(papers, log, whose)
    # the south may not see the north's building, nor what was handed out of it
    assert (told.tests, len(told.packs)) == ((f"T-{whose}",), int(whose == "north"))
    assert because(papers) == [""], "showing must not save"
    read(papers, log, whose, facts, 1)
    assert because(papers) == ["How the log LOG-7 is read has changed"]
    assert looked_at_again(papers) == [("test", f"T-{whose}")]


def test_a_reading_that_is_saved_unchanged_touches_nothing(papers: Papers) -> None:
    log = add_log(papers, "north")
    read(papers, log, "north", READING, 0)
    make_pack(papers)
    read(papers, log, "north", READING, 1)
    assert (because(papers), looked_at_again(papers)) == ([""], [])


def test_a_first_reading_overtakes_packs_that_have_the_test_without_it(papers: Papers) -> None:
    make_pack(papers)
    log = add_log(papers, "north")
    told = foreseen(papers, log, "north", was_kept=False)
    assert (told.tests, len(told.packs)) == ((), 1)
    read(papers, log, "north", READING, 0)
    assert because(papers) == ["How the log LOG-7 is read has changed"]
    assert looked_at_again(papers) == []


@pytest.mark.parametrize("hidden", ["kept to its holder", "test by reference only"])
def test_a_log_that_nobody_else_sees_touches_no_pack_of_others(papers: Papers, hidden: str) -> None:
    is_own = hidden == "kept to its holder"
    log = add_log(papers, "south", SeenBy.OWN if is_own else SeenBy.WITH_FACT)
    if not is_own:
        with papers.estate.writing() as session:
            session.query(TestConsent).one().shows = Shows.REFERENCE
    make_pack(papers, "north")
    make_pack(papers, "south")
    read(papers, log, "south", READING, 0)
    assert because(papers) == ["", "How the log LOG-7 is read has changed"]


def test_a_pack_that_a_consultancy_may_have_made_with_its_own_papers_is_overtaken(
    papers: Papers,
) -> None:
    """Its owner cannot see the paper, and learns no more than that there was one."""
    to = {"access": Access.EDIT, "to": (papers.building("B-north"),)}
    consultancy = papers.estate.viewer("consult", **to)
    papers.add(consultancy, papers.survey("S-north"), reference="PRIVATE-1")
    make_pack(papers)
    with papers.estate.writing() as session:
        support = session.scalars(sa.select(DocumentSupport.id)).one()
        detach(session, consultancy, support, "of another wall", ON)
    assert because(papers) == [UNTOLD]


@pytest.mark.parametrize(
    ("fact", "is_held"),
    [
        (lambda papers: papers.survey("S-north"), True),
        (lambda papers: papers.test("T-north"), True),
        (lambda papers: papers.test("T-spare"), False),
    ],
    ids=["survey", "test in the pack", "test elsewhere"],
)
def test_a_paper_that_no_longer_supports_what_stands_in_a_pack_overtakes_it(
    papers: Papers, fact: Callable[[Papers], SupportedFact], *, is_held: bool
) -> None:
    make_pack(papers)
    with papers.estate.filling() as portfolio:
        owner = portfolio.session.get_one(Organisation, papers.estate.organisation("north"))
        portfolio.test(owner, ref="T-spare")
    north = papers.estate.viewer("north")
    papers.add(north, fact(papers), reference="R-1")
    with papers.estate.writing() as session:
        support = session.scalars(sa.select(DocumentSupport.id)).one()
        detach(session, north, support, "of another wall", ON)
    [told] = because(papers)
    assert told.startswith("R-1 no longer supports ") if is_held else not told

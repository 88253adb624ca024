"""Documents are kept by content, support facts, and are seen by those who may see them."""

import hashlib
import os
from collections.abc import Iterator
from contextlib import nullcontext
from datetime import date, timedelta
from pathlib import Path

import hypothesis
import pytest
import sqlalchemy as sa
from hypothesis import strategies as st
from sqlalchemy.orm import Session

from portfolio.db.documents import Document, DocumentSupport
from portfolio.db.models import Event
from portfolio.domain.documents import FactKind, SeenBy, SupportedFact
from portfolio.domain.errors import ForbiddenError, InputError, NotFoundError, PortfolioError
from portfolio.domain.rights import Access, Role
from portfolio.services.documents import adding
from portfolio.services.documents.adding import attach, detach
from portfolio.services.documents.contents import Contents, FileState
from portfolio.services.documents.listing import (
    NOTHING,
    DocumentFilter,
    document_line,
    documents_of_building,
    documents_of_test,
    documents_of_zone,
    list_documents,
)
from portfolio.services.documents.missing import missing_support
from portfolio.services.documents.seeing import read_document
from portfolio.services.documents.verifying import verify_documents
from portfolio.services.viewer import LOCAL, Viewer
from tests.services.documents_support import PDF, Papers, papers_in
from tests.web.portfolios import ON


@pytest.fixture
def papers(database_url: str, tmp_path: Path) -> Iterator[Papers]:
    with papers_in(database_url, tmp_path / "documents") as found:
        yield found


def listed(papers: Papers, viewer: Viewer, **wanted: str) -> list[str]:
    with papers.estate.reading() as session:
        page = list_documents(session, viewer, DocumentFilter(**wanted), ON)
    return [line.row.file_name for line in page.rows]


def content_of(papers: Papers, viewer: Viewer, document_id: int, on: date = ON) -> bytes:
    with papers.estate.reading() as session:
        return read_document(session, viewer, papers.contents, document_id, on).content


def supports_of(papers: Papers, viewer: Viewer, document_id: int) -> list[str]:
    with papers.estate.reading() as session:
        line = document_line(session, viewer, document_id, ON)
    return [support.words for support in line.supports]


# --- kept by content -----------------------------------------------------------------------------


def test_a_document_comes_back_as_it_was_given(papers: Papers) -> None:
    north = papers.estate.viewer("north")
    added = papers.add(north, papers.survey("S-north"))
    assert content_of(papers, north, added.id) == PDF
    assert papers.files == [hashlib.sha256(PDF).hexdigest()]


def test_the_same_content_again_is_the_same_document_and_supports_both(papers: Papers) -> None:
    north = papers.estate.viewer("north")
    first = papers.add(north, papers.survey("S-north"), name="first.pdf")
    again = papers.add(north, papers.test("T-north", 2), name="again.pdf")
    assert (again.id, again.was_held, again.name) == (first.id, True, "first.pdf")
    assert supports_of(papers, north, first.id) == [
        "B-north / Z-north / survey S-north",
        "test T-north, layer 2",
    ]
    assert len(papers.files) == 1


@pytest.mark.parametrize("first", SeenBy)
@pytest.mark.parametrize("again", SeenBy)
@pytest.mark.parametrize("ref", ["T-south", "S-south"])
def test_of_two_choices_who_may_see_a_content_the_narrower_counts(
    papers: Papers, first: SeenBy, again: SeenBy, ref: str
) -> None:
    """Whichever was made first, and with whatever it supports: the north sees T-south in full."""
    south, north = papers.estate.viewer("south"), papers.estate.viewer("north")
    facts = {"S-south": papers.survey("S-south"), "T-south": papers.test("T-south")}
    (before,) = (fact for name, fact in facts.items() if name != ref)
    papers.add(south, before, seen_by=first)
    seen_before = bool(listed(papers, north))
    assert seen_before == (first is SeenBy.WITH_FACT and ref == "S-south")
    added = papers.add(south, facts[ref], seen_by=again)
    is_shown = first is again is SeenBy.WITH_FACT
    assert added.seen_by is (SeenBy.WITH_FACT if is_shown else SeenBy.OWN)
    assert added.was_narrowed == (first is SeenBy.WITH_FACT and again is SeenBy.OWN)
    assert bool(listed(papers, north)) == is_shown
    with papers.estate.reading() as session:
        events = session.scalars(sa.select(Event).filter_by(subject="document")).all()
    changed = [event.changes for event in events if event.action == "changed"]
    assert changed == ([{"seen by": ["with-fact", "own"]}] if added.was_narrowed else [])


@pytest.mark.parametrize("stored", SeenBy)
@pytest.mark.parametrize("wanted", SeenBy)
def test_a_document_of_ones_own_never_supports_more_before_more_eyes_than_was_chosen(
    papers: Papers, stored: SeenBy, wanted: SeenBy
) -> None:
    south, north = papers.estate.viewer("south"), papers.estate.viewer("north")
    added = papers.add(south, papers.survey("S-south"), seen_by=stored)
    refused = stored is SeenBy.WITH_FACT and wanted is SeenBy.OWN
    with (
        pytest.raises(InputError, match="add its file again") if refused else nullcontext(),
        papers.estate.writing() as session,
    ):
        attach(session, south, added.id, [papers.test("T-south")], ON, seen_by=wanted)
    assert bool(listed(papers, north)) == (stored is wanted is SeenBy.WITH_FACT)


def test_two_organisations_share_the_file_and_nothing_else(papers: Papers) -> None:
    north, south = papers.estate.viewer("north"), papers.estate.viewer("south")
    first = papers.add(north, papers.survey("S-north"), name="ours.pdf")
    second = papers.add(south, papers.survey("S-south"), name="theirs.pdf")
    assert second.id != first.id
    assert not second.was_held, "south must not be told that north holds the same"
    assert len(papers.files) == 1
    assert listed(papers, north) == ["ours.pdf"]
    assert listed(papers, south) == ["theirs.pdf"]


def test_a_content_is_written_whether_or_not_it_is_there(papers: Papers) -> None:
    """Or the time that it takes would tell that somebody else holds the same."""
    papers.add(papers.estate.viewer("north"), papers.survey("S-north"))
    [path] = [p for p in papers.contents.folder.rglob("*") if p.is_file()]
    before = path.stat().st_ino
    papers.add(papers.estate.viewer("south"), papers.survey("S-south"))
    assert path.stat().st_ino != before


def test_of_two_who_add_the_same_at_once_the_later_gets_the_earlier_ones(
    papers: Papers, monkeypatch: pytest.MonkeyPatch
) -> None:
    north, held, asked = papers.estate.viewer("north"), adding._held, []
    first = papers.add(north, papers.survey("S-north"))

    def not_yet(session: Session, row: Document) -> Document | None:
        """As it looks to somebody who asks before the other has committed."""
        asked.append(row)
        return None if len(asked) == 1 else held(session, row)

    monkeypatch.setattr(adding, "_held", not_yet)
    second = papers.add(north, papers.test("T-north"))
    assert (second.id, second.was_held, len(asked)) == (first.id, True, 2)
    assert len(supports_of(papers, north, first.id)) == 2


def test_adding_again_mends_a_damaged_file(papers: Papers) -> None:
    north = papers.estate.viewer("north")
    added = papers.add(north, papers.survey("S-north"))
    [path] = [p for p in papers.contents.folder.rglob("*") if p.is_file()]
    path.write_bytes(b"%PDF-1.7 something else")
    with pytest.raises(PortfolioError, match="damaged"):
        content_of(papers, north, added.id)
    papers.add(north, papers.survey("S-north"))
    assert content_of(papers, north, added.id) == PDF


def test_the_folder_and_its_files_are_for_the_program_alone(papers: Papers) -> None:
    papers.add(papers.estate.viewer("north"), papers.survey("S-north"))
    modes = {p.stat().st_mode & 0o077 for p in papers.contents.folder.glob("*/*")}
    assert modes == {0}


@hypothesis.given(
    given=st.lists(
        st.tuples(st.sampled_from(["north", "south"]), st.binary(min_size=1, max_size=40)),
        max_size=8,
    )
)
@hypothesis.settings(
    max_examples=15, suppress_health_check=[hypothesis.HealthCheck.function_scoped_fixture]
)
def test_however_often_it_is_added_a_content_is_one_file_and_a_row_for_each_organisation(
    papers: Papers, given: list[tuple[str, bytes]]
) -> None:
    viewers = {ref: papers.estate.viewer(ref) for ref in ("north", "south")}
    ids = {}
    for ref, content in given:
        added = papers.add(viewers[ref], papers.survey(f"S-{ref}"), content=content)
        assert added.id == ids.setdefault((ref, content), added.id)
    for (ref, content), number in ids.items():
        assert content_of(papers, viewers[ref], number) == content
    assert {hashlib.sha256(content).hexdigest() for _, content in given} <= set(papers.files)
    with papers.estate.reading() as session:
        rows = session.execute(sa.select(Document.organisation_id, Document.sha256)).all()
        verified = verify_documents(session, papers.contents)
    assert len(rows) == len(set(rows))
    assert (verified.faults, verified.strays) == ((), ())
    assert len(papers.files) == len({row.sha256 for row in rows})


# --- crashes -------------------------------------------------------------------------------------


def test_a_crash_between_file_and_row_leaves_a_file_that_is_told(
    papers: Papers, monkeypatch: pytest.MonkeyPatch
) -> None:
    def crash(*_: object) -> None:
        raise RuntimeError("the power is gone")

    north = papers.estate.viewer("north")
    with monkeypatch.context() as patch:
        patch.setattr(adding, "_kept", crash)
        with pytest.raises(RuntimeError):
            papers.add(north, papers.survey("S-north"))
    with papers.estate.reading() as session:
        assert session.scalar(sa.select(sa.func.count()).select_from(Document)) == 0
        found = verify_documents(session, papers.contents)
    assert (found.faults, found.strays) == ((), (hashlib.sha256(PDF).hexdigest(),))


def test_a_crash_while_the_file_is_written_leaves_no_file_under_its_name(
    papers: Papers, monkeypatch: pytest.MonkeyPatch
) -> None:
    def crash(*_: object) -> None:
        raise KeyboardInterrupt

    north = papers.estate.viewer("north")
    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", crash)
        with pytest.raises(KeyboardInterrupt):
            papers.add(north, papers.survey("S-north"))
    [left] = papers.files
    assert left.endswith(".unfinished")
    assert papers.contents.state_of(hashlib.sha256(PDF).hexdigest(), len(PDF)) is FileState.MISSING
    with papers.estate.reading() as session:
        assert verify_documents(session, papers.contents).strays == (left,)


def test_a_folder_that_cannot_be_written_is_said_in_a_sentence(
    papers: Papers, tmp_path: Path
) -> None:
    (tmp_path / "documents").write_text("a file where the folder should be")
    with pytest.raises(PortfolioError, match="cannot be kept"):
        papers.add(papers.estate.viewer("north"), papers.survey("S-north"))


# --- checking the files --------------------------------------------------------------------------


def test_missing_and_damaged_files_are_told_with_the_documents_that_need_them(
    papers: Papers,
) -> None:
    north, fact = papers.estate.viewer("north"), papers.survey("S-north")
    contents = {
        "gone.pdf": b"%PDF-1",
        "bad.pdf": b"%PDF-2",
        "short.pdf": b"%PDF-3",
        "fine.pdf": PDF,
    }
    hashes = {name: hashlib.sha256(content).hexdigest() for name, content in contents.items()}
    for name, content in contents.items():
        papers.add(north, fact, content=content, name=name)
    folder = papers.contents.folder
    place = {name: folder / sha[:2] / sha for name, sha in hashes.items()}
    place["gone.pdf"].unlink()
    place["bad.pdf"].write_bytes(b"%PDF-X")
    place["short.pdf"].write_bytes(b"%P")
    with papers.estate.reading() as session:
        found = verify_documents(session, papers.contents)
    states = {fault.documents[0][1]: fault.state for fault in found.faults}
    assert states == {
        "gone.pdf": FileState.MISSING,
        "bad.pdf": FileState.DAMAGED,
        "short.pdf": FileState.DAMAGED,
    }
    assert (found.documents, found.files) == (4, 4)


# --- what is refused -----------------------------------------------------------------------------


def test_nothing_is_kept_of_what_is_refused(papers: Papers) -> None:
    north, survey = papers.estate.viewer("north"), papers.survey("S-north")
    tomorrow = ON + timedelta(days=1)
    refused = [
        (lambda: papers.add(north, survey, content=b""), "file"),
        (lambda: papers.add(north, survey, name="reports/"[-1:]), "file"),
        (lambda: papers.add(north, survey, content=b"x" * (adding.LARGEST + 1)), "file"),
        (lambda: papers.add(north, survey, on=tomorrow), "on"),
        (lambda: papers.add(north), "supports"),
        (lambda: papers.add(north, papers.survey("S-north", 9)), "layer"),
    ]
    for act, column in refused:
        with pytest.raises(InputError) as error:
            act()
        assert [problem.column for problem in error.value.problems] == [column]
    building = SupportedFact(FactKind.BUILDING, papers.building("B-north"), 1)
    with pytest.raises(InputError):
        papers.add(north, building)
    assert papers.files == []


def test_what_is_not_there_or_not_ones_own_cannot_be_supported(papers: Papers) -> None:
    north = papers.estate.viewer("north")
    for fact in (
        papers.survey("S-south"),
        papers.test("T-south"),
        SupportedFact(FactKind.SURVEY, 999_999),
    ):
        with pytest.raises(NotFoundError):
            papers.add(north, fact)
    reader = papers.estate.viewer("north", Role.READER)
    with pytest.raises(ForbiddenError):
        papers.add(reader, papers.survey("S-north"))
    assert papers.files == []


# --- attaching and detaching ---------------------------------------------------------------------


def test_attaching_twice_is_once_and_detaching_keeps_the_document(papers: Papers) -> None:
    north = papers.estate.viewer("north")
    added = papers.add(north, papers.survey("S-north"))
    with papers.estate.writing() as session:
        facts = [papers.survey("S-north"), papers.survey("S-north", 3)]
        attached = attach(session, north, added.id, facts, ON, seen_by=SeenBy.OWN)
        assert attached.newly_supported == 1
        support = session.scalars(sa.select(DocumentSupport.id).where(DocumentSupport.layer == 0))
        detach(session, north, support.one(), "it is of another wall", ON)
    assert supports_of(papers, north, added.id) == ["B-north / Z-north / survey S-north, layer 3"]
    with papers.estate.reading() as session:
        events = session.scalars(
            sa.select(Event).where(Event.subject == "document").order_by(Event.id)
        ).all()
    assert [event.action for event in events] == ["created", "attached", "attached", "detached"]
    assert events[-1].reason == "it is of another wall"
    assert [len((event.state or {})["supports"]) for event in events] == [0, 1, 2, 1]


def test_nobody_detaches_without_a_reason_or_what_is_not_theirs(papers: Papers) -> None:
    north, south = papers.estate.viewer("north"), papers.estate.viewer("south")
    papers.add(north, papers.survey("S-north"), seen_by=SeenBy.WITH_FACT)
    with papers.estate.writing() as session:
        support = session.scalars(sa.select(DocumentSupport.id)).one()
        with pytest.raises(InputError):
            detach(session, north, support, "  ", ON)
        for viewer, number in ((south, support), (north, 999_999)):
            with pytest.raises(NotFoundError):
                detach(session, viewer, number, "because", ON)
        with pytest.raises(ForbiddenError):
            detach(session, papers.estate.viewer("north", Role.READER), support, "because", ON)
        with pytest.raises(NotFoundError):
            attach(session, south, 1, [papers.survey("S-south")], ON, seen_by=SeenBy.OWN)


# --- who sees what -------------------------------------------------------------------------------


def test_a_document_for_ones_own_organisation_is_nobody_elses(papers: Papers) -> None:
    added = papers.add(papers.estate.viewer("north"), papers.survey("S-north"))
    building = papers.building("B-north")
    consult = papers.estate.viewer("consult", access=Access.EDIT, to=(building,))
    for number in (added.id, 999_999):
        with pytest.raises(NotFoundError, match=r"^There is no such document\.$"):
            content_of(papers, consult, number)
    with papers.estate.reading() as session:
        assert documents_of_building(session, consult, building, ON) == []


def test_a_document_shown_with_its_fact_is_seen_while_the_building_is_open(papers: Papers) -> None:
    seen = SeenBy.WITH_FACT
    added = papers.add(papers.estate.viewer("north"), papers.survey("S-north"), seen_by=seen)
    building, zone = papers.building("B-north"), papers.zone("Z-north")
    consult = papers.estate.viewer("consult", to=(building,))
    assert content_of(papers, consult, added.id) == PDF
    with papers.estate.reading() as session:
        for found in (
            documents_of_building(session, consult, building, ON),
            documents_of_zone(session, consult, zone, ON),
        ):
            assert [line.row.id for line in found] == [added.id]
    with pytest.raises(NotFoundError):
        content_of(papers, papers.estate.viewer("consult"), added.id)


def test_of_a_shown_document_only_the_facts_that_are_open_are_told(papers: Papers) -> None:
    seen = SeenBy.WITH_FACT
    facts = papers.survey("S-north"), papers.test("T-north")
    added = papers.add(papers.estate.viewer("north"), *facts, seen_by=seen)
    consult = papers.estate.viewer("consult", to=(papers.building("B-north"),))
    assert supports_of(papers, consult, added.id) == ["B-north / Z-north / survey S-north"]


def test_what_a_consultancy_adds_is_its_own_and_the_owner_may_detach_it(papers: Papers) -> None:
    building = papers.building("B-north")
    consult = papers.estate.viewer("consult", access=Access.EDIT, to=(building,))
    north = papers.estate.viewer("north")
    hidden = papers.add(consult, papers.survey("S-north"), content=b"%PDF- a draft")
    shown = papers.add(consult, papers.survey("S-north"), seen_by=SeenBy.WITH_FACT)
    with papers.estate.writing() as session:
        [line] = documents_of_building(session, north, building, ON)
        assert (line.row.id, line.is_own) == (shown.id, False)
        [support] = line.supports
        assert support.may_detach
        query = sa.select(DocumentSupport.id).where(DocumentSupport.document_id == hidden.id)
        with pytest.raises(NotFoundError):
            detach(session, north, session.scalars(query).one(), "not ours", ON)
        detach(session, north, support.id, "of another wall", ON)
    with pytest.raises(NotFoundError):
        content_of(papers, north, shown.id)
    assert content_of(papers, consult, shown.id) == PDF


def test_a_report_is_seen_by_whoever_is_shown_the_test_in_full(papers: Papers) -> None:
    south, north = papers.estate.viewer("south"), papers.estate.viewer("north")
    added = papers.add(south, papers.test("T-south"), seen_by=SeenBy.WITH_FACT)
    with papers.estate.reading() as session:
        test = papers.test("T-south").id
        assert [d.row.id for d in documents_of_test(session, north, test, ON)] == [added.id]
        assert documents_of_test(session, papers.estate.viewer("consult"), test, ON) == []
    with papers.estate.writing() as session:
        session.execute(sa.text("UPDATE test_consent SET until = '2026-02-28'"))
    with pytest.raises(NotFoundError):
        content_of(papers, north, added.id)
    assert content_of(papers, north, added.id, date(2026, 2, 28)) == PDF


def test_what_a_sponsor_said_is_for_the_holder_alone(papers: Papers) -> None:
    south, north = papers.estate.viewer("south"), papers.estate.viewer("north")
    with papers.estate.reading() as session:
        said = session.execute(sa.text("SELECT id FROM test_consent")).scalar_one()
    fact = SupportedFact(FactKind.CONSENT, said)
    added = papers.add(south, fact, seen_by=SeenBy.WITH_FACT)
    assert supports_of(papers, south, added.id) == ["test T-south, consent to north"]
    with pytest.raises(NotFoundError):
        content_of(papers, north, added.id)


def test_the_local_viewer_sees_all_and_adds_for_the_facts_owner(papers: Papers) -> None:
    papers.add(papers.estate.viewer("south"), papers.survey("S-south"), content=b"%PDF-south")
    papers.add(LOCAL, papers.survey("S-north"), name="for-north.pdf")
    assert len(listed(papers, LOCAL)) == 2
    assert listed(papers, papers.estate.viewer("north")) == ["for-north.pdf"]


def test_the_list_is_filtered_by_words_kind_and_what_is_supported(papers: Papers) -> None:
    north = papers.estate.viewer("north")
    survey, test = papers.survey("S-north"), papers.test("T-north")
    papers.add(north, survey, content=b"1", name="opening.pdf", reference="R/7 100%")
    papers.add(north, test, content=b"2", name="fire.pdf")
    lost = papers.add(north, survey, content=b"3", name="lost.pdf")
    with papers.estate.writing() as session:
        [line] = [document_line(session, north, lost.id, ON)]
        detach(session, north, line.supports[0].id, "wrong building", ON)
    assert listed(papers, north, text="r/7 100%") == ["opening.pdf"]
    assert listed(papers, north, text="_") == []
    assert listed(papers, north, kind="drawing") == []
    assert listed(papers, north, supports="test") == ["fire.pdf"]
    assert listed(papers, north, supports=NOTHING) == ["lost.pdf"]
    assert listed(papers, north) == ["lost.pdf", "fire.pdf", "opening.pdf"]
    with papers.estate.reading() as session:
        second = list_documents(session, north, DocumentFilter(), ON, limit=1, offset=1)
    assert [line.row.file_name for line in second.rows] == ["fire.pdf"]
    assert second.total == 3


# --- what is missing -----------------------------------------------------------------------------


def test_what_no_document_supports_is_listed_until_one_does(papers: Papers) -> None:
    north, building = papers.estate.viewer("north"), papers.building("B-north")

    def missing(viewer: Viewer = north) -> list[str]:
        with papers.estate.reading() as session:
            return [p.words for p in missing_support(session, viewer, building, ON).without]

    assert missing() == ["survey S-north", "test T-north", "test T-south"]
    papers.add(north, papers.survey("S-north", 2), content=b"of one layer")
    papers.add(north, papers.test("T-north"), content=b"private")
    assert missing() == ["test T-south"]
    consult = papers.estate.viewer("consult", to=(building,))
    assert missing(consult) == ["survey S-north"], "what consult may not see backs nothing for it"
    with papers.estate.reading() as session, pytest.raises(NotFoundError):
        missing_support(session, papers.estate.viewer("south"), building, ON)


def test_contents_without_a_folder_are_none(tmp_path: Path) -> None:
    assert list(Contents(tmp_path / "nowhere").names()) == []

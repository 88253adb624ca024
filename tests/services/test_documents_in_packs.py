"""A pack lists the documents that support its facts, as they were known on its day."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
import sqlalchemy as sa

from portfolio.db.documents import DocumentSupport
from portfolio.domain.documents import SeenBy
from portfolio.packs.contents import sections
from portfolio.services.documents.adding import detach
from portfolio.services.documents.packing import pack_documents_then
from portfolio.services.packs import gather_pack
from portfolio.services.viewer import Viewer
from tests.services.documents_support import PDF, Papers, papers_in
from tests.services.world_support import log_at
from tests.web.portfolios import ON

FIRST, SECOND, THIRD = date(2026, 2, 1), date(2026, 2, 10), date(2026, 2, 20)


@pytest.fixture
def papers(database_url: str, tmp_path: Path) -> Iterator[Papers]:
    with papers_in(database_url, tmp_path / "documents") as found:
        yield found


def listed(papers: Papers, viewer: Viewer) -> list[tuple[str, str]]:
    with papers.estate.reading() as session:
        pack, _ = gather_pack(session, viewer, papers.building("B-north"), ON)
    return [(document.supports, document.file_name) for document in pack.documents]


def listed_then(papers: Papers, viewer: Viewer, on: date) -> list[str]:
    tests = [papers.test(ref).id for ref in ("T-north", "T-south")]
    building = papers.building("B-north")
    with papers.estate.reading() as session:
        found = pack_documents_then(session, viewer, building, tests, on, today=ON)
    return [f"{document.file_name}: {document.supports}" for document in found]


def test_a_pack_lists_what_supports_its_zones_and_tests(papers: Papers) -> None:
    north, south = papers.estate.viewer("north"), papers.estate.viewer("south")
    papers.add(north, papers.survey("S-north", 2), content=b"1", name="opened.pdf")
    papers.add(north, papers.test("T-north"), content=b"2", name="own.pdf")
    papers.add(south, papers.test("T-south"), name="shown.pdf", seen_by=SeenBy.WITH_FACT)
    papers.add(south, papers.test("T-south"), content=b"3", name="kept.pdf")
    papers.add(south, papers.survey("S-south"), content=b"4", name="other.pdf")
    assert sorted(listed(papers, north)) == [
        ("B-north / Z-north / survey S-north, layer 2", "opened.pdf"),
        ("test T-north", "own.pdf"),
        ("test T-south", "shown.pdf"),
    ]


def test_a_consultancys_pack_has_only_what_is_shown_to_it(papers: Papers) -> None:
    north = papers.estate.viewer("north")
    papers.add(north, papers.survey("S-north"), content=b"1", name="kept.pdf")
    shown = SeenBy.WITH_FACT
    papers.add(north, papers.survey("S-north"), name="shown.pdf", seen_by=shown)
    papers.add(north, papers.test("T-north"), content=b"2", name="test.pdf", seen_by=shown)
    consult = papers.estate.viewer("consult", to=(papers.building("B-north"),))
    assert [name for _, name in listed(papers, consult)] == ["shown.pdf"]


def test_the_sheet_names_each_document_by_its_content(papers: Papers) -> None:
    north = papers.estate.viewer("north")
    papers.add(north, papers.survey("S-north"), reference="R-7", on=date(2026, 1, 5))
    with papers.estate.reading() as session:
        pack, _ = gather_pack(session, north, papers.building("B-north"), ON)
    [sheet] = [section for section in sections(pack) if section.title == "Documents"]
    [row] = sheet.rows
    supports = "B-north / Z-north / survey S-north"
    assert row[:5] == (supports, "report", "R-7", "2026-01-05", "report.pdf")
    assert row[5:] == (len(PDF), papers.files[0])


def test_an_earlier_pack_lists_what_supported_it_then(
    papers: Papers, monkeypatch: pytest.MonkeyPatch
) -> None:
    north = papers.estate.viewer("north")
    log_at(monkeypatch, FIRST)
    papers.add(north, papers.survey("S-north"), content=b"1", name="first.pdf")
    log_at(monkeypatch, SECOND)
    papers.add(north, papers.test("T-north"), content=b"2", name="second.pdf")
    log_at(monkeypatch, THIRD)
    with papers.estate.writing() as session:
        query = sa.select(DocumentSupport.id).where(DocumentSupport.building_id.is_not(None))
        detach(session, north, session.scalars(query).one(), "of another wall", ON)
    first, second = "first.pdf: B-north / Z-north / survey S-north", "second.pdf: test T-north"
    assert listed_then(papers, north, date(2026, 1, 31)) == []
    assert listed_then(papers, north, FIRST) == [first]
    assert listed_then(papers, north, SECOND) == [first, second]
    assert listed_then(papers, north, THIRD) == [second]


def test_an_earlier_pack_shows_no_more_than_may_be_seen_today(papers: Papers) -> None:
    shown = SeenBy.WITH_FACT
    papers.add(papers.estate.viewer("south"), papers.test("T-south"), seen_by=shown)
    today = papers.estate.viewer("north"), date(2999, 1, 1)
    assert listed_then(papers, *today) == ["report.pdf: test T-south"]
    with papers.estate.writing() as session:
        session.execute(sa.text("DELETE FROM test_consent"))
    assert listed_then(papers, *today) == []

"""Certificates are their organisation's own, counted by the same rule as the domain's."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
import sqlalchemy as sa

from portfolio.db.certificates import Certificate
from portfolio.db.models import Event
from portfolio.domain.documents import FactKind, SeenBy, SupportedFact
from portfolio.domain.errors import ForbiddenError, InputError, NotFoundError
from portfolio.domain.evidence import Answer3
from portfolio.domain.rights import Role
from portfolio.services.certificates import (
    CertificateFacts,
    CertificateFilter,
    create_certificate,
    editable_certificate,
    find_certificate,
    list_certificates,
    save_certificate,
)
from portfolio.services.documents.listing import (
    DocumentFilter,
    documents_of_certificate,
    list_documents,
)
from portfolio.services.editing import StaleError
from portfolio.services.viewer import Viewer
from tests.services.documents_support import Papers, papers_in
from tests.web.portfolios import ON

PANEL = CertificateFacts(
    "C-1", "Panel", "An issuer", "aluminium", "A2-s1,d0", 2.5, date(2025, 1, 1), date(2026, 12, 31)
)
BEFORE, AFTER = date(2026, 2, 28), date(2026, 3, 2)


@pytest.fixture
def papers(database_url: str, tmp_path: Path) -> Iterator[Papers]:
    with papers_in(database_url, tmp_path / "documents") as found:
        yield found


def create(papers: Papers, facts: CertificateFacts = PANEL, by: Viewer | None = None) -> int:
    with papers.estate.writing() as session:
        owner = papers.estate.organisation("north")
        viewer = by or papers.estate.viewer("north")
        return create_certificate(session, viewer, owner, facts).id


def refs(papers: Papers, ref: str = "north", **wanted: str) -> list[str]:
    viewer = papers.estate.viewer(ref)
    with papers.estate.reading() as session:
        found = list_certificates(session, viewer, CertificateFilter(**wanted), ON)
    return [line.row.ref for line in found.rows]


def test_a_certificate_is_kept_as_it_was_entered_and_logged(papers: Papers) -> None:
    number = create(papers)
    with papers.estate.reading() as session:
        assert editable_certificate(session, papers.estate.viewer("north"), number) == (PANEL, 1)
        event = session.scalars(sa.select(Event).filter_by(subject="certificate")).one()
    assert event.changes["reaction_class"] == [None, "A2-s1,d0"]
    assert (event.state or {})["valid_until"] == "2026-12-31"


def test_a_certificate_is_nobody_elses(papers: Papers) -> None:
    number = create(papers)
    south = papers.estate.viewer("south")
    assert refs(papers, "south") == []
    with papers.estate.writing() as session:
        for act in (
            lambda: find_certificate(session, south, number, ON),
            lambda: editable_certificate(session, south, number),
            lambda: save_certificate(session, south, number, PANEL, revision=1),
            lambda: find_certificate(session, papers.estate.viewer("north"), 999_999, ON),
        ):
            with pytest.raises(NotFoundError):
                act()
        with pytest.raises(ForbiddenError):
            editable_certificate(session, papers.estate.viewer("north", Role.READER), number)


def test_of_two_who_save_the_second_sees_what_the_first_saved(papers: Papers) -> None:
    number, north = create(papers), papers.estate.viewer("north")
    changed = CertificateFacts("C-1", "Panel", calorific_value=13.6)
    with papers.estate.writing() as session:
        save_certificate(session, north, number, changed, revision=1)
    with papers.estate.writing() as session, pytest.raises(StaleError) as overtaken:
        save_certificate(session, north, number, PANEL, revision=1)
    assert overtaken.value.stored == changed


@pytest.mark.parametrize(
    ("facts", "column"),
    [
        (CertificateFacts("C-1", "Other"), "ref"),
        (CertificateFacts("C-2", "Panel", reaction_class="fireproof"), "reaction_class"),
        (
            CertificateFacts("C-2", "Panel", valid_from=ON, valid_until=BEFORE),
            "valid_until",
        ),
    ],
)
def test_what_makes_no_sense_is_refused_at_its_field(
    papers: Papers, facts: CertificateFacts, column: str
) -> None:
    create(papers)
    with pytest.raises(InputError) as refused:
        create(papers, facts)
    assert [problem.column for problem in refused.value.problems] == [column]
    assert refs(papers) == ["C-1"]


def test_the_list_and_the_domain_agree_on_what_is_valid(papers: Papers) -> None:
    days = (None, BEFORE, ON, AFTER)
    for first in days:
        for last in days:
            if first is None or last is None or first <= last:
                facts = CertificateFacts(f"{first} {last}", "P", valid_from=first, valid_until=last)
                create(papers, facts)
    with papers.estate.reading() as session:
        everything = list_certificates(
            session, papers.estate.viewer("north"), CertificateFilter(), ON
        ).rows
    for answer in Answer3:
        expected = [line.row.ref for line in everything if line.validity.answer is answer]
        assert expected
        assert refs(papers, valid=answer.value) == expected


def test_words_are_looked_for_in_what_identifies_a_certificate(papers: Papers) -> None:
    create(papers)
    create(papers, CertificateFacts("C-2", "Wool"))
    assert [refs(papers, text=text) for text in ("panel", "ISSUER", "c-2", "%")] == [
        ["C-1"],
        ["C-1"],
        ["C-2"],
        [],
    ]


def test_the_paper_of_a_certificate_is_its_holders_alone(papers: Papers) -> None:
    number, north = create(papers), papers.estate.viewer("north")
    fact = SupportedFact(FactKind.CERTIFICATE, number)
    added = papers.add(north, fact, seen_by=SeenBy.WITH_FACT)
    with papers.estate.reading() as session:
        [line] = documents_of_certificate(session, north, number, ON)
        south = papers.estate.viewer("south")
        assert list_documents(session, south, DocumentFilter(), ON).rows == []
        assert documents_of_certificate(session, south, number, ON) == []
    assert (line.row.id, line.supports[0].words) == (added.id, "certificate C-1")
    with pytest.raises(NotFoundError, match=r"^There is no such certificate\.$"):
        papers.add(papers.estate.viewer("south"), fact)
    with papers.estate.reading() as session:
        assert session.scalar(sa.select(sa.func.count()).select_from(Certificate)) == 1

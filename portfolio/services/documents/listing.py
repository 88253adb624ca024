"""Lists documents that a viewer sees, with what each supports."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from portfolio.db.documents import Document, DocumentSupport
from portfolio.domain.documents import FactKind, SupportedFact
from portfolio.domain.rights import Right
from portfolio.services.documents.adding import words_of
from portfolio.services.documents.facts import Place, places_of
from portfolio.services.documents.seeing import find_document, is_fact_seen, is_readable
from portfolio.services.history import SOMEBODY
from portfolio.services.stored import batches
from portfolio.services.viewer import Viewer

NOTHING = "nothing"
SOMEBODY_ELSE = "another organisation"


@dataclass(frozen=True, slots=True)
class SupportLine:
    """One fact that a document supports; `may_detach`: the viewer may take that back."""

    id: int
    place: Place
    layer: int
    may_detach: bool

    @property
    def words(self) -> str:
        """The fact in words."""
        return words_of(self.place, self.layer)


@dataclass(frozen=True, slots=True)
class DocumentLine:
    """One document. `supports` are the facts of it that the viewer may see.

    `owner` and `added_by` name who holds it only to its holder, to whoever owns a fact, and where
    the holder does: which other consultancies an owner works with is nobody else's.
    """

    row: Document
    owner: str
    added_by: str
    is_own: bool
    supports: tuple[SupportLine, ...]


@dataclass(frozen=True, slots=True)
class DocumentFilter:
    """Which documents: words in name or reference, a kind, a kind of fact or NOTHING."""

    text: str = ""
    kind: str = ""
    supports: str = ""


@dataclass(frozen=True, slots=True)
class DocumentPage:
    """Documents, newest first, and how many there are altogether."""

    rows: Sequence[DocumentLine]
    total: int


def list_documents(
    session: Session,
    viewer: Viewer,
    wanted: DocumentFilter,
    on: date,
    *,
    limit: int | None = None,
    offset: int = 0,
) -> DocumentPage:
    """A page of the documents that the viewer sees; without a limit all of them."""
    kept = [is_readable(viewer, on), *_conditions(viewer, wanted, on)]
    total = session.scalar(sa.select(sa.func.count()).select_from(Document).where(*kept)) or 0
    query = _documents().where(*kept).order_by(Document.id.desc()).limit(limit).offset(offset)
    return DocumentPage(_lines(session, viewer, session.scalars(query).all(), on), total)


def documents_of_building(
    session: Session, viewer: Viewer, building_id: int, on: date
) -> list[DocumentLine]:
    """The documents that support the building or anything on its zones."""
    return _supporting(session, viewer, DocumentSupport.building_id == building_id, on)


def documents_of_zone(
    session: Session, viewer: Viewer, zone_id: int, on: date
) -> list[DocumentLine]:
    """The documents that support a survey of a zone, or a ruling on it."""
    return _supporting(session, viewer, DocumentSupport.zone_id == zone_id, on)


def documents_of_test(
    session: Session, viewer: Viewer, test_id: int, on: date
) -> list[DocumentLine]:
    """The documents that support a test, and for its holder what its sponsor said."""
    return _supporting(session, viewer, DocumentSupport.test_id == test_id, on)


def documents_of_certificate(
    session: Session, viewer: Viewer, certificate_id: int, on: date
) -> list[DocumentLine]:
    """The documents that support a certificate."""
    return _supporting(session, viewer, DocumentSupport.certificate_id == certificate_id, on)


def documents_of_tests(
    session: Session, viewer: Viewer, test_ids: Collection[int], on: date
) -> list[DocumentLine]:
    """The same for several tests, without what sponsors said to others."""
    found = DocumentSupport.test_id.in_(test_ids) & (DocumentSupport.fact == FactKind.TEST)
    return _supporting(session, viewer, found, on)


def document_line(session: Session, viewer: Viewer, document_id: int, on: date) -> DocumentLine:
    """One document. Raises NotFoundError."""
    [found] = _lines(session, viewer, [find_document(session, viewer, document_id, on)], on)
    return found


def _supporting(
    session: Session, viewer: Viewer, supports: sa.ColumnElement[bool], on: date
) -> list[DocumentLine]:
    """The lines of documents with such a support that the viewer sees, and only such supports."""
    ids = sa.select(DocumentSupport.document_id).where(supports, is_fact_seen(viewer, on))
    query = _documents().where(Document.id.in_(ids), is_readable(viewer, on))
    rows = session.scalars(query.order_by(Document.kind, Document.on, Document.id)).all()
    return _lines(session, viewer, rows, on, supports)


def _documents() -> sa.Select[Document]:
    return sa.select(Document).options(joinedload(Document.organisation))


def _conditions(viewer: Viewer, wanted: DocumentFilter, on: date) -> list[sa.ColumnElement[bool]]:
    found: list[sa.ColumnElement[bool]] = []
    if wanted.text:
        words = (Document.file_name, Document.reference, Document.sha256)
        found.append(sa.or_(*(c.icontains(wanted.text, autoescape=True) for c in words)))
    if wanted.kind:
        found.append(Document.kind == wanted.kind)
    if wanted.supports:
        seen = [DocumentSupport.document_id == Document.id, is_fact_seen(viewer, on)]
        if wanted.supports != NOTHING:
            seen.append(DocumentSupport.fact == wanted.supports)
        supports = sa.select(DocumentSupport.id).where(*seen).correlate(Document).exists()
        found.append(~supports if wanted.supports == NOTHING else supports)
    return found


def _lines(
    session: Session,
    viewer: Viewer,
    rows: Sequence[Document],
    on: date,
    *more: sa.ColumnElement[bool],
) -> list[DocumentLine]:
    supports = _supports(session, viewer, [row.id for row in rows], on, more)
    return [_line(viewer, row, tuple(supports.get(row.id, ()))) for row in rows]


def _line(viewer: Viewer, row: Document, supports: tuple[SupportLine, ...]) -> DocumentLine:
    is_own = viewer.sees(row.organisation_id)
    owners = {support.place.organisation_id for support in supports}
    is_told = is_own or row.organisation_id in owners or any(map(viewer.sees, owners))
    owner, by = (row.organisation.name, row.added_by) if is_told else (SOMEBODY_ELSE, SOMEBODY)
    return DocumentLine(row, owner, by, is_own, supports)


def _supports(
    session: Session,
    viewer: Viewer,
    document_ids: Iterable[int],
    on: date,
    more: Sequence[sa.ColumnElement[bool]],
) -> dict[int, list[SupportLine]]:
    rows: list[DocumentSupport] = []
    for batch in batches(document_ids):
        query = sa.select(DocumentSupport).where(
            DocumentSupport.document_id.in_(batch), is_fact_seen(viewer, on), *more
        )
        rows += session.scalars(query.order_by(DocumentSupport.id))
    facts = {SupportedFact(row.fact, row.fact_id) for row in rows}
    places: Mapping[tuple[FactKind, int], Place] = places_of(session, facts)
    found: dict[int, list[SupportLine]] = {}
    for row in rows:
        place = places[row.fact, row.fact_id]
        may = viewer.may(Right.EDIT, place.organisation_id, place.building_id)
        found.setdefault(row.document_id, []).append(SupportLine(row.id, place, row.layer, may))
    return found

"""Which documents a viewer sees, as a condition of a query; and one document, read."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.certificates import Certificate
from portfolio.db.documents import Document, DocumentSupport
from portfolio.db.models import Building, TestConsent, TestRecord
from portfolio.domain.documents import FactKind, SeenBy
from portfolio.domain.errors import NotFoundError
from portfolio.services.documents.contents import Contents
from portfolio.services.reliance import is_shown_to
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class ReadDocument:
    """A document's content, checked against its SHA-256."""

    name: str
    media: str
    content: bytes


def is_readable(viewer: Viewer, on: date) -> sa.ColumnElement[bool]:
    """One's own documents, and those shown with a fact that the viewer may see."""
    if viewer.organisation_id is None:
        return sa.true()
    through = (
        sa.select(DocumentSupport.id)
        .where(DocumentSupport.document_id == Document.id, is_fact_seen(viewer, on))
        .correlate(Document)
        .exists()
    )
    shown = sa.and_(Document.seen_by == SeenBy.WITH_FACT, through)
    return sa.or_(Document.organisation_id == viewer.organisation_id, shown)


def is_fact_seen(viewer: Viewer, on: date) -> sa.ColumnElement[bool]:
    """Of supports: those of a fact that the viewer may see, tests only in full.

    What a sponsor said to somebody, and certificates, are for their holder alone.
    """
    if viewer.organisation_id is None:
        return sa.true()
    open_to = sa.select(Building.id).where(viewer.reads(Building.organisation_id, Building.id))
    own_test = sa.select(TestRecord.id).where(TestRecord.organisation_id == viewer.organisation_id)
    own_paper = sa.select(Certificate.id).where(
        Certificate.organisation_id == viewer.organisation_id
    )
    return sa.or_(
        DocumentSupport.certificate_id.in_(own_paper),
        DocumentSupport.building_id.in_(open_to),
        DocumentSupport.test_id.in_(own_test),
        sa.and_(
            DocumentSupport.fact == FactKind.TEST,
            DocumentSupport.test_id.in_(_shown_in_full(viewer.organisation_id, on)),
        ),
    )


def _shown_in_full(organisation_id: int, on: date) -> sa.Select[int]:
    """The tests that are shown to an organisation in full."""
    mine = (TestConsent.test_id == TestRecord.id) & (TestConsent.organisation_id == organisation_id)
    return (
        sa.select(TestRecord.id)
        .outerjoin(TestConsent, mine)
        .where(is_shown_to(organisation_id, on))
    )


def find_document(session: Session, viewer: Viewer, document_id: int, on: date) -> Document:
    """A document that the viewer sees. Raises NotFoundError."""
    query = sa.select(Document).where(Document.id == document_id, is_readable(viewer, on))
    found = session.scalar(query)
    if found is None:
        raise NotFoundError("There is no such document.")
    return found


def read_document(
    session: Session, viewer: Viewer, contents: Contents, document_id: int, on: date
) -> ReadDocument:
    """The content of a document that the viewer sees.

    Raises NotFoundError, and UnreadableError where its file is missing or damaged: what is not as
    it was is never handed out.
    """
    found = find_document(session, viewer, document_id, on)
    return ReadDocument(found.file_name, found.media, contents.read(found.sha256))

"""Tables of documents: what each organisation holds, and which facts it supports.

The content is a file named by its SHA-256, see services.documents.contents; a row is written
only once its file is there.
"""

from __future__ import annotations

from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column, relationship

from portfolio.db.base import Base, stored_enum
from portfolio.db.certificates import Certificate
from portfolio.db.models import Building, Organisation, TestRecord, Zone
from portfolio.domain.documents import DocumentKind, FactKind, SeenBy


class Document(Base):
    """One content as one organisation holds it: of two that hold the same, neither is told."""

    __tablename__ = "document"
    __table_args__ = (sa.UniqueConstraint("organisation_id", "sha256"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    organisation_id: Mapped[int] = mapped_column(sa.ForeignKey("organisation.id"))
    sha256: Mapped[str] = mapped_column(sa.String(64), index=True)
    #: bytes
    size: Mapped[int]
    #: as the content shows it, see domain.documents.media_of
    media: Mapped[str] = mapped_column(sa.String(60))
    #: as given; only ever shown
    file_name: Mapped[str] = mapped_column(sa.String(120))
    kind: Mapped[DocumentKind] = mapped_column(stored_enum(DocumentKind, "kind"))
    reference: Mapped[str] = mapped_column(sa.String(200), default="")
    #: the day that the document bears
    on: Mapped[date | None]
    seen_by: Mapped[SeenBy] = mapped_column(stored_enum(SeenBy, "seen_by"))
    added_by: Mapped[str] = mapped_column(sa.String(400))
    added_on: Mapped[date]

    organisation: Mapped[Organisation] = relationship()
    supports: Mapped[list[DocumentSupport]] = relationship(
        order_by="DocumentSupport.id", cascade="all, delete-orphan", back_populates="document"
    )


class DocumentSupport(Base):
    """One fact that a document supports, with the place that the fact hangs on.

    Facts never move, so the place is kept here: whose a document is to see is asked in one query.
    """

    __tablename__ = "document_support"
    __table_args__ = (sa.UniqueConstraint("document_id", "fact", "fact_id", "layer"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    document_id: Mapped[int] = mapped_column(sa.ForeignKey("document.id", ondelete="CASCADE"))
    fact: Mapped[FactKind] = mapped_column(stored_enum(FactKind, "fact"))
    fact_id: Mapped[int]
    #: counted from the inside, from 1; 0: the whole fact
    layer: Mapped[int] = mapped_column(default=0)
    building_id: Mapped[int | None] = mapped_column(sa.ForeignKey(Building.id), index=True)
    zone_id: Mapped[int | None] = mapped_column(sa.ForeignKey(Zone.id), index=True)
    test_id: Mapped[int | None] = mapped_column(sa.ForeignKey(TestRecord.id), index=True)
    certificate_id: Mapped[int | None] = mapped_column(sa.ForeignKey(Certificate.id), index=True)
    added_by: Mapped[str] = mapped_column(sa.String(400))
    added_on: Mapped[date]

    document: Mapped[Document] = relationship(back_populates="supports")

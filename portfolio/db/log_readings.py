"""The table of how kept thermocouple logs are read."""

from __future__ import annotations

from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from portfolio.db.base import Base
from portfolio.db.documents import Document


class LogReading(Base):
    """How one kept log is to be read and judged; "" and NULL mean that nobody has said."""

    __tablename__ = "log_reading"
    __table_args__ = (sa.UniqueConstraint("document_id"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    document_id: Mapped[int] = mapped_column(sa.ForeignKey(Document.id, ondelete="CASCADE"))
    #: on the log's own clock, as it was written
    ignition: Mapped[str] = mapped_column(sa.String(30), default="", server_default="")
    class_document: Mapped[str] = mapped_column(sa.String(60), default="", server_default="")
    class_edition: Mapped[str] = mapped_column(sa.String(60), default="", server_default="")
    class_annex: Mapped[str] = mapped_column(sa.String(10), default="", server_default="")
    #: the edition that the test was done to
    test_edition: Mapped[str] = mapped_column(sa.String(60), default="", server_default="")
    #: the document that lists where the channels are
    channels: Mapped[int | None] = mapped_column(sa.ForeignKey(Document.id))
    #: the document that tells what was seen
    observations: Mapped[int | None] = mapped_column(sa.ForeignKey(Document.id))
    kept_by: Mapped[str] = mapped_column(sa.String(400))
    kept_on: Mapped[date]
    revision: Mapped[int] = mapped_column(default=1, server_default="1")

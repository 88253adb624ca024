"""The table of the orders of gaps that organisations write for themselves."""

from __future__ import annotations

from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column, relationship

from portfolio.db.base import Base
from portfolio.db.models import Organisation


class OrderVersion(Base):
    """One version of an order. Never changed: a later version takes its place."""

    __tablename__ = "gap_order"
    __table_args__ = (sa.UniqueConstraint("organisation_id", "key", "version"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    organisation_id: Mapped[int] = mapped_column(sa.ForeignKey("organisation.id"))
    key: Mapped[str] = mapped_column(sa.String(60))
    #: counted from 1
    version: Mapped[int]
    title: Mapped[str] = mapped_column(sa.String(200))
    #: [{"criterion": …, "groups": [[word, …], …], "limits": [number, …]}], the first step first
    steps: Mapped[list[Any]]
    #: who wrote it, as the name was then
    author: Mapped[str] = mapped_column(sa.String(400))
    reason: Mapped[str] = mapped_column(sa.Text)
    #: the day on which it was entered: before that, nobody knew of it
    recorded_on: Mapped[date]

    organisation: Mapped[Organisation] = relationship()

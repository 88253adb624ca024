"""The table of the application rules that an organisation's engineers own."""

from __future__ import annotations

from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column, relationship

from portfolio.db.base import Base, stored_enum
from portfolio.db.models import Organisation
from portfolio.domain.rules import RuleKind


class RuleVersion(Base):
    """One version of a rule. Never changed: a later version takes its place from a day on."""

    __tablename__ = "application_rule"
    __table_args__ = (sa.UniqueConstraint("organisation_id", "key", "version"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    organisation_id: Mapped[int] = mapped_column(sa.ForeignKey("organisation.id"))
    key: Mapped[str] = mapped_column(sa.String(60))
    #: counted from 1
    version: Mapped[int]
    title: Mapped[str] = mapped_column(sa.String(200))
    parameter: Mapped[str] = mapped_column(sa.String(60))
    kind: Mapped[RuleKind] = mapped_column(stored_enum(RuleKind, "kind"))
    #: in the parameter's unit; NULL: without a limit, or of words
    amount: Mapped[float | None]
    equals: Mapped[list[Any]]
    families: Mapped[list[Any]]
    jurisdictions: Mapped[list[Any]]
    #: [{"parameter": …, "words": […]}]
    conditions: Mapped[list[Any]]
    #: from and until when it counts, both days included
    since: Mapped[date]
    until: Mapped[date | None]
    document: Mapped[str] = mapped_column(sa.String(300))
    clause: Mapped[str] = mapped_column(sa.String(100))
    author: Mapped[str] = mapped_column(sa.String(200))
    reason: Mapped[str] = mapped_column(sa.Text)
    #: [{"zone": …, "tested": …, "expect": …, "others": {…}, "jurisdiction": …}], values as texts
    examples: Mapped[list[Any]]
    #: the day on which it was entered: before that, nobody knew of it
    recorded_on: Mapped[date]

    organisation: Mapped[Organisation] = relationship()

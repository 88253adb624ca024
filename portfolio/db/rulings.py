"""Tables of what happens to a decision after it was recorded: nothing in them is ever changed."""

from __future__ import annotations

from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from portfolio.db.base import Base
from portfolio.db.models import Decision


class DecisionConfirmation(Base):
    """A named engineer's word that a decision still holds, after what changed until then."""

    __tablename__ = "decision_confirmation"

    id: Mapped[int] = mapped_column(primary_key=True)
    decision_id: Mapped[int] = mapped_column(
        sa.ForeignKey(Decision.id, ondelete="CASCADE"), index=True
    )
    by: Mapped[str] = mapped_column(sa.String(200))
    qualification: Mapped[str] = mapped_column(sa.String(200))
    on: Mapped[date]
    reason: Mapped[str] = mapped_column(sa.Text)
    #: the last day on which the decision holds from now on; NULL: no end set
    valid_until: Mapped[date | None]
    #: what the decision rests on from now on, see services.rested_on
    rested_on: Mapped[dict[str, Any]]
    #: the day on which it was entered
    recorded_on: Mapped[date]


class DecisionMark(Base):
    """One thing that a decision rested on and that has changed since."""

    __tablename__ = "decision_mark"
    __table_args__ = (sa.Index("ix_decision_mark_of", "decision_id", "confirmation_id"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    decision_id: Mapped[int] = mapped_column(sa.ForeignKey(Decision.id, ondelete="CASCADE"))
    #: the confirmation after which it changed; NULL: there was none yet
    confirmation_id: Mapped[int | None] = mapped_column(
        sa.ForeignKey(DecisionConfirmation.id, ondelete="CASCADE"), index=True
    )
    #: see domain.rested_on
    what: Mapped[str] = mapped_column(sa.String(200))
    before: Mapped[str] = mapped_column(sa.Text, default="")
    after: Mapped[str] = mapped_column(sa.Text, default="")
    on: Mapped[date]

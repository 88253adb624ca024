"""The table of certificates of materials."""

from __future__ import annotations

from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column, relationship

from portfolio.db.base import Base
from portfolio.db.models import Organisation


class Certificate(Base):
    """What a paper says of a product, as one organisation recorded it for itself."""

    __tablename__ = "certificate"
    __table_args__ = (sa.UniqueConstraint("organisation_id", "ref"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    organisation_id: Mapped[int] = mapped_column(sa.ForeignKey("organisation.id"))
    ref: Mapped[str] = mapped_column(sa.String(100))
    #: who issued it, as the paper says
    issued_by: Mapped[str] = mapped_column(sa.String(200), default="")
    #: its identity, as the organisation writes it in walls
    product: Mapped[str] = mapped_column(sa.String(200))
    material: Mapped[str] = mapped_column(sa.String(200), default="")
    #: of EN 13501-1, see domain.reaction
    reaction_class: Mapped[str] = mapped_column(sa.String(20), default="")
    #: MJ/kg
    calorific_value: Mapped[float | None]
    #: both days count
    valid_from: Mapped[date | None]
    valid_until: Mapped[date | None]
    revision: Mapped[int] = mapped_column(default=1)

    organisation: Mapped[Organisation] = relationship()

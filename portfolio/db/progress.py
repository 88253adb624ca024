"""Tables of how counts moved from day to day. They can not be computed again, and are kept."""

from __future__ import annotations

from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from portfolio.db.base import Base


class CountedDay(Base):
    """A day on which an organisation's zones were counted, and how they had been judged."""

    __tablename__ = "counted_day"

    organisation_id: Mapped[int] = mapped_column(sa.ForeignKey("organisation.id"), primary_key=True)
    day: Mapped[date] = mapped_column(primary_key=True)
    #: version of the program's and the organisation's own rules
    method: Mapped[str] = mapped_column(sa.String(60))


class CountChange(Base):
    """By how much one count of one building differs from the one before."""

    __tablename__ = "count_change"
    __table_args__ = (sa.Index("ix_count_change_of", "organisation_id", "building_id", "day"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    day: Mapped[date]
    organisation_id: Mapped[int] = mapped_column(sa.ForeignKey("organisation.id"))
    building_id: Mapped[int] = mapped_column(sa.ForeignKey("building.id", ondelete="CASCADE"))
    #: the building's, as they were counted
    jurisdiction: Mapped[str] = mapped_column(sa.String(60))
    use: Mapped[str] = mapped_column(sa.String(40))
    height_band: Mapped[str] = mapped_column(sa.String(20))
    #: see domain.moving.Facet
    measure: Mapped[str] = mapped_column(sa.String(20))
    series: Mapped[str] = mapped_column(sa.String(40))
    count: Mapped[int]
    area_m2: Mapped[float]

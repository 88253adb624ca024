"""Tables of works: what is decided of a wall, how far it has come, and who may subscribe to dates.

Money is kept in minor units (pence, cents) of `currency`, as whole numbers.
"""

from __future__ import annotations

from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column, relationship

from portfolio.db.base import Base, stored_enum
from portfolio.db.models import Building, Zone
from portfolio.domain.works import Decided, WorksStatus


class Works(Base):
    """What is done about a building, or some of its zones; one row a programme."""

    __tablename__ = "works"
    __table_args__ = (sa.UniqueConstraint("building_id", "ref"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    building_id: Mapped[int] = mapped_column(sa.ForeignKey("building.id"), index=True)
    ref: Mapped[str] = mapped_column(sa.String(60))
    #: names the same works in every calendar, for ever
    uid: Mapped[str] = mapped_column(sa.String(36), unique=True)
    #: what is done, in a few words
    title: Mapped[str] = mapped_column(sa.String(200), default="")
    decided: Mapped[Decided] = mapped_column(stored_enum(Decided, "decided"))
    decided_reason: Mapped[str] = mapped_column(sa.Text, default="")
    #: the last of its steps, kept here so that lists are counted and filtered by it
    status: Mapped[WorksStatus] = mapped_column(stored_enum(WorksStatus, "status"), index=True)
    status_on: Mapped[date]
    #: the day on which the new build-up was complete
    built_on: Mapped[date | None]
    #: of remediation, as the owner calls it
    programme: Mapped[str] = mapped_column(sa.String(100), default="")
    responsible: Mapped[str] = mapped_column(sa.String(200), default="")
    funding_route: Mapped[str] = mapped_column(sa.String(300), default="")
    #: of ISO 4217
    currency: Mapped[str] = mapped_column(sa.String(3), default="GBP")
    funding_minor: Mapped[int | None] = mapped_column(sa.BigInteger)
    estimate_minor: Mapped[int | None] = mapped_column(sa.BigInteger)
    outturn_minor: Mapped[int | None] = mapped_column(sa.BigInteger)
    #: a deadline of the owner's own, or of a notice or contract
    due_on: Mapped[date | None] = mapped_column(index=True)
    due_reason: Mapped[str] = mapped_column(sa.String(300), default="")
    residents_told_on: Mapped[date | None]
    residents_next_on: Mapped[date | None] = mapped_column(index=True)
    note: Mapped[str] = mapped_column(sa.Text, default="")
    revision: Mapped[int] = mapped_column(default=1)

    building: Mapped[Building] = relationship()
    #: none: the whole building
    zones: Mapped[list[WorksZone]] = relationship(
        order_by="WorksZone.id", cascade="all, delete-orphan"
    )
    steps: Mapped[list[WorksStep]] = relationship(order_by="WorksStep.id")
    interim: Mapped[list[InterimMeasure]] = relationship(order_by="InterimMeasure.id")


class WorksZone(Base):
    """A zone that works are about."""

    __tablename__ = "works_zone"
    __table_args__ = (sa.UniqueConstraint("works_id", "zone_id"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    works_id: Mapped[int] = mapped_column(sa.ForeignKey("works.id", ondelete="CASCADE"))
    zone_id: Mapped[int] = mapped_column(sa.ForeignKey("zone.id"), index=True)

    zone: Mapped[Zone] = relationship()


class WorksStep(Base):
    """A status that works reached. Never changed: one that was wrong is followed by another."""

    __tablename__ = "works_step"

    id: Mapped[int] = mapped_column(primary_key=True)
    works_id: Mapped[int] = mapped_column(sa.ForeignKey("works.id"), index=True)
    status: Mapped[WorksStatus] = mapped_column(stored_enum(WorksStatus, "status"))
    on: Mapped[date]
    #: which papers say so, one a line
    documents: Mapped[str] = mapped_column(sa.Text, default="")
    reason: Mapped[str] = mapped_column(sa.Text, default="")
    recorded_by: Mapped[str] = mapped_column(sa.String(400))
    recorded_on: Mapped[date]


class InterimMeasure(Base):
    """What keeps people safer until the works are done, and what it costs a month."""

    __tablename__ = "interim_measure"

    id: Mapped[int] = mapped_column(primary_key=True)
    works_id: Mapped[int] = mapped_column(sa.ForeignKey("works.id"), index=True)
    uid: Mapped[str] = mapped_column(sa.String(36), unique=True)
    measure: Mapped[str] = mapped_column(sa.String(200))
    started_on: Mapped[date]
    review_on: Mapped[date | None] = mapped_column(index=True)
    #: the last day on which it was kept up
    ended_on: Mapped[date | None]
    #: in the currency of its works
    monthly_minor: Mapped[int | None] = mapped_column(sa.BigInteger)
    revision: Mapped[int] = mapped_column(default=1)

    works: Mapped[Works] = relationship(viewonly=True)


class CalendarLink(Base):
    """An address at which dates of works can be subscribed to; the table holds its hash only."""

    __tablename__ = "calendar_link"

    id: Mapped[int] = mapped_column(primary_key=True)
    organisation_id: Mapped[int] = mapped_column(sa.ForeignKey("organisation.id"), index=True)
    #: whose rights it goes by; NULL: the organisation's
    person_id: Mapped[int | None] = mapped_column(sa.ForeignKey("person.id", ondelete="CASCADE"))
    token_hash: Mapped[str] = mapped_column(sa.String(64), unique=True)
    made_by: Mapped[str] = mapped_column(sa.String(400))
    made_on: Mapped[date]
    revoked_on: Mapped[date | None]

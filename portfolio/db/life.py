"""Tables of what happens to evidence after it was recorded, and of whom that concerns."""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from portfolio.db.base import Base, stored_enum
from portfolio.db.models import Building, Organisation, TestRecord
from portfolio.domain.evidence import Standing


class StandingChange(Base):
    """One change of a test's standing. The test itself holds the newest."""

    __tablename__ = "standing_change"

    id: Mapped[int] = mapped_column(primary_key=True)
    test_id: Mapped[int] = mapped_column(
        sa.ForeignKey(TestRecord.id, ondelete="CASCADE"), index=True
    )
    before: Mapped[Standing] = mapped_column(stored_enum(Standing, "before"))
    standing: Mapped[Standing] = mapped_column(stored_enum(Standing, "standing"))
    #: reference of the test that took its place
    superseded_by: Mapped[str] = mapped_column(sa.String(60), default="")
    on: Mapped[date]
    reason: Mapped[str] = mapped_column(sa.Text)
    document: Mapped[str] = mapped_column(sa.String(300), default="")
    by: Mapped[str] = mapped_column(sa.String(200))


class Concerned(StrEnum):
    """What has to be looked at again."""

    ZONE = "zone"
    TEST = "test"
    PACK = "pack"
    CERTIFICATE = "certificate"


class Reopened(Base):
    """Something that leaned on evidence which changed, until a person has looked at it again."""

    __tablename__ = "reopened"
    __table_args__ = (
        sa.Index("ix_reopened_open", "organisation_id", "looked_on", "building_id"),
        sa.Index("ix_reopened_of", "subject", "subject_id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    #: whose zone, test or pack it is
    organisation_id: Mapped[int] = mapped_column(sa.ForeignKey(Organisation.id))
    building_id: Mapped[int | None] = mapped_column(
        sa.ForeignKey(Building.id, ondelete="CASCADE"), index=True
    )
    subject: Mapped[Concerned] = mapped_column(stored_enum(Concerned, "subject"))
    subject_id: Mapped[int]
    #: as people name it, with its building
    subject_ref: Mapped[str] = mapped_column(sa.String(200))
    because: Mapped[str] = mapped_column(sa.String(400))
    on: Mapped[date]
    #: the coverage before and after; empty where it is no zone
    before: Mapped[str] = mapped_column(sa.String(60), default="")
    after: Mapped[str] = mapped_column(sa.String(60), default="")
    looked_on: Mapped[date | None]
    looked_by: Mapped[str] = mapped_column(sa.String(200), default="")
    note: Mapped[str] = mapped_column(sa.Text, default="")


class PackMade(Base):
    """An evidence pack that was handed out, and which tests stand in it."""

    __tablename__ = "pack_made"

    id: Mapped[int] = mapped_column(primary_key=True)
    building_id: Mapped[int] = mapped_column(
        sa.ForeignKey(Building.id, ondelete="CASCADE"), index=True
    )
    at: Mapped[datetime] = mapped_column(sa.DateTime(timezone=True))
    #: the day as of which it tells
    as_of: Mapped[date]
    by: Mapped[str] = mapped_column(sa.String(200))
    sha256: Mapped[str] = mapped_column(sa.String(64))
    #: ids of the tests that stand in it; of packs of old, of those that its coverage named
    test_ids: Mapped[list[Any]]
    overtaken_on: Mapped[date | None]
    overtaken_because: Mapped[str] = mapped_column(sa.String(400), default="")

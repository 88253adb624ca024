"""Tables of what was counted once so that pages need not count it: derived, like all results.

A row belongs to the result it was made with, and goes with it.
"""

from __future__ import annotations

from enum import StrEnum

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from portfolio.db.base import Base, stored_enum
from portfolio.db.models import BuildingResult, TestRecord, ZoneResult
from portfolio.domain.coverage import Coverage
from portfolio.domain.leaning import Way


class ZoneTest(Base):
    """One test that bears on a zone: the record that the zone's owner means by its reference."""

    __tablename__ = "zone_test"
    __table_args__ = (
        sa.Index("ix_zone_test_by_test", "test_id", "way", "organisation_id", "building_id"),
    )

    zone_id: Mapped[int] = mapped_column(
        sa.ForeignKey(ZoneResult.zone_id, ondelete="CASCADE"), primary_key=True
    )
    test_id: Mapped[int] = mapped_column(
        sa.ForeignKey(TestRecord.id, ondelete="CASCADE"), primary_key=True
    )
    way: Mapped[Way] = mapped_column(stored_enum(Way, "way"))
    #: the zone's building and its owner, for whom a viewer may read
    building_id: Mapped[int]
    organisation_id: Mapped[int]


class BuildingCoverage(Base):
    """A building's zones of one coverage, and their area."""

    __tablename__ = "building_coverage"

    building_id: Mapped[int] = mapped_column(
        sa.ForeignKey(BuildingResult.building_id, ondelete="CASCADE"), primary_key=True
    )
    coverage: Mapped[Coverage] = mapped_column(stored_enum(Coverage, "coverage"), primary_key=True)
    by_inference: Mapped[bool] = mapped_column(primary_key=True)
    organisation_id: Mapped[int]
    #: the building's
    height_band: Mapped[str] = mapped_column(sa.String(20))
    zones: Mapped[int]
    area_m2: Mapped[float]
    #: of these zones, those without a recorded area
    area_unknown: Mapped[int]


class Missing(StrEnum):
    """What keeps a parameter of a wall from being leaned on."""

    #: nobody knows it
    UNKNOWN = "unknown"
    #: surveys of equal strength disagree on it
    CONFLICT = "conflict"


class BuildingMissing(Base):
    """At how many of a building's gaps a parameter is unknown, or in conflict."""

    __tablename__ = "building_missing"
    __table_args__ = (
        sa.Index(
            "ix_building_missing_parameter",
            "missing",
            "parameter",
            "organisation_id",
            "building_id",
            "gaps",
        ),
    )

    building_id: Mapped[int] = mapped_column(
        sa.ForeignKey(BuildingResult.building_id, ondelete="CASCADE"), primary_key=True
    )
    missing: Mapped[Missing] = mapped_column(stored_enum(Missing, "missing"), primary_key=True)
    parameter: Mapped[str] = mapped_column(sa.String(60), primary_key=True)
    organisation_id: Mapped[int]
    gaps: Mapped[int]


class BuildingToFind(Base):
    """At how many of a building's zones a fact is in a smallest set that could settle them."""

    __tablename__ = "building_to_find"
    __table_args__ = (
        sa.Index(
            "ix_building_to_find_fact",
            "parameter",
            "way",
            "organisation_id",
            "building_id",
            "zones",
            "alone",
            "area_m2",
            "area_unknown",
        ),
    )

    building_id: Mapped[int] = mapped_column(
        sa.ForeignKey(BuildingResult.building_id, ondelete="CASCADE"), primary_key=True
    )
    parameter: Mapped[str] = mapped_column(sa.String(60), primary_key=True)
    #: the name of a domain.findings.Way
    way: Mapped[str] = mapped_column(sa.String(20), primary_key=True)
    organisation_id: Mapped[int]
    zones: Mapped[int]
    #: of these zones, those that lack nothing else
    alone: Mapped[int]
    area_m2: Mapped[float]
    #: of these zones, those without a recorded area
    area_unknown: Mapped[int]


class BuildingWall(Base):
    """A building's gaps with one kind of wall, for demand to add up."""

    __tablename__ = "building_wall"
    __table_args__ = (
        sa.Index(
            "ix_building_wall_alike",
            "wall_key",
            "organisation_id",
            "building_id",
            "zones",
            "area_m2",
            "area_unknown",
            "sample_zone_id",
            "top_floor_height_m",
        ),
    )

    building_id: Mapped[int] = mapped_column(
        sa.ForeignKey(BuildingResult.building_id, ondelete="CASCADE"), primary_key=True
    )
    #: the same for walls that one test could speak of, see domain.demand.wall_key
    wall_key: Mapped[str] = mapped_column(sa.String(16), primary_key=True)
    organisation_id: Mapped[int]
    zones: Mapped[int]
    area_m2: Mapped[float]
    area_unknown: Mapped[int]
    #: one of the zones, to show the wall by
    sample_zone_id: Mapped[int]
    top_floor_height_m: Mapped[float | None]


class ZoneSettling(Base):
    """The smallest sets of facts that could settle a zone that is too little known."""

    __tablename__ = "zone_settling"
    __table_args__ = (
        # sets are counted in this without reading them
        sa.Index("ix_zone_settling_kind", "kind", "organisation_id", "building_id", "zone_id"),
    )

    zone_id: Mapped[int] = mapped_column(
        sa.ForeignKey(ZoneResult.zone_id, ondelete="CASCADE"), primary_key=True
    )
    building_id: Mapped[int]
    organisation_id: Mapped[int]
    #: the same for zones whose sets have the same facts
    kind: Mapped[str] = mapped_column(sa.String(16))
    #: domain.settling.SettlingSet as JSON, see mapping.sets_told
    sets: Mapped[str] = mapped_column(sa.Text)


class ResultStamp(Base):
    """A row for each time that results were made, so that what pages work out of them can be kept
    until then. Rows are added and not changed: a row that all change would let those who write
    wait for each other.
    """

    __tablename__ = "result_stamp"

    id: Mapped[int] = mapped_column(primary_key=True)
    #: random, so that a stamp that was rolled back never comes again
    stamp: Mapped[str] = mapped_column(sa.String(32))

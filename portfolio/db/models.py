"""The tables. Surveys, tests, decisions and events are kept for ever; results can be recomputed."""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column, relationship

from portfolio.db.base import Base, stored_enum
from portfolio.domain.coverage import Coverage
from portfolio.domain.evidence import (
    Answer3,
    Consent,
    EvidenceKind,
    Holding,
    Outcome,
    Shows,
    Standing,
)
from portfolio.domain.surveys import Basis

# sorted byte by byte on both databases, whatever the language of the server
ORDERED_TEXT = sa.String(300).with_variant(sa.String(300, collation="C"), "postgresql")


class OrganisationKind(StrEnum):
    """What an organisation is to the others."""

    OWNER = "owner"
    CONSULTANCY = "consultancy"
    LABORATORY = "laboratory"


class Organisation(Base):
    """An owner, a consultancy or a laboratory. Everything belongs to one."""

    __tablename__ = "organisation"

    id: Mapped[int] = mapped_column(primary_key=True)
    #: how files and commands name it
    ref: Mapped[str] = mapped_column(sa.String(60), unique=True)
    name: Mapped[str] = mapped_column(sa.String(200))
    kind: Mapped[OrganisationKind] = mapped_column(stored_enum(OrganisationKind, "kind"))


class Building(Base):
    """An occupied building. NULL and "" mean that nobody has said."""

    __tablename__ = "building"
    __table_args__ = (sa.UniqueConstraint("organisation_id", "ref"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    organisation_id: Mapped[int] = mapped_column(sa.ForeignKey("organisation.id"), index=True)
    ref: Mapped[str] = mapped_column(sa.String(60))
    name: Mapped[str] = mapped_column(sa.String(200))
    address: Mapped[str] = mapped_column(sa.String(300), default="")
    jurisdiction: Mapped[str] = mapped_column(sa.String(60), default="")
    use: Mapped[str] = mapped_column(sa.String(40), default="")
    #: storeys above ground
    storeys: Mapped[int | None]
    homes: Mapped[int | None]
    #: people as stated; estimated from homes when NULL
    people: Mapped[int | None]
    evacuation: Mapped[str] = mapped_column(sa.String(40), default="")
    sprinklers: Mapped[str] = mapped_column(sa.String(40), default="")
    note: Mapped[str] = mapped_column(sa.Text, default="")
    #: lower-case reference, name and address, for searching
    search_text: Mapped[str] = mapped_column(sa.Text, default="")
    #: counts saves, so that two editors notice each other
    revision: Mapped[int] = mapped_column(default=1)

    organisation: Mapped[Organisation] = relationship()
    heights: Mapped[list[HeightClaim]] = relationship(
        order_by="HeightClaim.id", cascade="all, delete-orphan"
    )
    zones: Mapped[list[Zone]] = relationship(back_populates="building", order_by="Zone.ref")
    result: Mapped[BuildingResult | None] = relationship(viewonly=True)


class HeightClaim(Base):
    """One word on the height of the top storey's floor above the lowest ground."""

    __tablename__ = "height_claim"

    id: Mapped[int] = mapped_column(primary_key=True)
    building_id: Mapped[int] = mapped_column(
        sa.ForeignKey("building.id", ondelete="CASCADE"), index=True
    )
    metres: Mapped[float]
    method: Mapped[str] = mapped_column(sa.String(200), default="")
    tolerance_m: Mapped[float | None]
    on: Mapped[date | None]
    source: Mapped[str] = mapped_column(sa.String(300), default="")


class Zone(Base):
    """A part of a building's external wall with one build-up."""

    __tablename__ = "zone"
    __table_args__ = (sa.UniqueConstraint("building_id", "ref"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    building_id: Mapped[int] = mapped_column(sa.ForeignKey("building.id"), index=True)
    ref: Mapped[str] = mapped_column(sa.String(60))
    description: Mapped[str] = mapped_column(sa.String(300), default="")
    #: which face of the building: north, street side, courtyard…
    face: Mapped[str] = mapped_column(sa.String(60), default="")
    #: storeys count from 0 at the ground
    from_storey: Mapped[int | None]
    to_storey: Mapped[int | None]
    area_m2: Mapped[float | None]
    #: balconies, canopies, signs: zones of their own
    is_attachment: Mapped[bool] = mapped_column(default=False)
    #: domain.routes.Work: the kind of work, and the day on which application or notice counted
    work: Mapped[str] = mapped_column(sa.String(20), default="", server_default="")
    work_counted_on: Mapped[date | None]
    revision: Mapped[int] = mapped_column(default=1)

    building: Mapped[Building] = relationship(back_populates="zones")
    surveys: Mapped[list[Survey]] = relationship(order_by="Survey.id")
    settlements: Mapped[list[Settlement]] = relationship(order_by="Settlement.id")
    decisions: Mapped[list[Decision]] = relationship(order_by="Decision.id")
    result: Mapped[ZoneResult | None] = relationship(viewonly=True)


class Survey(Base):
    """What one source said of a zone on one date. Never changed; a correction is a new survey."""

    __tablename__ = "survey"
    __table_args__ = (sa.UniqueConstraint("zone_id", "ref"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    zone_id: Mapped[int] = mapped_column(sa.ForeignKey("zone.id"), index=True)
    ref: Mapped[str] = mapped_column(sa.String(60))
    basis: Mapped[Basis] = mapped_column(stored_enum(Basis, "basis"))
    on: Mapped[date]
    #: the document or the person that says so
    source: Mapped[str] = mapped_column(sa.String(300), default="")
    #: the wall as this source gives it, see mapping.build_up_from_json
    build_up: Mapped[dict[str, Any]]


class Settlement(Base):
    """A named person's ruling on which survey to believe about one parameter."""

    __tablename__ = "settlement"

    id: Mapped[int] = mapped_column(primary_key=True)
    zone_id: Mapped[int] = mapped_column(sa.ForeignKey("zone.id"), index=True)
    parameter: Mapped[str] = mapped_column(sa.String(60))
    survey_ref: Mapped[str] = mapped_column(sa.String(60))
    by: Mapped[str] = mapped_column(sa.String(200))
    on: Mapped[date]
    reason: Mapped[str] = mapped_column(sa.Text)


class Decision(Base):
    """A named engineer's ruling on a zone. It stands beside the computed coverage."""

    __tablename__ = "decision"

    id: Mapped[int] = mapped_column(primary_key=True)
    zone_id: Mapped[int] = mapped_column(sa.ForeignKey("zone.id"), index=True)
    ruling: Mapped[str] = mapped_column(sa.Text)
    by: Mapped[str] = mapped_column(sa.String(200))
    qualification: Mapped[str] = mapped_column(sa.String(200), default="")
    on: Mapped[date]
    valid_from: Mapped[date | None]
    valid_until: Mapped[date | None]
    reasons: Mapped[str] = mapped_column(sa.Text)
    documents: Mapped[str] = mapped_column(sa.Text, default="")
    #: the coverage that the engineer had before them
    coverage_then: Mapped[str] = mapped_column(sa.String(60), default="")
    #: what it rested on, see services.rested_on; NULL: recorded before that was kept
    rested_on: Mapped[dict[str, Any] | None]


class TestRecord(Base):
    """One large-scale test as its holder recorded it."""

    __test__ = False
    __tablename__ = "test_record"
    __table_args__ = (sa.UniqueConstraint("organisation_id", "ref"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    organisation_id: Mapped[int] = mapped_column(sa.ForeignKey("organisation.id"), index=True)
    ref: Mapped[str] = mapped_column(sa.String(60))
    title: Mapped[str] = mapped_column(sa.String(300), default="")
    laboratory: Mapped[str] = mapped_column(sa.String(200), default="")
    sponsor: Mapped[str] = mapped_column(sa.String(200), default="")
    standard: Mapped[str] = mapped_column(sa.String(60), default="")
    part: Mapped[str] = mapped_column(sa.String(10), default="")
    edition: Mapped[str] = mapped_column(sa.String(60), default="")
    tested_on: Mapped[date | None]
    external_spread: Mapped[Answer3] = mapped_column(stored_enum(Answer3, "external_spread"))
    internal_spread: Mapped[Answer3] = mapped_column(stored_enum(Answer3, "internal_spread"))
    #: NULL where the criterion does not apply (part 1)
    burn_through: Mapped[Answer3 | None] = mapped_column(stored_enum(Answer3, "burn_through"))
    no_flames_above_rig: Mapped[Answer3] = mapped_column(stored_enum(Answer3, "no_flames"))
    no_early_end: Mapped[Answer3] = mapped_column(stored_enum(Answer3, "no_early_end"))
    observations: Mapped[str] = mapped_column(sa.Text, default="")
    printed_outcome: Mapped[Outcome] = mapped_column(stored_enum(Outcome, "printed_outcome"))
    class_document: Mapped[str] = mapped_column(sa.String(60), default="")
    class_edition: Mapped[str] = mapped_column(sa.String(60), default="")
    class_annex: Mapped[str] = mapped_column(sa.String(10), default="")
    class_report: Mapped[str] = mapped_column(sa.String(100), default="")
    #: an assessment has an author, and leans on tests
    kind: Mapped[EvidenceKind] = mapped_column(
        stored_enum(EvidenceKind, "kind"), default=EvidenceKind.TEST, server_default="test"
    )
    author: Mapped[str] = mapped_column(sa.String(200), default="", server_default="")
    report_ref: Mapped[str] = mapped_column(sa.String(100), default="", server_default="")
    report_issue: Mapped[str] = mapped_column(sa.String(40), default="", server_default="")
    report_on: Mapped[date | None]
    #: from ignition to the end of the test
    run_seconds: Mapped[int | None]
    #: which outcome counts where the printed one and the criteria contradict each other, and what
    #: these were when a named engineer settled it
    ruled_outcome: Mapped[Outcome | None] = mapped_column(stored_enum(Outcome, "ruled_outcome"))
    ruled_by: Mapped[str] = mapped_column(sa.String(200), default="", server_default="")
    ruled_qualification: Mapped[str] = mapped_column(sa.String(200), default="", server_default="")
    ruled_on: Mapped[date | None]
    ruled_reason: Mapped[str] = mapped_column(sa.Text, default="", server_default="")
    ruled_document: Mapped[str] = mapped_column(sa.String(300), default="", server_default="")
    ruled_printed: Mapped[Outcome | None] = mapped_column(stored_enum(Outcome, "ruled_printed"))
    ruled_criteria: Mapped[Outcome | None] = mapped_column(stored_enum(Outcome, "ruled_criteria"))
    standing: Mapped[Standing] = mapped_column(stored_enum(Standing, "standing"))
    standing_note: Mapped[str] = mapped_column(sa.Text, default="")
    holding: Mapped[Holding] = mapped_column(stored_enum(Holding, "holding"))
    consent: Mapped[Consent] = mapped_column(stored_enum(Consent, "consent"))
    #: references of the tests that this evidence leans on
    leans_on: Mapped[list[Any]] = mapped_column(default=list)
    source: Mapped[str] = mapped_column(sa.String(300), default="")
    build_up: Mapped[dict[str, Any]]
    revision: Mapped[int] = mapped_column(default=1)

    organisation: Mapped[Organisation] = relationship()
    consents: Mapped[list[TestConsent]] = relationship(
        order_by="TestConsent.id", cascade="all, delete-orphan"
    )


class TestConsent(Base):
    """What the sponsor said to another organisation that wants to lean on a test.

    Whoever records it states a reference, and is never told whether an organisation has it.
    """

    __test__ = False
    __tablename__ = "test_consent"
    __table_args__ = (
        sa.UniqueConstraint("test_id", "organisation_id"),
        sa.UniqueConstraint("test_id", "organisation_ref"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    test_id: Mapped[int] = mapped_column(
        sa.ForeignKey("test_record.id", ondelete="CASCADE"), index=True
    )
    #: as it was stated
    organisation_ref: Mapped[str] = mapped_column(sa.String(60))
    #: who had that reference when it was recorded; NULL: nobody, and it has no effect
    organisation_id: Mapped[int | None] = mapped_column(
        sa.ForeignKey("organisation.id"), index=True
    )
    consent: Mapped[Consent] = mapped_column(stored_enum(Consent, "consent"))
    on: Mapped[date | None]
    #: the last day on which a consent given counts
    until: Mapped[date | None]
    #: for what it was given
    purpose: Mapped[str] = mapped_column(sa.String(300), default="")
    shows: Mapped[Shows] = mapped_column(stored_enum(Shows, "shows"), default=Shows.EVERYTHING)
    document: Mapped[str] = mapped_column(sa.String(300), default="")


class Event(Base):
    """The change log: who did what to which thing, what from, what to, why.

    Append-only in the database itself, see append_only; each entry holds the hash of the one
    before it, see changelog.
    """

    __tablename__ = "event"
    __table_args__ = (sa.Index("ix_event_subject", "subject", "subject_id"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    at: Mapped[datetime] = mapped_column(sa.DateTime(timezone=True))
    #: whose thing it is
    organisation_id: Mapped[int | None] = mapped_column(
        sa.ForeignKey("organisation.id"), index=True
    )
    #: the name as it was then; for whom the actor works is acting_organisation_id
    actor: Mapped[str] = mapped_column(sa.String(400))
    person_id: Mapped[int | None]
    acting_organisation_id: Mapped[int | None]
    action: Mapped[str] = mapped_column(sa.String(40))
    subject: Mapped[str] = mapped_column(sa.String(40))
    subject_id: Mapped[int]
    subject_ref: Mapped[str] = mapped_column(sa.String(200))
    #: {field: [from, to]}
    changes: Mapped[dict[str, Any]]
    reason: Mapped[str] = mapped_column(sa.Text, default="")
    #: the whole thing after the change, where it can change again; for looking back
    state: Mapped[dict[str, Any] | None]
    previous_hash: Mapped[str] = mapped_column(sa.String(64))
    hash: Mapped[str] = mapped_column(sa.String(64))


class LogHead(Base):
    """The one row that knows the end of the change log, so that a cut-off end is noticed."""

    __tablename__ = "log_head"

    id: Mapped[int] = mapped_column(primary_key=True)
    entries: Mapped[int]
    last_hash: Mapped[str] = mapped_column(sa.String(64))


class ZoneResult(Base):
    """The computed coverage of a zone: derived, can be thrown away and made again."""

    __tablename__ = "zone_result"
    __table_args__ = (
        # whole lists are counted, filtered and paged in these without reading the results
        sa.Index(
            "ix_zone_result_order",
            "position",
            "zone_id",
            "is_gap",
            "coverage",
            "by_inference",
            "organisation_id",
            "building_id",
        ),
        sa.Index(
            "ix_zone_result_place",
            "organisation_id",
            "position",
            "zone_id",
            "is_gap",
            "coverage",
            "by_inference",
            "building_id",
        ),
        sa.Index("ix_zone_result_building", "building_id"),
        sa.Index("ix_zone_result_alike", "wall_key", "organisation_id"),
    )

    zone_id: Mapped[int] = mapped_column(
        sa.ForeignKey("zone.id", ondelete="CASCADE"), primary_key=True
    )
    building_id: Mapped[int] = mapped_column(sa.ForeignKey("building.id", ondelete="CASCADE"))
    organisation_id: Mapped[int] = mapped_column(sa.ForeignKey("organisation.id"))
    coverage: Mapped[Coverage] = mapped_column(stored_enum(Coverage, "coverage"))
    by_inference: Mapped[bool]
    covered_too: Mapped[bool]
    is_gap: Mapped[bool]
    has_conflict: Mapped[bool]
    #: sorts gaps in their order: the steps' places, then building, owner and zone; "~" before what
    #: is no gap, so that it comes after all gaps
    position: Mapped[str] = mapped_column(ORDERED_TEXT)
    #: verdicts, differences, unknowns, conflicts and reasons, see mapping.result_details
    details: Mapped[dict[str, Any]]
    #: the same for walls that one test could speak of, see domain.demand.wall_key
    wall_key: Mapped[str] = mapped_column(sa.String(16))
    #: the facing and insulation in words, for lists and searching
    wall_text: Mapped[str] = mapped_column(sa.String(300), default="")
    #: whether the facing is a combustible metal composite: "yes", "no", "" where nobody knows
    metal_composite: Mapped[str] = mapped_column(sa.String(5), default="", server_default="")
    computed_on: Mapped[date]
    rule_version: Mapped[str] = mapped_column(sa.String(20))


class BuildingResult(Base):
    """What a building's zones add up to: its worst zone, and counts. Derived."""

    __tablename__ = "building_result"

    building_id: Mapped[int] = mapped_column(
        sa.ForeignKey("building.id", ondelete="CASCADE"), primary_key=True
    )
    organisation_id: Mapped[int] = mapped_column(sa.ForeignKey("organisation.id"), index=True)
    coverage: Mapped[Coverage] = mapped_column(stored_enum(Coverage, "coverage"))
    by_inference: Mapped[bool]
    zones: Mapped[int]
    gaps: Mapped[int]
    #: zones where surveys disagree and nobody has settled it
    in_conflict: Mapped[int]
    top_floor_height_m: Mapped[float | None]
    height_band: Mapped[str] = mapped_column(sa.String(20), default="")
    people: Mapped[int | None]
    #: of its zones' facings: "yes" where one is a combustible metal composite
    metal_composite: Mapped[str] = mapped_column(sa.String(5), default="", server_default="")
    #: place of its first gap, so that buildings sort by what comes first; "~" without a gap
    position: Mapped[str] = mapped_column(ORDERED_TEXT, index=True)

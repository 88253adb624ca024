"""What a file says should be so: one frozen record for each building, zone, survey and test.

Field names are the column keys of the layout. `columns` holds the columns that the file had: a
record is changed only in what the file speaks of. `at` says where the record stands.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from datetime import date
from typing import Any

from portfolio.domain.errors import Problem
from portfolio.domain.evidence import Answer3, Consent, EvidenceKind, Holding, Outcome, Standing
from portfolio.domain.heights import HeightClaim
from portfolio.domain.surveys import Basis
from portfolio.domain.walls import BuildUp
from portfolio.domain.works import Decided, WorksStatus

Key = tuple[str, ...]
LAYERS = "layers"
"""Stands in `columns` of a test when its layers were given too."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a record stands in what was handed in."""

    file: str = ""
    tab: str = ""
    row: int | None = None

    def problem(
        self, message: str, *, column: str = "", value: str = "", expected: str = ""
    ) -> Problem:
        """A problem of the record that stands here."""
        return Problem(message, expected, self.file, self.tab, self.row, column, value)


NOWHERE = Place()


@dataclass(frozen=True, slots=True)
class OrganisationDraft:
    """An organisation; `kind` is empty when the file does not say."""

    organisation: str
    name: str
    kind: str = ""
    columns: frozenset[str] = field(default=frozenset(), compare=False)
    at: Place = field(default=NOWHERE, compare=False)

    @property
    def key(self) -> Key:
        """What tells it from all others of its kind."""
        return (self.organisation,)


@dataclass(frozen=True, slots=True)
class BuildingDraft:
    """A building, with every height that the file claims for it."""

    owner: str
    building: str
    name: str
    address: str = ""
    jurisdiction: str = ""
    use: str = ""
    storeys: int | None = None
    homes: int | None = None
    people: int | None = None
    evacuation: str = ""
    sprinklers: str = ""
    note: str = ""
    heights: tuple[HeightClaim, ...] = ()
    columns: frozenset[str] = field(default=frozenset(), compare=False)
    at: Place = field(default=NOWHERE, compare=False)

    @property
    def key(self) -> Key:
        """What tells it from all others of its kind."""
        return self.owner, self.building


@dataclass(frozen=True, slots=True)
class HeightDraft:
    """A height claimed for a building that the file does not hold itself."""

    owner: str
    building: str
    claim: HeightClaim
    at: Place = field(default=NOWHERE, compare=False)

    @property
    def key(self) -> Key:
        """The building that it is claimed for."""
        return self.owner, self.building


@dataclass(frozen=True, slots=True)
class ZoneDraft:
    """A zone of a building."""

    owner: str
    building: str
    zone: str
    description: str = ""
    face: str = ""
    from_storey: int | None = None
    to_storey: int | None = None
    area_m2: float | None = None
    attachment: bool = False
    work: str = ""
    work_counted_on: date | None = None
    columns: frozenset[str] = field(default=frozenset(), compare=False)
    at: Place = field(default=NOWHERE, compare=False)

    @property
    def key(self) -> Key:
        """What tells it from all others of its kind."""
        return self.owner, self.building, self.zone


@dataclass(frozen=True, slots=True)
class SurveyDraft:
    """A survey of a zone."""

    owner: str
    building: str
    zone: str
    survey: str
    basis: Basis
    survey_date: date
    survey_source: str
    build_up: BuildUp
    at: Place = field(default=NOWHERE, compare=False)

    @property
    def key(self) -> Key:
        """What tells it from all others of its kind."""
        return self.owner, self.building, self.zone, self.survey


@dataclass(frozen=True, slots=True)
class TestDraft:
    """A test as its holder records it."""

    __test__ = False

    held_by: str
    test: str
    build_up: BuildUp
    title: str = ""
    laboratory: str = ""
    sponsor: str = ""
    standard: str = ""
    part: str = ""
    edition: str = ""
    tested_on: date | None = None
    external_spread: Answer3 = Answer3.UNKNOWN
    internal_spread: Answer3 = Answer3.UNKNOWN
    burn_through: Answer3 | None = Answer3.UNKNOWN
    no_flames_above_rig: Answer3 = Answer3.UNKNOWN
    no_early_end: Answer3 = Answer3.UNKNOWN
    observations: str = ""
    printed_outcome: Outcome = Outcome.NOT_TOLD
    class_document: str = ""
    class_edition: str = ""
    class_annex: str = ""
    class_report: str = ""
    kind: EvidenceKind = EvidenceKind.TEST
    author: str = ""
    report_ref: str = ""
    report_issue: str = ""
    report_on: date | None = None
    run_seconds: int | None = None
    standing: Standing = Standing.LIVE
    standing_note: str = ""
    holding: Holding = Holding.NOT_SEEN
    consent: Consent = Consent.NOT_ASKED
    consent_given_to: tuple[str, ...] = ()
    leans_on: tuple[str, ...] = ()
    source: str = ""
    columns: frozenset[str] = field(default=frozenset(), compare=False)
    at: Place = field(default=NOWHERE, compare=False)

    @property
    def key(self) -> Key:
        """What tells it from all others of its kind."""
        return self.held_by, self.test


@dataclass(frozen=True, slots=True)
class WorksDraft:
    """Works on a building. Amounts are minor units; no zones: the whole building."""

    owner: str
    building: str
    works: str
    works_title: str = ""
    works_zones: tuple[str, ...] = ()
    decided: Decided = Decided.NOT_DECIDED
    decided_reason: str = ""
    works_status: WorksStatus = WorksStatus.IDENTIFIED
    works_status_date: date | None = None
    built_on: date | None = None
    programme: str = ""
    responsible: str = ""
    funding_route: str = ""
    currency: str = "GBP"
    funding: int | None = None
    cost_estimate: int | None = None
    cost_outturn: int | None = None
    due_on: date | None = None
    due_reason: str = ""
    residents_told_on: date | None = None
    residents_next_on: date | None = None
    works_note: str = ""
    columns: frozenset[str] = field(default=frozenset(), compare=False)
    at: Place = field(default=NOWHERE, compare=False)

    @property
    def key(self) -> Key:
        """What tells it from all others of its kind."""
        return self.owner, self.building, self.works


@dataclass(frozen=True, slots=True)
class Drafts:
    """Everything that was handed in, and every problem found on the way.

    `refused` holds the keys, led by the sheet, of records that had problems, and the sheet alone
    where none of its rows could be read: what leans on them must not be reported once more.
    """

    organisations: tuple[OrganisationDraft, ...] = ()
    buildings: tuple[BuildingDraft, ...] = ()
    heights: tuple[HeightDraft, ...] = ()
    zones: tuple[ZoneDraft, ...] = ()
    surveys: tuple[SurveyDraft, ...] = ()
    tests: tuple[TestDraft, ...] = ()
    problems: tuple[Problem, ...] = ()
    refused: frozenset[Key] = frozenset()
    works: tuple[WorksDraft, ...] = ()

    def is_refused(self, sheet: str, key: Key) -> bool:
        """Whether a record of this key was handed in, but could not be used."""
        return (sheet,) in self.refused or (sheet, *key) in self.refused


_NOT_FIELDS = ("columns", "at", "heights", "build_up")


def field_names(draft: type[Any], key_length: int) -> tuple[str, ...]:
    """The fields of a kind of draft that a file may change: not its key, not where it stands."""
    names = tuple(f.name for f in fields(draft) if f.name not in _NOT_FIELDS)
    return names[key_length:]

"""The plan of an import: what would be created, changed and left, and what stands in its way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from portfolio.domain.errors import Problem
from portfolio.domain.heights import HeightClaim
from portfolio.services.stored import Stored
from portfolio.sheets.drafts import (
    BuildingDraft,
    Key,
    OrganisationDraft,
    SurveyDraft,
    TestDraft,
    WorksDraft,
    ZoneDraft,
)

Draft = OrganisationDraft | BuildingDraft | ZoneDraft | SurveyDraft | TestDraft | WorksDraft
Changes = Mapping[str, tuple[Any, Any]]

ORGANISATION, BUILDING, ZONE = "organisation", "building", "zone"
SURVEY, TEST, WORKS = "survey", "test", "works"


@dataclass(frozen=True, slots=True)
class Create:
    """A record that is not there yet."""

    subject: str
    draft: Draft


@dataclass(frozen=True, slots=True)
class Update:
    """A record that changes. `draft` is what it will be; `claims` are the heights it gains."""

    subject: str
    draft: Draft
    stored: Stored[Any]
    changes: Changes
    claims: tuple[HeightClaim, ...] = ()


@dataclass(frozen=True, slots=True)
class Leave:
    """A record that is just as the file has it."""

    subject: str
    draft: Draft


Step = Create | Update | Leave


@dataclass(frozen=True, slots=True)
class Current:
    """What is stored, as far as the drafts speak of it."""

    organisations: Mapping[Key, Stored[OrganisationDraft]] = field(default_factory=dict)
    buildings: Mapping[Key, Stored[BuildingDraft]] = field(default_factory=dict)
    zones: Mapping[Key, Stored[ZoneDraft]] = field(default_factory=dict)
    surveys: Mapping[Key, SurveyDraft] = field(default_factory=dict)
    tests: Mapping[Key, Stored[TestDraft]] = field(default_factory=dict)
    works: Mapping[Key, Stored[WorksDraft]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Scope:
    """What an import may write."""

    own: str | None = None
    """The only organisation whose records may be written, by reference; None: any."""
    organisation_id: int | None = None
    may_rename: bool = True
    """Whether the organisation's own name may change."""
    opened: frozenset[Key] = frozenset()
    """Buildings of others that may be written, with their zones and surveys."""


@dataclass(frozen=True, slots=True)
class ImportPlan:
    """Everything that an import would do, record by record; nothing of it with any problem."""

    steps: tuple[Step, ...]
    problems: tuple[Problem, ...]
    current: Current
    organisation_id: int | None = None
    """Of the viewer that it was made for."""
    opened: frozenset[Key] = frozenset()
    """Buildings of others that it writes to."""

    @property
    def creates(self) -> tuple[Create, ...]:
        """The records that are new."""
        return tuple(step for step in self.steps if isinstance(step, Create))

    @property
    def updates(self) -> tuple[Update, ...]:
        """The records that change."""
        return tuple(step for step in self.steps if isinstance(step, Update))

    @property
    def leaves(self) -> tuple[Leave, ...]:
        """The records that stay as they are."""
        return tuple(step for step in self.steps if isinstance(step, Leave))

    def counts(self) -> dict[str, tuple[int, int, int]]:
        """By subject: how many are created, changed and left as they are."""
        found: dict[str, list[int]] = {}
        for step in self.steps:
            place = (Create, Update, Leave).index(type(step))
            found.setdefault(step.subject, [0, 0, 0])[place] += 1
        return {subject: (new, changed, same) for subject, (new, changed, same) in found.items()}

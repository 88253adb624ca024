"""Loads stored records as drafts, in a few queries however many there are."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import models
from portfolio.domain.evidence import Consent
from portfolio.domain.heights import HeightClaim
from portfolio.domain.vocabulary import Vocabulary
from portfolio.services import drafting
from portfolio.sheets.drafts import (
    BuildingDraft,
    Key,
    OrganisationDraft,
    SurveyDraft,
    TestDraft,
    ZoneDraft,
)

_BATCH = 500
_Draft = TypeVar("_Draft")


@dataclass(frozen=True, slots=True)
class Stored(Generic[_Draft]):
    """A stored record. `revision` counts its saves; 0 where they are not counted."""

    id: int
    draft: _Draft
    revision: int = 0


def organisations(
    session: Session, condition: sa.ColumnElement[bool], refs: Collection[str] | None = None
) -> dict[Key, Stored[OrganisationDraft]]:
    """The organisations that meet the condition, kept to some references unless None."""
    query = sa.select(models.Organisation).where(condition).order_by(models.Organisation.ref)
    rows = _rows(session, query, models.Organisation.ref, refs, scalars=True)
    return {(row.ref,): Stored(row.id, drafting.organisation_draft(row)) for row in rows}


def buildings(
    session: Session, owners: Mapping[int, str], refs: Collection[str] | None = None
) -> dict[Key, Stored[BuildingDraft]]:
    """The owners' buildings with their heights; `owners` gives references by id."""
    table = models.Building.__table__
    query = (
        sa.select(table)
        .where(table.c.organisation_id.in_(owners))
        .order_by(table.c.organisation_id, table.c.ref)
    )
    rows = list(_rows(session, query, table.c.ref, refs))
    heights = _heights(session, [row.id for row in rows])
    found = {}
    for row in rows:
        claims = tuple(heights.get(row.id, ()))
        draft = drafting.building_draft(owners[row.organisation_id], row, claims)
        found[draft.key] = Stored(row.id, draft, row.revision)
    return found


def _heights(session: Session, ids: Collection[int]) -> dict[int, list[HeightClaim]]:
    table = models.HeightClaim.__table__
    found: dict[int, list[HeightClaim]] = {}
    query = sa.select(table).order_by(table.c.id)
    for row in _rows(session, query, table.c.building_id, ids):
        found.setdefault(row.building_id, []).append(drafting.height_claim(row))
    return found


def zones(session: Session, of: Mapping[int, Key]) -> dict[Key, Stored[ZoneDraft]]:
    """The zones of the buildings, whose keys `of` gives by id."""
    table = models.Zone.__table__
    query = sa.select(table).order_by(table.c.building_id, table.c.ref)
    found = {}
    for row in _rows(session, query, table.c.building_id, of):
        draft = drafting.zone_draft(of[row.building_id], row)
        found[draft.key] = Stored(row.id, draft, row.revision)
    return found


def surveys(
    session: Session, of: Mapping[int, Key], vocabulary: Vocabulary
) -> dict[Key, SurveyDraft]:
    """The surveys of the zones, whose keys `of` gives by id."""
    table = models.Survey.__table__
    query = sa.select(table).order_by(table.c.zone_id, table.c.id)
    found = {}
    for row in _rows(session, query, table.c.zone_id, of):
        draft = drafting.survey_draft(of[row.zone_id], row, vocabulary)
        found[draft.key] = draft
    return found


def held_tests(
    session: Session,
    holders: Mapping[int, str],
    vocabulary: Vocabulary,
    refs: Collection[str] | None = None,
) -> dict[Key, Stored[TestDraft]]:
    """The tests that the holders keep; `holders` gives references by id."""
    kept = models.TestRecord
    query = (
        sa.select(kept)
        .where(kept.organisation_id.in_(holders))
        .order_by(kept.organisation_id, kept.ref)
    )
    rows = list(_rows(session, query, kept.ref, refs, scalars=True))
    given_to = _given_to(session, [row.id for row in rows])
    found = {}
    for row in rows:
        draft = drafting.test_draft(
            holders[row.organisation_id], row, given_to.get(row.id, []), vocabulary
        )
        found[draft.key] = Stored(row.id, draft, row.revision)
    return found


def _given_to(session: Session, ids: Collection[int]) -> dict[int, list[str]]:
    said = models.TestConsent
    query = sa.select(said.test_id, said.organisation_ref).where(said.consent == Consent.GIVEN)
    found: dict[int, list[str]] = {}
    for row in _rows(session, query, said.test_id, ids):
        found.setdefault(row.test_id, []).append(row.organisation_ref)
    return found


def batches(values: Iterable[Any]) -> Iterator[list[Any]]:
    """The values in parts that both databases accept in one query."""
    ordered = sorted(values)
    for start in range(0, len(ordered), _BATCH):
        yield ordered[start : start + _BATCH]


def _rows(
    session: Session,
    query: Any,
    column: Any,
    values: Iterable[Any] | None,
    *,
    scalars: bool = False,
) -> Iterator[Any]:
    """The rows of a query, kept to those whose column has one of the values."""
    run = session.scalars if scalars else session.execute
    if values is None:
        yield from run(query)
        return
    for batch in batches(set(values)):
        yield from run(query.where(column.in_(batch)))

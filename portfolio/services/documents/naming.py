"""Finds a fact by the references that people use, for the shell."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.certificates import Certificate
from portfolio.db.models import Building, Organisation, Survey, TestRecord, Zone
from portfolio.domain.documents import FactKind, SupportedFact
from portfolio.domain.errors import NotFoundError

_OF_ORGANISATIONS: dict[str, tuple[FactKind, Any]] = {
    "test": (FactKind.TEST, TestRecord),
    "certificate": (FactKind.CERTIFICATE, Certificate),
}


def fact_named(session: Session, name: str, layer: int = 0, owner: str = "") -> SupportedFact:
    """BUILDING, BUILDING/ZONE/SURVEY, test:REF or certificate:REF; of one owner, or of any.

    References may hold a slash themselves. Raises NotFoundError where there is none or several.
    """
    prefix, _, ref = name.partition(":")
    found: list[SupportedFact] = []
    if ref and prefix in _OF_ORGANISATIONS:
        kind, table = _OF_ORGANISATIONS[prefix]
        query = sa.select(table.id).join(Organisation, Organisation.id == table.organisation_id)
        ids = session.scalars(_of(query.where(table.ref == ref), owner))
        found += [SupportedFact(kind, number, layer) for number in ids]
    slash = sa.literal("/")
    whole = Building.ref + slash + Zone.ref + slash + Survey.ref
    surveys = sa.select(Survey.id).join(Zone).join(Building).join(Organisation)
    ids = session.scalars(_of(surveys.where(whole == name), owner))
    found += [SupportedFact(FactKind.SURVEY, number, layer) for number in ids]
    buildings = sa.select(Building.id).join(Organisation).where(Building.ref == name)
    ids = session.scalars(_of(buildings, owner))
    found += [SupportedFact(FactKind.BUILDING, number, layer) for number in ids]
    if not found:
        raise NotFoundError(f'There is nothing called "{name}" that a document could support.')
    if len(found) > 1:
        raise NotFoundError(f'"{name}" may mean several things: name the owner, or use the pages.')
    return found[0]


def _of(query: sa.Select[int], owner: str) -> sa.Select[int]:
    return query.where(Organisation.ref == owner) if owner else query

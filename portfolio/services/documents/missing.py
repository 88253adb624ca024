"""What of a building no document supports: surveys, rulings, and the tests that bear on it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.documents import Document, DocumentSupport
from portfolio.db.models import Building
from portfolio.db.results import ZoneTest
from portfolio.domain.documents import FactKind
from portfolio.domain.errors import NotFoundError
from portfolio.domain.leaning import Way
from portfolio.domain.rights import Right
from portfolio.services.documents.facts import Place, facts_of_building, facts_of_test
from portfolio.services.documents.seeing import is_readable
from portfolio.services.reliance import shown_in_full
from portfolio.services.viewer import Viewer

_BEARS = (Way.COVERS, Way.AGAINST)


@dataclass(frozen=True, slots=True)
class MissingSupport:
    """The facts of a building without a document that the viewer sees, of `facts` there are."""

    building_id: int
    building_ref: str
    building_name: str
    without: tuple[Place, ...]
    facts: int


def missing_support(session: Session, viewer: Viewer, building_id: int, on: date) -> MissingSupport:
    """Which surveys, rulings and tests lack a document. Raises NotFoundError.

    Tests are those that cover a zone or speak against one, as far as they may be shown in full.
    """
    row = session.get(Building, building_id)
    if row is None or not viewer.may(Right.READ, row.organisation_id, row.id):
        raise NotFoundError("There is no such building.")
    facts = [
        place
        for place in facts_of_building(session, building_id)
        # nobody has a paper yet of what may not be done yet; completing asks for one itself
        if place.kind not in (FactKind.BUILDING, FactKind.COMPLETION)
    ]
    tests = _tests(session, viewer, building_id, on)
    for test_id in sorted(tests):
        facts += [p for p in facts_of_test(session, test_id) if p.kind is FactKind.TEST]
    backed = _backed(session, viewer, building_id, tests, on)
    without = tuple(place for place in facts if (place.kind, place.id) not in backed)
    return MissingSupport(row.id, row.ref, row.name, without, len(facts))


def _tests(session: Session, viewer: Viewer, building_id: int, on: date) -> frozenset[int]:
    query = (
        sa.select(ZoneTest.test_id)
        .where(ZoneTest.building_id == building_id, ZoneTest.way.in_(_BEARS))
        .distinct()
    )
    return shown_in_full(session, viewer, on, session.scalars(query).all())


def _backed(
    session: Session, viewer: Viewer, building_id: int, tests: Collection[int], on: date
) -> set[tuple[FactKind, int]]:
    """The facts that a document supports which the viewer sees, one of a layer included."""
    about = sa.or_(DocumentSupport.building_id == building_id, DocumentSupport.test_id.in_(tests))
    query = (
        sa.select(DocumentSupport.fact, DocumentSupport.fact_id)
        .join(Document)
        .where(about, is_readable(viewer, on))
        .distinct()
    )
    return {(row.fact, row.fact_id) for row in session.execute(query)}

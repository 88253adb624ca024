"""What a new document may support on the page where somebody begins to add it."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy.orm import Session

from portfolio.db.certificates import Certificate
from portfolio.db.models import Building, TestRecord, Zone
from portfolio.domain.errors import NotFoundError
from portfolio.domain.rights import Right
from portfolio.services.documents.facts import (
    Place,
    facts_of_building,
    facts_of_certificate,
    facts_of_test,
    facts_of_zone,
)
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class Offer:
    """The facts of one thing, which is called `ref`."""

    ref: str
    places: tuple[Place, ...]


def offer_of_building(session: Session, viewer: Viewer, building_id: int) -> Offer:
    """The facts of a building. Raises NotFoundError, ForbiddenError."""
    row = session.get(Building, building_id)
    if row is None:
        raise NotFoundError("There is no such building.")
    viewer.require(Right.EDIT, row.organisation_id, row.id, what="building")
    return Offer(row.ref, tuple(facts_of_building(session, building_id)))


def offer_of_zone(session: Session, viewer: Viewer, zone_id: int) -> Offer:
    """The facts of a zone. Raises NotFoundError, ForbiddenError."""
    row = session.get(Zone, zone_id)
    if row is None:
        raise NotFoundError("There is no such zone.")
    viewer.require(Right.EDIT, row.building.organisation_id, row.building_id, what="zone")
    return Offer(row.ref, tuple(facts_of_zone(session, zone_id)))


def offer_of_test(session: Session, viewer: Viewer, test_id: int) -> Offer:
    """The facts of a test. Raises NotFoundError, ForbiddenError."""
    row = session.get(TestRecord, test_id)
    if row is None:
        raise NotFoundError("There is no such test.")
    viewer.require(Right.EDIT, row.organisation_id, what="test")
    return Offer(row.ref, tuple(facts_of_test(session, test_id)))


def offer_of_certificate(session: Session, viewer: Viewer, certificate_id: int) -> Offer:
    """The certificate itself. Raises NotFoundError, ForbiddenError."""
    row = session.get(Certificate, certificate_id)
    if row is None:
        raise NotFoundError("There is no such certificate.")
    viewer.require(Right.EDIT, row.organisation_id, what="certificate")
    return Offer(row.ref, tuple(facts_of_certificate(session, certificate_id)))

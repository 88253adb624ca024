"""Facts that a document can support: where each hangs, whose it is, and what it is called."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.certificates import Certificate
from portfolio.db.models import (
    Building,
    Decision,
    Settlement,
    Survey,
    TestConsent,
    TestRecord,
    Zone,
)
from portfolio.db.works import Works
from portfolio.domain.documents import FactKind, SupportedFact
from portfolio.domain.errors import NotFoundError
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.rights import Right
from portfolio.services.viewer import Viewer

_ON_ZONES: dict[FactKind, Any] = {
    FactKind.SURVEY: Survey,
    FactKind.DECISION: Decision,
    FactKind.SETTLEMENT: Settlement,
}
_OF_WORKS = (FactKind.WORKS, FactKind.COMPLETION)


@dataclass(frozen=True, slots=True)
class Place:
    """A fact with what it hangs on. `layers` is how many layers it has; `words` name it there."""

    kind: FactKind
    id: int
    words: str
    organisation_id: int
    building_id: int | None = None
    building_ref: str = ""
    zone_id: int | None = None
    zone_ref: str = ""
    test_id: int | None = None
    certificate_id: int | None = None
    layers: int = 0

    @property
    def fact(self) -> SupportedFact:
        """The whole fact."""
        return SupportedFact(self.kind, self.id)

    @property
    def full_words(self) -> str:
        """The fact with its building and zone."""
        return " / ".join(filter(None, (self.building_ref, self.zone_ref, self.words)))

    def require(self, viewer: Viewer, right: Right) -> None:
        """Raise NotFoundError or ForbiddenError unless the viewer may do this to the fact."""
        if self.building_id is not None:
            viewer.require(right, self.organisation_id, self.building_id, what="building")
        else:
            what = "test" if self.test_id is not None else "certificate"
            viewer.require(right, self.organisation_id, what=what)


def place_of(session: Session, fact: SupportedFact) -> Place:
    """Where a fact hangs. Raises NotFoundError where there is none."""
    [found] = places_of(session, [fact]).values() or [None]
    if found is None:
        raise NotFoundError("There is no such fact.")
    return found


def places_of(
    session: Session, facts: Collection[SupportedFact]
) -> Mapping[tuple[FactKind, int], Place]:
    """The places of facts, by kind and id, in a query for each kind; what is gone is left out."""
    ids: dict[FactKind, set[int]] = {}
    for fact in facts:
        ids.setdefault(fact.kind, set()).add(fact.id)
    found: list[Place] = []
    for kind, wanted in ids.items():
        found += _places(session, kind, _OWN_ID[kind].in_(wanted))
    return {(place.kind, place.id): place for place in found}


def facts_of_zone(session: Session, zone_id: int) -> list[Place]:
    """The surveys and rulings of a zone, as they were entered."""
    return [place for kind in _ON_ZONES for place in _places(session, kind, Zone.id == zone_id)]


def facts_of_building(session: Session, building_id: int) -> list[Place]:
    """The building, its works and their completion, and the surveys and rulings of its zones."""
    found = _places(session, FactKind.BUILDING, Building.id == building_id)
    for kind in _OF_WORKS:
        found += _places(session, kind, Works.building_id == building_id)
    for kind in _ON_ZONES:
        found += _places(session, kind, Zone.building_id == building_id)
    return found


def facts_of_test(session: Session, test_id: int) -> list[Place]:
    """The test, and what its sponsor said to others."""
    return [
        *_places(session, FactKind.TEST, TestRecord.id == test_id),
        *_places(session, FactKind.CONSENT, TestRecord.id == test_id),
    ]


def facts_of_certificate(session: Session, certificate_id: int) -> list[Place]:
    """The certificate itself."""
    return _places(session, FactKind.CERTIFICATE, Certificate.id == certificate_id)


_OWN_ID: dict[FactKind, Any] = {
    FactKind.BUILDING: Building.id,
    FactKind.SURVEY: Survey.id,
    FactKind.DECISION: Decision.id,
    FactKind.SETTLEMENT: Settlement.id,
    FactKind.TEST: TestRecord.id,
    FactKind.CONSENT: TestConsent.id,
    FactKind.CERTIFICATE: Certificate.id,
    FactKind.WORKS: Works.id,
    FactKind.COMPLETION: Works.id,
}


def _places(session: Session, kind: FactKind, condition: sa.ColumnElement[bool]) -> list[Place]:
    if kind is FactKind.BUILDING:
        buildings = session.scalars(sa.select(Building).where(condition))
        return [_of_building(row) for row in buildings]
    if kind in _OF_WORKS:
        query = sa.select(Works, Building).join(Building).where(condition).order_by(Works.id)
        return [_of_works(kind, *row) for row in session.execute(query)]
    if kind is FactKind.TEST:
        tests = session.scalars(sa.select(TestRecord).where(condition))
        return [_of_test(row) for row in tests]
    if kind is FactKind.CERTIFICATE:
        certificates = session.scalars(sa.select(Certificate).where(condition))
        return [_of_certificate(row) for row in certificates]
    if kind is FactKind.CONSENT:
        said = (
            sa.select(TestConsent, TestRecord)
            .join(TestRecord, TestRecord.id == TestConsent.test_id)
            .where(condition)
            .order_by(TestConsent.id)
        )
        return [_of_consent(*row) for row in session.execute(said)]
    table = _ON_ZONES[kind]
    query = (
        sa.select(table, Zone.id, Zone.ref, Building.id, Building.ref, Building.organisation_id)
        .join(Zone, Zone.id == table.zone_id)
        .join(Building, Building.id == Zone.building_id)
        .where(condition)
        .order_by(Zone.ref, table.id)
    )
    return [_on_zone(kind, row, place) for row, *place in session.execute(query)]


def _of_building(row: Building) -> Place:
    return Place(FactKind.BUILDING, row.id, "the building", row.organisation_id, row.id, row.ref)


def _of_works(kind: FactKind, row: Works, of: Building) -> Place:
    words = f"works {row.ref}" if kind is FactKind.WORKS else f"completion of works {row.ref}"
    return Place(kind, row.id, words, of.organisation_id, of.id, of.ref)


def _of_test(row: TestRecord) -> Place:
    layers = len(row.build_up.get("layers", ()))
    words = f"test {row.ref}"
    return Place(FactKind.TEST, row.id, words, row.organisation_id, test_id=row.id, layers=layers)


def _of_certificate(row: Certificate) -> Place:
    words = f"certificate {row.ref}"
    return Place(FactKind.CERTIFICATE, row.id, words, row.organisation_id, certificate_id=row.id)


def _of_consent(row: TestConsent, test: TestRecord) -> Place:
    words = f"test {test.ref}, consent to {row.organisation_ref}"
    return Place(FactKind.CONSENT, row.id, words, test.organisation_id, test_id=test.id)


def _on_zone(kind: FactKind, row: Any, place: Sequence[Any]) -> Place:
    zone_id, zone_ref, building_id, building_ref, owner = place
    layers = 0
    if kind is FactKind.SURVEY:
        words, layers = f"survey {row.ref}", len(row.build_up.get("layers", ()))
    elif kind is FactKind.DECISION:
        words = f"decision of {row.on.isoformat()} by {row.by}"
    else:
        about = PARAMETERS[row.parameter].title if row.parameter in PARAMETERS else row.parameter
        words = f"settlement of {row.on.isoformat()} on {about}"
    where = building_id, building_ref, zone_id, zone_ref
    return Place(kind, row.id, words, owner, *where, layers=layers)

"""What a person may say of works, and works as they are found: for pages, forms and files."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.documents import DocumentSupport
from portfolio.db.models import Building, Survey, Zone
from portfolio.db.works import InterimMeasure, Works
from portfolio.domain.documents import FactKind
from portfolio.domain.errors import NotFoundError
from portfolio.domain.rights import Right
from portfolio.domain.works import Decided, Standing, WorksStatus
from portfolio.services.viewer import Viewer

DEFAULT_CURRENCY = "GBP"


@dataclass(frozen=True, slots=True)
class WorksFacts:
    """What a person may say of works; None and "" mean that nobody has said.

    `zones` are references of zones; none: the whole building. Amounts are minor units.
    """

    ref: str
    decided: Decided
    title: str = ""
    decided_reason: str = ""
    zones: tuple[str, ...] = ()
    built_on: date | None = None
    programme: str = ""
    responsible: str = ""
    funding_route: str = ""
    currency: str = DEFAULT_CURRENCY
    funding_minor: int | None = None
    estimate_minor: int | None = None
    outturn_minor: int | None = None
    due_on: date | None = None
    due_reason: str = ""
    residents_told_on: date | None = None
    residents_next_on: date | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class StepFacts:
    """A status, the day on which it was reached, and what says so."""

    status: WorksStatus
    on: date
    documents: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class InterimFacts:
    """An interim measure; both days included, `monthly_minor` in the currency of its works."""

    measure: str
    started_on: date
    review_on: date | None = None
    ended_on: date | None = None
    monthly_minor: int | None = None


_OWN = tuple(field.name for field in fields(WorksFacts) if field.name != "zones")
INTERIM_FIELDS = tuple(field.name for field in fields(InterimFacts))


def own_fields(facts: WorksFacts) -> dict[str, object]:
    """What stands in the row of the works itself."""
    return {name: getattr(facts, name) for name in _OWN}


def facts_of(row: Works) -> WorksFacts:
    """What is stored."""
    told = {name: getattr(row, name) for name in _OWN}
    return WorksFacts(**told, zones=tuple(sorted(part.zone.ref for part in row.zones)))


def interim_facts_of(row: InterimMeasure) -> InterimFacts:
    """What is stored."""
    return InterimFacts(**{name: getattr(row, name) for name in INTERIM_FIELDS})


def required_works(
    session: Session, viewer: Viewer, works_id: int, right: Right, *, is_locked: bool = False
) -> Works:
    """The works, where the viewer may do this to them. Raises NotFoundError, ForbiddenError."""
    lock = {"of": Works, "key_share": True} if is_locked else None
    row = session.get(Works, works_id, with_for_update=lock)
    if row is None:
        raise NotFoundError("There is no such works.")
    building = row.building
    viewer.require(right, building.organisation_id, building.id, what="works")
    return row


def required_interim(
    session: Session, viewer: Viewer, interim_id: int, right: Right
) -> InterimMeasure:
    """The measure, where the viewer may do this to it. Raises NotFoundError, ForbiddenError."""
    row = session.get(InterimMeasure, interim_id)
    if row is None:
        raise NotFoundError("There is no such measure.")
    building = row.works.building
    viewer.require(right, building.organisation_id, building.id, what="measure")
    return row


def zones_meant(session: Session, building: Building, refs: tuple[str, ...]) -> dict[str, int]:
    """The zones of these references, or all of the building; a reference that is none is left
    out."""
    query = sa.select(Zone.ref, Zone.id).where(Zone.building_id == building.id)
    if refs:
        query = query.where(Zone.ref.in_(refs))
    return {row.ref: row.id for row in session.execute(query)}


def standing_of(
    session: Session, building: Building, facts: WorksFacts, works_id: int | None
) -> Standing:
    """What is known of works where they are as the facts say."""
    zones = zones_meant(session, building, facts.zones)
    days: dict[str, list[date]] = {ref: [] for ref in zones}
    query = (
        sa.select(Zone.ref, Survey.on)
        .join(Survey, Survey.zone_id == Zone.id)
        .where(Zone.id.in_(zones.values()))
    )
    for ref, on in session.execute(query):
        days[ref].append(on)
    return Standing(
        facts.decided, facts.decided_reason, facts.built_on, _papers(session, works_id), days
    )


def _papers(session: Session, works_id: int | None) -> int:
    """How many documents support the completion, whoever holds them."""
    if works_id is None:
        return 0
    kept = DocumentSupport
    query = sa.select(sa.func.count()).where(
        kept.fact == FactKind.COMPLETION, kept.fact_id == works_id
    )
    return session.scalar(query) or 0

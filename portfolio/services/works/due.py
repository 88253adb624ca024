"""What of works is overdue or due, over everything that a viewer reads."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session, selectinload

from portfolio.db import mapping
from portfolio.db.models import Building, Organisation
from portfolio.db.works import InterimMeasure, Works
from portfolio.domain.works import Decided, WorksStatus
from portfolio.domain.works_due import (
    SOON,
    Applies,
    DeadlineKind,
    DueKind,
    Lateness,
    lateness,
    next_deadlines,
)
from portfolio.reference.loader import load_reference
from portfolio.services.viewer import Viewer

_BUILT = tuple(status for status in WorksStatus if status.is_built)
_KIND_OF = {DeadlineKind.STATUTORY: DueKind.STATUTORY, DeadlineKind.POLICY: DueKind.POLICY}


@dataclass(frozen=True, slots=True)
class Due:
    """One day that works are held to. `is_sure`: it is known that this deadline is theirs."""

    kind: DueKind
    on: date
    what: str
    uid: str
    works_id: int
    works_ref: str
    building_id: int
    building_ref: str
    building_name: str
    owner: str
    is_sure: bool = True


@dataclass(frozen=True, slots=True)
class DueCounts:
    """How many works have something overdue, and something due within 30 days; `first` are the
    first few of these things.

    `has_works`: whether any works are recorded that could have a day.
    """

    overdue: int
    soon: int
    first: tuple[Due, ...]
    has_works: bool


def due(
    session: Session,
    viewer: Viewer,
    until: date | None = None,
    *,
    works_ids: Collection[int] | None = None,
) -> tuple[Due, ...]:
    """Everything due until a day, or ever, of some works or all: earliest first.

    A deadline binds until the building work is done, information of residents until the works are
    complete, a review until its measure has ended. None of them binds where none is needed.
    """
    kept = viewer.reads(Building.organisation_id, Building.id)
    if works_ids is not None:
        kept &= Works.id.in_(works_ids)
    found = [*_stored(session, kept, until), *_deadlines(session, kept, until)]
    return tuple(sorted(found, key=lambda d: (d.on, d.owner, d.building_ref, d.works_ref, d.uid)))


def due_counts(session: Session, viewer: Viewer, today: date, *, first: int = 0) -> DueCounts:
    """What is overdue and due soon, with the first few."""
    found = due(session, viewer, today + SOON)
    works: dict[Lateness, set[int]] = {how: set() for how in Lateness}
    for one in found:
        works[lateness(one.on, today)].add(one.works_id)
    read = viewer.reads(Building.organisation_id, Building.id)
    any_works = sa.select(Works.id).join(Building).where(read).limit(1)
    has_works = bool(found) or session.scalar(any_works) is not None
    late, soon = len(works[Lateness.OVERDUE]), len(works[Lateness.SOON])
    return DueCounts(late, soon, found[:first], has_works)


def _stored(
    session: Session, wanted_works: sa.ColumnElement[bool], until: date | None
) -> list[Due]:
    wanted = Works.decided != Decided.NONE_NEEDED
    own = _query(DueKind.OWN, Works.due_on, Works.due_reason, Works.uid).where(
        wanted, Works.status.not_in(_BUILT)
    )
    told = _query(DueKind.RESIDENTS, Works.residents_next_on, sa.literal(""), Works.uid).where(
        wanted, Works.status != WorksStatus.COMPLETE
    )
    measure = InterimMeasure
    review = (
        _query(DueKind.REVIEW, measure.review_on, measure.measure, measure.uid)
        .join(measure, measure.works_id == Works.id)
        .where(measure.ended_on.is_(None))
    )
    parts = []
    for query, day in (
        (own, Works.due_on),
        (told, Works.residents_next_on),
        (review, measure.review_on),
    ):
        kept = query.where(day.is_not(None), wanted_works)
        parts.append(kept.where(day <= until) if until is not None else kept)
    # one question to the store: the overview asks it for every page
    return [Due(DueKind(kind), *row) for kind, *row in session.execute(sa.union_all(*parts))]


def _query(kind: DueKind, day: Any, what: Any, uid: Any) -> sa.Select[Any]:
    return (
        sa.select(
            sa.literal(kind.value),
            day,
            what,
            uid,
            Works.id,
            Works.ref,
            Building.id,
            Building.ref,
            Building.name,
            Organisation.ref,
        )
        .select_from(Works)
        .join(Building, Building.id == Works.building_id)
        .join(Organisation, Organisation.id == Building.organisation_id)
    )


def _deadlines(
    session: Session, wanted_works: sa.ColumnElement[bool], until: date | None
) -> list[Due]:
    """Deadlines of the reference data. Heights are read only where one of them is near enough."""
    near = [one for one in load_reference().deadlines if until is None or one.on <= until]
    if not near:
        return []
    query = (
        sa.select(Works, Building, Organisation.ref)
        .join(Building, Building.id == Works.building_id)
        .join(Organisation, Organisation.id == Building.organisation_id)
        .options(selectinload(Building.heights))
        .where(
            Works.decided != Decided.NONE_NEEDED,
            Works.status.not_in(_BUILT),
            wanted_works,
        )
    )
    return [
        found
        for works, building, owner in session.execute(query)
        for found in deadlines_of(works, building, owner)
        if until is None or found.on <= until
    ]


def deadlines_of(works: Works, building: Building, owner: str) -> Sequence[Due]:
    """The deadlines that works are, or could be, held to by the reference data."""
    known = mapping.building_of(building, owner)
    named = works.id, works.ref, building.id, building.ref, building.name, owner
    return [
        Due(
            _KIND_OF[one.kind],
            one.on,
            one.title,
            f"{works.uid}-{one.key}",
            *named,
            answer is Applies.YES,
        )
        for one, answer in next_deadlines(
            load_reference().deadlines, building.jurisdiction, known.height_claims
        )
    ]


def due_of_works(row: Works, building: Building) -> list[Due]:
    """Everything that one works is held to, by the rules of `due`; its measures are loaded."""
    owner = building.organisation.ref
    named = row.id, row.ref, building.id, building.ref, building.name, owner
    is_wanted = row.decided is not Decided.NONE_NEEDED
    found = [
        Due(DueKind.REVIEW, measure.review_on, measure.measure, measure.uid, *named)
        for measure in row.interim
        if measure.ended_on is None and measure.review_on is not None
    ]
    if is_wanted and not row.status.is_built:
        found += deadlines_of(row, building, owner)
        if row.due_on is not None:
            found.append(Due(DueKind.OWN, row.due_on, row.due_reason, row.uid, *named))
    if is_wanted and row.status is not WorksStatus.COMPLETE and row.residents_next_on is not None:
        found.append(Due(DueKind.RESIDENTS, row.residents_next_on, "", row.uid, *named))
    return found

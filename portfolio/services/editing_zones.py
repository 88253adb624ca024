"""Saves zones: new ones, and changes that no other save has overtaken."""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import changelog, models
from portfolio.domain.errors import InputError, NotFoundError, Problem
from portfolio.domain.rights import Right
from portfolio.domain.routes import Work
from portfolio.services.editing import (
    Saved,
    StaleError,
    differences,
    locked_building,
    locked_zone,
    recompute,
)
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class ZoneFacts:
    """What a person may say of a zone. None and "" mean unknown; storeys count from 0."""

    ref: str
    description: str = ""
    face: str = ""
    from_storey: int | None = None
    to_storey: int | None = None
    area_m2: float | None = None
    is_attachment: bool = False
    work: str = ""
    """A domain.routes.Work; "" where nobody has said."""
    work_counted_on: date | None = None


@dataclass(frozen=True, slots=True)
class EditableZone:
    """A zone as it is now, to be edited."""

    id: int
    building: models.Building
    facts: ZoneFacts
    revision: int


def editable_zone(session: Session, viewer: Viewer, zone_id: int) -> EditableZone:
    """The zone to fill a form with. Raises NotFoundError."""
    row = session.get(models.Zone, zone_id)
    if row is None:
        raise NotFoundError("There is no such zone.")
    viewer.require(Right.EDIT, row.building.organisation_id, row.building_id, what="zone")
    return EditableZone(row.id, row.building, _facts(row), row.revision)


def create_zone(
    session: Session, viewer: Viewer, building_id: int, facts: ZoneFacts, on: date
) -> Saved:
    """Add a zone; until somebody surveys it, too little is known. Raises InputError."""
    building = locked_building(session, viewer, building_id)
    _check(session, building_id, facts, on)
    row = models.Zone(building=building, **asdict(facts))
    session.add(row)
    session.flush()
    changes = {key: (None, value) for key, value in asdict(facts).items() if value}
    changelog.record(session, viewer.actor, [_entry(row, "created", changes)])
    compared, changed = recompute(session, on, zone_ids=[row.id])
    return Saved(row.id, row.ref, compared, changed)


def save_zone(
    session: Session, viewer: Viewer, zone_id: int, facts: ZoneFacts, *, revision: int, on: date
) -> Saved:
    """Change a zone. Raises NotFoundError, InputError, and StaleError."""
    row = locked_zone(session, viewer, zone_id)
    stored = _facts(row)
    if row.revision != revision:
        raise StaleError(stored, row.revision)
    _check(session, row.building_id, facts, on, but=row.id)
    changes = differences(asdict(stored), asdict(facts))
    if not changes:
        return Saved(row.id, row.ref)
    for key, value in asdict(facts).items():
        setattr(row, key, value)
    row.revision += 1
    changelog.record(session, viewer.actor, [_entry(row, "changed", changes)])
    compared, changed = recompute(session, on, zone_ids=[row.id])
    return Saved(row.id, row.ref, compared, changed)


def _facts(row: models.Zone) -> ZoneFacts:
    return ZoneFacts(**{field.name: getattr(row, field.name) for field in fields(ZoneFacts)})


def _check(
    session: Session, building_id: int, facts: ZoneFacts, on: date, *, but: int | None = None
) -> None:
    problems = []
    kept = models.Zone
    same = sa.select(kept.id).where(
        kept.building_id == building_id, kept.ref == facts.ref, kept.id != (but or 0)
    )
    if session.scalar(same) is not None:
        message = "Another zone of this building has this reference already."
        problems.append(Problem(message, column="ref", value=facts.ref))
    low, high = facts.from_storey, facts.to_storey
    if low is not None and high is not None and low > high:
        message = f"The highest storey lies below the lowest, {low}."
        problems.append(Problem(message, column="to_storey", value=str(high)))
    if facts.work_counted_on is not None and facts.work != Work.NEW:
        message = "Only new work has a day on which its application counted."
        problems.append(Problem(message, column="work_counted_on"))
    if facts.work_counted_on is not None and facts.work_counted_on > on:
        problems.append(Problem("This day has not come yet.", column="work_counted_on"))
    if problems:
        raise InputError(problems)


def _entry(row: models.Zone, action: str, changes: dict[str, Any]) -> changelog.Entry:
    building = row.building
    ref = f"{building.ref} / {row.ref}"
    return changelog.Entry(action, "zone", row.id, ref, building.organisation_id, changes)

"""Saves buildings: new ones, and changes that no other save has overtaken."""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import changelog, mapping, models
from portfolio.domain.errors import ForbiddenError, InputError, NotFoundError, Problem
from portfolio.domain.heights import HeightClaim
from portfolio.domain.rights import Right
from portfolio.services.drafting import search_text_for
from portfolio.services.editing import (
    Saved,
    StaleError,
    differences,
    locked_building,
    recompute,
)
from portfolio.services.importing_words import height_words
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class BuildingFacts:
    """What a person may say of a building. None and "" mean unknown."""

    ref: str
    name: str = ""
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


_COLUMNS = tuple(field.name for field in fields(BuildingFacts) if field.name != "heights")


@dataclass(frozen=True, slots=True)
class Editable:
    """A building as it is now, to be edited."""

    id: int
    owner: str
    facts: BuildingFacts
    revision: int


def editable_building(session: Session, viewer: Viewer, building_id: int) -> Editable:
    """The building to fill a form with. Raises NotFoundError or ForbiddenError."""
    row = session.get(models.Building, building_id)
    if row is None:
        raise NotFoundError("There is no such building.")
    viewer.require(Right.EDIT, row.organisation_id, row.id, what="building")
    return Editable(row.id, row.organisation.name, _facts(row), row.revision)


def owners_for(
    session: Session, viewer: Viewer, right: Right = Right.EDIT
) -> list[tuple[int, str]]:
    """The organisations that this viewer may add a building or a test to, or something else that
    needs another right: (id, name)."""
    kept = models.Organisation
    if right not in viewer.rights:
        raise ForbiddenError("Your role does not let you add anything.")
    query = sa.select(kept.id, kept.name).where(viewer.only(kept.id)).order_by(kept.name)
    return [(row.id, row.name) for row in session.execute(query)]


def create_building(
    session: Session, viewer: Viewer, organisation_id: int, facts: BuildingFacts, on: date
) -> Saved:
    """Add a building. Raises InputError, and NotFoundError for another's organisation."""
    viewer.require(Right.EDIT, organisation_id, what="organisation")
    if not session.get(models.Organisation, organisation_id):
        raise NotFoundError("There is no such organisation.")
    _check(session, organisation_id, facts, on)
    row = models.Building(organisation_id=organisation_id)
    _write(row, facts)
    session.add(row)
    session.flush()
    changes = {key: (None, value) for key, value in _logged(facts).items() if value}
    _log(session, viewer, row, "created", changes)
    # a building without zones has totals as well: nothing is known of it
    recompute(session, on, zone_ids=(), building_ids=[row.id])
    return Saved(row.id, row.ref)


def save_building(
    session: Session,
    viewer: Viewer,
    building_id: int,
    facts: BuildingFacts,
    *,
    revision: int,
    on: date,
) -> Saved:
    """Change a building. Raises NotFoundError, InputError, and StaleError."""
    row = locked_building(session, viewer, building_id)
    stored = _facts(row)
    if row.revision != revision:
        raise StaleError(stored, row.revision)
    if facts.ref != row.ref and not viewer.sees(row.organisation_id):
        # whether a reference is free would tell what else the owner has
        problem = Problem("Only the owner changes the reference.", row.ref, column="ref")
        raise InputError([problem])
    _check(session, row.organisation_id, facts, on, but=row.id)
    changes = differences(_logged(stored), _logged(facts))
    if not changes:
        return Saved(row.id, row.ref)
    _write(row, facts)
    row.revision += 1
    _log(session, viewer, row, "changed", changes)
    zone_ids = session.scalars(sa.select(models.Zone.id).filter_by(building_id=row.id)).all()
    compared, changed = recompute(session, on, zone_ids=zone_ids, building_ids=[row.id])
    return Saved(row.id, row.ref, compared, changed)


def _facts(row: models.Building) -> BuildingFacts:
    heights = tuple(mapping.height_claim_of(claim) for claim in row.heights)
    return BuildingFacts(**{key: getattr(row, key) for key in _COLUMNS}, heights=heights)


def _write(row: models.Building, facts: BuildingFacts) -> None:
    for key in _COLUMNS:
        setattr(row, key, getattr(facts, key))
    row.name = facts.name or facts.ref
    row.search_text = search_text_for(row.ref, row.name, row.address)
    if tuple(mapping.height_claim_of(claim) for claim in row.heights) != facts.heights:
        row.heights = [models.HeightClaim(**asdict(claim)) for claim in facts.heights]


def _check(
    session: Session,
    organisation_id: int,
    facts: BuildingFacts,
    on: date,
    *,
    but: int | None = None,
) -> None:
    problems = []
    kept = models.Building
    same = sa.select(kept.id).where(
        kept.organisation_id == organisation_id, kept.ref == facts.ref, kept.id != (but or 0)
    )
    if session.scalar(same) is not None:
        message = "Another building of this owner has this reference already."
        problems.append(Problem(message, column="ref", value=facts.ref))
    if any(claim.on is not None and claim.on > on for claim in facts.heights):
        problems.append(Problem("The day of a height has not come yet."))
    if problems:
        raise InputError(problems)


def _logged(facts: BuildingFacts) -> dict[str, Any]:
    told = {key: getattr(facts, key) for key in _COLUMNS}
    told["name"] = facts.name or facts.ref
    return told | {"heights": [height_words(claim) for claim in facts.heights]}


def _log(
    session: Session, viewer: Viewer, row: models.Building, action: str, changes: dict[str, Any]
) -> None:
    entry = changelog.Entry(action, "building", row.id, row.ref, row.organisation_id, changes)
    changelog.record(session, viewer.actor, [entry])

"""Records works, their statuses and interim measures. No status ever changes a coverage."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import changelog
from portfolio.db.models import Building
from portfolio.db.works import InterimMeasure, Works, WorksStep, WorksZone
from portfolio.domain.errors import InputError, Problem
from portfolio.domain.rights import Right
from portfolio.domain.works import Objection, Standing, Step, WorksStatus, objections
from portfolio.domain.works_money import money_text
from portfolio.services.editing import Saved, StaleError, differences, locked_building
from portfolio.services.viewer import Viewer
from portfolio.services.works.facts import (
    InterimFacts,
    StepFacts,
    WorksFacts,
    facts_of,
    interim_facts_of,
    own_fields,
    required_interim,
    required_works,
    standing_of,
    zones_meant,
)

_CURRENCY = re.compile(r"[A-Z]{3}")
_MINOR = "_minor"


def create_works(
    session: Session,
    viewer: Viewer,
    building_id: int,
    facts: WorksFacts,
    step: StepFacts,
    *,
    today: date,
) -> Saved:
    """Begin works on a building with their first status. Raises NotFoundError, InputError."""
    building = locked_building(session, viewer, building_id)
    problems = problems_of(session, building, facts, None, today)
    known = standing_of(session, building, facts, None)
    problems += as_problems(objections(None, _as_step(step), known, step.reason, today))
    if problems:
        raise InputError(problems)
    row = Works(
        building_id=building_id,
        uid=str(uuid.uuid4()),
        status=step.status,
        status_on=step.on,
        **own_fields(facts),
    )
    session.add(row)
    session.flush()
    write_zones(session, building, row.id, facts.zones)
    write_step(session, viewer, row.id, step, today)
    told = {key: (None, value) for key, value in _told(facts).items() if value}
    told["status"] = (None, step.status.label)
    log_works(session, viewer, row, "created", told, reason=step.reason)
    return Saved(row.id, row.ref)


def save_works(
    session: Session,
    viewer: Viewer,
    works_id: int,
    facts: WorksFacts,
    *,
    revision: int,
    today: date,
) -> Saved:
    """Change what is said of works; their status stays. Raises as `create_works`, StaleError."""
    row = required_works(session, viewer, works_id, Right.EDIT, is_locked=True)
    stored, building = facts_of(row), row.building
    if row.revision != revision:
        raise StaleError(stored, row.revision)
    problems = problems_of(session, building, facts, works_id, today)
    known = standing_of(session, building, facts, works_id)
    # what the status rests on is not taken from under it
    status = Step(row.status, row.status_on)
    problems += as_problems(objections(None, status, known, "", today))
    if problems:
        raise InputError(problems)
    changes = differences(_told(stored), _told(facts))
    if changes:
        for name, value in own_fields(facts).items():
            setattr(row, name, value)
        row.revision += 1
        if facts.zones != stored.zones:
            write_zones(session, building, row.id, facts.zones)
        log_works(session, viewer, row, "changed", changes)
    return Saved(row.id, row.ref)


def add_step(
    session: Session,
    viewer: Viewer,
    works_id: int,
    step: StepFacts,
    *,
    built_on: date | None,
    today: date,
) -> Saved:
    """Keep that works reached a status; `built_on` is the day of the new build-up, where told.

    Raises NotFoundError, ForbiddenError, InputError.
    """
    row = required_works(session, viewer, works_id, Right.EDIT, is_locked=True)
    before, built_before = row.status, row.built_on
    row.built_on = built_on or row.built_on
    problems: list[Problem] = []
    if row.built_on is not None and row.built_on > today:
        problems.append(Problem("This day has not come yet.", column="built_on"))
    with session.no_autoflush:
        known = standing_of(session, row.building, facts_of(row), works_id)
    last = Step(row.status, row.status_on)
    problems += as_problems(objections(last, _as_step(step), known, step.reason, today))
    if problems:
        raise InputError(problems)
    row.status, row.status_on = step.status, step.on
    row.revision += 1
    write_step(session, viewer, works_id, step, today)
    changes: dict[str, tuple[Any, Any]] = {
        "status": (before.label, step.status.label),
        "status_on": (None, step.on),
    }
    if row.built_on != built_before:
        changes["built_on"] = (built_before, row.built_on)
    log_works(session, viewer, row, "changed", changes, reason=step.reason)
    return Saved(row.id, row.ref, remarks=_remarks(step.status))


def create_interim(
    session: Session, viewer: Viewer, works_id: int, facts: InterimFacts, today: date
) -> Saved:
    """Add an interim measure. Raises NotFoundError, ForbiddenError, InputError."""
    row = required_works(session, viewer, works_id, Right.EDIT, is_locked=True)
    _check_interim(facts, today)
    session.add(InterimMeasure(works_id=works_id, uid=str(uuid.uuid4()), **asdict(facts)))
    changes = {
        f"interim_{key}": (None, value) for key, value in in_words(asdict(facts)).items() if value
    }
    log_works(session, viewer, row, "changed", changes)
    return Saved(row.id, facts.measure)


def save_interim(
    session: Session,
    viewer: Viewer,
    interim_id: int,
    facts: InterimFacts,
    *,
    revision: int,
    today: date,
) -> Saved:
    """Change an interim measure, or end it. Raises as `create_interim`, StaleError."""
    row = required_interim(session, viewer, interim_id, Right.EDIT)
    works = required_works(session, viewer, row.works_id, Right.EDIT, is_locked=True)
    stored = interim_facts_of(row)
    if row.revision != revision:
        raise StaleError(stored, row.revision)
    _check_interim(facts, today)
    changes = differences(in_words(asdict(stored)), in_words(asdict(facts)))
    if changes:
        for name, value in asdict(facts).items():
            setattr(row, name, value)
        row.revision += 1
        told = {f"interim_{key}": change for key, change in changes.items()}
        log_works(session, viewer, works, "changed", told)
    return Saved(works.id, facts.measure)


def problems_of(
    session: Session, building: Building, facts: WorksFacts, works_id: int | None, today: date
) -> list[Problem]:
    """What is wrong with the facts themselves, by the name of each."""
    found = []
    same = sa.select(Works.id).filter_by(building_id=building.id, ref=facts.ref)
    if session.scalar(same.where(Works.id != (works_id or 0))) is not None:
        message = "This building has works of this reference already."
        found.append(Problem(message, column="ref", value=facts.ref))
    missing = [ref for ref in facts.zones if ref not in zones_meant(session, building, facts.zones)]
    if missing:
        expected = "references of zones of this building, or nothing for all of it"
        message = f"This building has no zone {', '.join(missing)}."
        found.append(Problem(message, expected, column="zones"))
    if not _CURRENCY.fullmatch(facts.currency):
        expected = "three letters of ISO 4217, such as GBP or EUR"
        found.append(Problem("This is no currency.", expected, column="currency"))
    for name in ("built_on", "residents_told_on"):
        if (day := getattr(facts, name)) is not None and day > today:
            found.append(Problem("This day has not come yet.", column=name, value=day.isoformat()))
    return found


def as_problems(found: Iterable[Objection]) -> list[Problem]:
    """What keeps a status from being saved, each at the field that it is about."""
    return [Problem(one.message, one.expected, column=one.about) for one in found]


def standing_now(session: Session, row: Works) -> Standing:
    """What is known of stored works."""
    return standing_of(session, row.building, facts_of(row), row.id)


def write_zones(session: Session, building: Building, works_id: int, refs: tuple[str, ...]) -> None:
    """Let works be about these zones; none: the whole building."""
    session.execute(sa.delete(WorksZone).where(WorksZone.works_id == works_id))
    wanted = zones_meant(session, building, refs) if refs else {}
    session.add_all(WorksZone(works_id=works_id, zone_id=wanted[ref]) for ref in sorted(wanted))
    session.flush()


def write_step(
    session: Session, viewer: Viewer, works_id: int, step: StepFacts, today: date
) -> None:
    """Add a status to the history."""
    session.add(
        WorksStep(works_id=works_id, recorded_by=viewer.name, recorded_on=today, **asdict(step))
    )
    session.flush()


def log_works(
    session: Session,
    viewer: Viewer,
    row: Works,
    action: str,
    changes: Mapping[str, tuple[Any, Any]],
    *,
    reason: str = "",
) -> None:
    """Write the change into the log of the building's owner, with the works as they are then."""
    building = session.get_one(Building, row.building_id)
    told, owner = f"{building.ref} / {row.ref}", building.organisation_id
    entry = changelog.Entry(action, "works", row.id, told, owner, changes, reason)
    changelog.record(session, viewer.actor, [entry])
    session.expire(row)


def _told(facts: WorksFacts) -> dict[str, Any]:
    return {**in_words(own_fields(facts)), "zones": list(facts.zones)}


def in_words(facts: Mapping[str, Any]) -> dict[str, Any]:
    """Facts as the log tells them: amounts as they are written."""
    return dict(_in_words(name, value) for name, value in facts.items())


def _in_words(name: str, value: Any) -> tuple[str, Any]:
    if not name.endswith(_MINOR):
        return name, value
    return name.removesuffix(_MINOR), None if value is None else money_text(value)


def _as_step(step: StepFacts) -> Step:
    return Step(step.status, step.on)


def _check_interim(facts: InterimFacts, today: date) -> None:
    found = []
    if facts.started_on > today:
        found.append(Problem("This day has not come yet.", column="started_on"))
    if facts.ended_on is not None and facts.ended_on < facts.started_on:
        found.append(Problem("It would end before it begins.", column="ended_on"))
    if facts.ended_on is not None and facts.ended_on > today:
        found.append(Problem("This day has not come yet.", column="ended_on"))
    if facts.ended_on is None and facts.review_on is None:
        expected = "the day of the next review, or the day on which it ended"
        found.append(Problem("An interim measure is reviewed.", expected, column="review_on"))
    if facts.review_on is not None and facts.review_on < facts.started_on:
        found.append(Problem("This is before it begins.", column="review_on"))
    if found:
        raise InputError(found)


def _remarks(status: WorksStatus) -> tuple[str, ...]:
    if status.is_built:
        return ("Coverage is unchanged by this: it follows surveys, compared with tests.",)
    return ()

"""Works in an import: what it may say of them, and the rows that hang on them.

An import cannot complete works: completing needs a document, which a spreadsheet does not hold.
"""

from __future__ import annotations

import uuid
from collections.abc import Collection, Iterator, Mapping
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Zone
from portfolio.db.works import Works, WorksStep, WorksZone
from portfolio.domain.errors import Problem
from portfolio.domain.works import Standing, Step, WorksStatus, objections
from portfolio.services.stored import Stored, batches
from portfolio.services.viewer import Viewer
from portfolio.sheets.drafts import Key, WorksDraft

_COLUMN_OF = {
    "status": "Works status",
    "on": "Works status date",
    "built_on": "New build-up complete on",
    "decided_reason": "Decided because",
    "reason": "Works status",
}
_NOT_AHEAD = {
    "built_on": "New build-up complete on",
    "residents_told_on": "Residents last informed",
}
_FIELD_OF = {
    "works_title": "title",
    "decided": "decided",
    "decided_reason": "decided_reason",
    "works_status": "status",
    "works_status_date": "status_on",
    "built_on": "built_on",
    "programme": "programme",
    "responsible": "responsible",
    "funding_route": "funding_route",
    "currency": "currency",
    "funding": "funding_minor",
    "cost_estimate": "estimate_minor",
    "cost_outturn": "outturn_minor",
    "due_on": "due_on",
    "due_reason": "due_reason",
    "residents_told_on": "residents_told_on",
    "residents_next_on": "residents_next_on",
    "works_note": "note",
}
_RESTS_ON = ("works_zones", "decided", "built_on")
_ON_THE_PAGE = "the status recorded on the page of the works, with its document"


def problems_of_works(
    wanted: WorksDraft, stored: WorksDraft | None, zones: Collection[str], on: date
) -> Iterator[Problem]:
    """What keeps works from being as a file has them; `zones` are those of the building."""
    at = wanted.at
    if missing := [ref for ref in wanted.works_zones if ref not in zones]:
        message = f"This building has no zone {', '.join(missing)}."
        yield at.problem(message, column="Zones", expected="references of zones of this building")
    for name, column in _NOT_AHEAD.items():
        day = getattr(wanted, name)
        if day is not None and day > on:
            yield at.problem("This day has not come yet.", column=column, value=day.isoformat())
    if stored is not None and stored.works_status is WorksStatus.COMPLETE:
        yield from _of_complete(wanted, stored)
        return
    if wanted.works_status is WorksStatus.COMPLETE:
        message = "An import cannot complete works: that needs a document."
        told = {"column": "Works status", "value": wanted.works_status.value}
        yield at.problem(message, expected=_ON_THE_PAGE, **told)
        return
    new = _step(wanted)
    if new is None:
        expected = "the day on which the first status was reached"
        message = "New works begin with a day."
        yield at.problem(message, column="Works status date", expected=expected)
        return
    last = _step(stored) if stored is not None else None
    known = Standing(wanted.decided, wanted.decided_reason, wanted.built_on)
    for found in objections(last, new, known, "", on):
        column = _COLUMN_OF[found.about]
        yield at.problem(found.message, column=column, expected=found.expected)


def _of_complete(wanted: WorksDraft, stored: WorksDraft) -> Iterator[Problem]:
    names = ("works_status", "works_status_date", *_RESTS_ON)
    if any(getattr(wanted, name) != getattr(stored, name) for name in names):
        message = "These works are complete, and what that rests on is not changed by an import."
        yield wanted.at.problem(message, column="Works", value=wanted.works, expected=_ON_THE_PAGE)


def _step(draft: WorksDraft) -> Step | None:
    if draft.works_status_date is None:
        return None
    return Step(draft.works_status, draft.works_status_date)


def works_row(draft: WorksDraft, building_id: int) -> dict[str, Any]:
    """The columns of the works themselves."""
    row = {column: getattr(draft, name) for name, column in _FIELD_OF.items()}
    return row | {"building_id": building_id, "ref": draft.works}


def new_uid() -> str:
    """What names new works in every calendar."""
    return str(uuid.uuid4())


def write_parts(
    session: Session,
    viewer: Viewer,
    wanted: Mapping[int, tuple[WorksDraft, WorksDraft | None]],
    zone_ids: Mapping[Key, int],
    on: date,
) -> None:
    """Write zones and statuses of works, by their ids, as (wanted, stored)."""
    zones, steps, anew = [], [], []
    for works_id, (draft, stored) in wanted.items():
        if stored is None or draft.works_zones != stored.works_zones:
            anew.append(works_id)
            zones += [
                {"works_id": works_id, "zone_id": zone_ids[*draft.key[:2], ref]}
                for ref in draft.works_zones
            ]
        if stored is None or _step(draft) != _step(stored):
            steps.append(
                {
                    "works_id": works_id,
                    "status": draft.works_status,
                    "on": draft.works_status_date,
                    "reason": "import",
                    "recorded_by": viewer.name,
                    "recorded_on": on,
                }
            )
    for batch in batches(anew):
        session.execute(sa.delete(WorksZone).where(WorksZone.works_id.in_(batch)))
    if zones:
        session.execute(sa.insert(WorksZone), zones)
    if steps:
        session.execute(sa.insert(WorksStep), steps)


def stored_works(session: Session, of: Mapping[int, Key]) -> dict[Key, Stored[WorksDraft]]:
    """The works of the buildings, whose keys `of` gives by id."""
    zones: dict[int, list[str]] = {}
    found = {}
    for batch in batches(of):
        parts = (
            sa.select(WorksZone.works_id, Zone.ref)
            .join(Zone)
            .join(Works, Works.id == WorksZone.works_id)
            .where(Works.building_id.in_(batch))
        )
        for works_id, ref in session.execute(parts):
            zones.setdefault(works_id, []).append(ref)
        table = Works.__table__
        query = sa.select(table).where(table.c.building_id.in_(batch))
        for row in session.execute(query.order_by(table.c.building_id, table.c.ref)):
            told = {name: getattr(row, column) for name, column in _FIELD_OF.items()}
            refs = tuple(sorted(zones.get(row.id, ())))
            owner, building = of[row.building_id]
            draft = WorksDraft(owner, building, row.ref, works_zones=refs, **told)
            found[draft.key] = Stored(row.id, draft, row.revision)
    return found

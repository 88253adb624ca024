"""Works in an evidence pack and in a look back: as they are, or as they were known on a day."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Zone
from portfolio.db.states import revived
from portfolio.db.works import Works
from portfolio.domain.works_money import plain_money
from portfolio.packs.works import PackInterim, PackStep, PackWorks
from portfolio.services.history import SOMEBODY
from portfolio.services.states_then import states_then
from portfolio.services.viewer import Viewer


def packed_works(
    session: Session, viewer: Viewer, building_id: int, owner_id: int
) -> tuple[PackWorks, ...]:
    """The works of a building as they are; whoever asks must be allowed to read it."""
    rows = session.scalars(sa.select(Works).filter_by(building_id=building_id).order_by(Works.ref))
    return _told(session, viewer, rows, owner_id)


def packed_works_then(
    session: Session, viewer: Viewer, building_id: int, owner_id: int, on: date
) -> tuple[PackWorks, ...]:
    """The works of a building as they were known at the end of a day."""
    ids = session.scalars(sa.select(Works.id).filter_by(building_id=building_id)).all()
    states = states_then(session, "works", ids, on)
    rows = sorted((revived("works", state) for state in states.values()), key=lambda w: str(w.ref))
    return _told(session, viewer, rows, owner_id)


def _told(
    session: Session, viewer: Viewer, rows: Iterable[Works], owner_id: int
) -> tuple[PackWorks, ...]:
    found = list(rows)
    ids = {part.zone_id for row in found for part in row.zones}
    zones = {
        zone.id: zone.ref
        for zone in session.execute(sa.select(Zone.id, Zone.ref).where(Zone.id.in_(ids)))
    }
    return tuple(_works(viewer, row, zones, owner_id) for row in found)


def _works(viewer: Viewer, row: Works, zones: Mapping[int, str], owner_id: int) -> PackWorks:
    return PackWorks(
        ref=row.ref,
        title=row.title,
        zones=tuple(sorted(zones[part.zone_id] for part in row.zones)),
        decided=row.decided.label,
        decided_reason=row.decided_reason,
        status=row.status.label,
        status_on=row.status_on,
        built_on=row.built_on,
        programme=row.programme,
        responsible=row.responsible,
        funding_route=row.funding_route,
        currency=row.currency,
        funding=_money(row.funding_minor),
        estimate=_money(row.estimate_minor),
        outturn=_money(row.outturn_minor),
        due_on=row.due_on,
        due_reason=row.due_reason,
        residents_told_on=row.residents_told_on,
        residents_next_on=row.residents_next_on,
        note=row.note,
        steps=_steps(viewer, row, owner_id),
        interim=tuple(
            PackInterim(
                measure.measure,
                measure.started_on,
                measure.review_on,
                measure.ended_on,
                _money(measure.monthly_minor),
            )
            for measure in row.interim
        ),
    )


def _steps(viewer: Viewer, row: Works, owner_id: int) -> tuple[PackStep, ...]:
    names_are_told = viewer.sees(owner_id)
    return tuple(
        PackStep(
            step.status.label,
            step.on,
            step.documents,
            step.reason,
            step.recorded_by if names_are_told or step.recorded_by == viewer.name else SOMEBODY,
        )
        for step in row.steps
    )


def _money(minor: int | None) -> str:
    return "" if minor is None else plain_money(minor)

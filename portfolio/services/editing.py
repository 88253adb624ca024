"""What every save shares: whose thing it is, whose save came first, and what it did to coverage."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import models
from portfolio.domain.coverage import Coverage
from portfolio.domain.errors import NotFoundError, PortfolioError
from portfolio.domain.rights import Right
from portfolio.services.coverage import refresh, refresh_buildings
from portfolio.services.viewer import Viewer

Changes = Mapping[str, tuple[Any, Any]]
_FEW = 500
_Editable = TypeVar("_Editable", models.Building, models.Zone, models.TestRecord)


@dataclass(frozen=True, slots=True)
class CoverageChange:
    """How a save changed the coverage of one zone. `before` is None where there was none."""

    zone_id: int
    building_ref: str
    zone_ref: str
    before: str | None
    after: str


@dataclass(frozen=True, slots=True)
class Saved:
    """What was saved, and what it changed. `compared` counts the zones that were looked at;
    `remarks` are what to know of it at once."""

    id: int
    ref: str
    compared: int = 0
    changes: tuple[CoverageChange, ...] = ()
    remarks: tuple[str, ...] = ()


class StaleError(PortfolioError):
    """Somebody else saved the thing while it was being edited; nothing of either is lost."""

    def __init__(self, stored: Any, revision: int) -> None:
        self.stored = stored
        self.revision = revision
        super().__init__("Somebody else has saved this in the meantime.")


def locked_building(session: Session, viewer: Viewer, building_id: int) -> models.Building:
    """The building, held until the transaction ends. Raises NotFoundError."""
    row = _locked(session, models.Building, building_id)
    if row is None:
        raise NotFoundError("There is no such building.")
    viewer.require(Right.EDIT, row.organisation_id, row.id, what="building")
    return row


def locked_zone(
    session: Session, viewer: Viewer, zone_id: int, right: Right = Right.EDIT
) -> models.Zone:
    """The zone, held until the transaction ends. Raises NotFoundError or ForbiddenError."""
    row = _locked(session, models.Zone, zone_id)
    if row is None:
        raise NotFoundError("There is no such zone.")
    viewer.require(right, row.building.organisation_id, row.building_id, what="zone")
    return row


def locked_test(session: Session, viewer: Viewer, test_id: int) -> models.TestRecord:
    """The test as its holder may change it, held until the transaction ends."""
    row = _locked(session, models.TestRecord, test_id)
    if row is None:
        raise NotFoundError("There is no such test.")
    viewer.require(Right.EDIT, row.organisation_id, what="test")
    return row


def _locked(session: Session, kind: type[_Editable], row_id: int) -> _Editable | None:
    # SQLite's writing transactions are one at a time anyway; PostgreSQL needs the lock. It must let
    # others refer to the row (key_share): who holds the log writes results that do, and would wait
    # for us while we wait for the log.
    return session.get(kind, row_id, with_for_update={"of": kind, "key_share": True})


def differences(stored: Mapping[str, Any], wanted: Mapping[str, Any]) -> dict[str, tuple[Any, Any]]:
    """The fields that differ, as {field: (from, to)}."""
    return {key: (stored[key], new) for key, new in wanted.items() if stored[key] != new}


def recompute(
    session: Session,
    on: date,
    *,
    zone_ids: Collection[int] | None,
    building_ids: Collection[int] = (),
) -> tuple[int, tuple[CoverageChange, ...]]:
    """Bring coverage up to date, and tell how many zones were compared and which changed.

    `building_ids` are buildings whose totals to renew although no zone of theirs changed.
    """
    session.flush()
    before = coverages(session, zone_ids)
    compared = refresh(session, on, zone_ids=zone_ids) if zone_ids or zone_ids is None else 0
    if building_ids and not compared:
        refresh_buildings(session, building_ids)
    return compared, changes_since(session, before, zone_ids)


def coverages(session: Session, zone_ids: Collection[int] | None = None) -> dict[int, str]:
    """The stored coverage of some zones, or of all, as marks know it."""
    kept = models.ZoneResult
    query = sa.select(kept.zone_id, kept.coverage, kept.by_inference)
    if zone_ids is not None and len(zone_ids) <= _FEW:
        query = query.where(kept.zone_id.in_(zone_ids))
    return {
        row.zone_id: coverage_value(row.coverage, by_inference=row.by_inference)
        for row in session.execute(query)
    }


def changes_since(
    session: Session, before: Mapping[int, str], zone_ids: Collection[int] | None = None
) -> tuple[CoverageChange, ...]:
    """How the stored coverage differs from an earlier one."""
    after = coverages(session, zone_ids)
    changed = {key: value for key, value in after.items() if before.get(key) != value}
    return _named(session, before, changed)


def coverage_value(coverage: Coverage, *, by_inference: bool) -> str:
    """A coverage as marks, filters and the change log know it, inference included."""
    return f"{coverage.value}-by-inference" if by_inference else coverage.value


def _named(
    session: Session, before: Mapping[int, str], changed: Mapping[int, str]
) -> tuple[CoverageChange, ...]:
    ids = sorted(changed)
    names: dict[int, tuple[str, str]] = {}
    for i in range(0, len(ids), _FEW):
        query = (
            sa.select(models.Zone.id, models.Building.ref, models.Zone.ref)
            .join(models.Building)
            .where(models.Zone.id.in_(ids[i : i + _FEW]))
        )
        names |= {zone_id: (building, zone) for zone_id, building, zone in session.execute(query)}
    return tuple(CoverageChange(key, *names[key], before.get(key), changed[key]) for key in ids)

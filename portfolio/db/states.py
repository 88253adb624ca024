"""A thing as it is stored, whole and as plain JSON, so that one can look back at it later.

Only what can change again has a state: surveys, decisions and settlements never do.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from enum import Enum
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.base import Base
from portfolio.db.certificates import Certificate
from portfolio.db.documents import Document, DocumentSupport
from portfolio.db.log_readings import LogReading
from portfolio.db.models import Building, HeightClaim, TestConsent, TestRecord, Zone
from portfolio.db.works import InterimMeasure, Works, WorksStep, WorksZone

_KINDS: dict[str, type[Base]] = {
    "building": Building,
    "zone": Zone,
    "test": TestRecord,
    "document": Document,
    "certificate": Certificate,
    "log reading": LogReading,
    "works": Works,
}
_PARTS: dict[str, tuple[tuple[str, type[Base], str], ...]] = {
    "building": (("heights", HeightClaim, "building_id"),),
    "test": (("consents", TestConsent, "test_id"),),
    "document": (("supports", DocumentSupport, "document_id"),),
    "works": (
        ("zones", WorksZone, "works_id"),
        ("steps", WorksStep, "works_id"),
        ("interim", InterimMeasure, "works_id"),
    ),
}
_LEFT_OUT = frozenset({"search_text"})
_BATCH = 500


def states_of(
    session: Session, things: Iterable[tuple[str, int]]
) -> dict[tuple[str, int], dict[str, Any]]:
    """The states of things given by kind and id; kinds without one are left out."""
    wanted: dict[str, set[int]] = {}
    for subject, subject_id in things:
        if subject in _KINDS:
            wanted.setdefault(subject, set()).add(subject_id)
    found: dict[tuple[str, int], dict[str, Any]] = {}
    for subject, ids in wanted.items():
        ordered = sorted(ids)
        for i in range(0, len(ordered), _BATCH):
            found |= _states(session, subject, ordered[i : i + _BATCH])
    return found


def _states(
    session: Session, subject: str, ids: list[int]
) -> dict[tuple[str, int], dict[str, Any]]:
    table = _KINDS[subject].__table__
    rows = session.execute(sa.select(table).where(table.c.id.in_(ids))).mappings()
    found = {(subject, row["id"]): _told(row) for row in rows}
    for name, kind, owner in _PARTS.get(subject, ()):
        parts = kind.__table__
        for state in found.values():
            state[name] = []
        query = sa.select(parts).where(parts.c[owner].in_(ids)).order_by(parts.c.id)
        for row in session.execute(query).mappings():
            found[subject, row[owner]][name].append(_told(row))
    return found


def revived(subject: str, state: dict[str, Any]) -> Any:
    """The thing as it was, as an object that belongs to no session."""
    found = _row_of(_KINDS[subject], state)
    for name, kind, _ in _PARTS.get(subject, ()):
        setattr(found, name, [_row_of(kind, part) for part in state[name]])
    return found


def _row_of(kind: type[Base], state: dict[str, Any]) -> Any:
    table = kind.__table__
    return kind(**{c.name: _typed(c.type, state[c.name]) for c in table.c if c.name in state})


def _typed(kind: Any, value: Any) -> Any:
    if value is None:
        return None
    if isinstance(kind, sa.Enum) and kind.enum_class is not None:
        return kind.enum_class(value)
    return date.fromisoformat(value) if isinstance(kind, sa.Date) else value


def _told(row: sa.RowMapping) -> dict[str, Any]:
    return {key: _plain(value) for key, value in row.items() if key not in _LEFT_OUT}


def _plain(value: Any) -> Any:
    if isinstance(value, Enum):
        return value.value
    return value.isoformat() if isinstance(value, date) else value

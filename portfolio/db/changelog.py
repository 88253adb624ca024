"""The change log: written by the services in the transaction of the change itself."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from enum import Enum
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Event


@dataclass(frozen=True, slots=True)
class Entry:
    """One change: `changes` is {field: (from, to)}."""

    action: str
    subject: str
    subject_id: int
    subject_ref: str
    organisation_id: int | None
    changes: Mapping[str, tuple[Any, Any]] = field(default_factory=dict)
    reason: str = ""


def record(session: Session, actor: str, entries: Sequence[Entry]) -> None:
    """Write the entries as one batch, all at the same moment."""
    if not entries:
        return
    now = datetime.now(UTC)
    rows = [
        {
            "at": now,
            "organisation_id": entry.organisation_id,
            "actor": actor,
            "action": entry.action,
            "subject": entry.subject,
            "subject_id": entry.subject_id,
            "subject_ref": entry.subject_ref,
            "changes": {key: [_plain(a), _plain(b)] for key, (a, b) in entry.changes.items()},
            "reason": entry.reason,
        }
        for entry in entries
    ]
    session.execute(sa.insert(Event), rows)


def _plain(value: Any) -> Any:
    """The value as JSON can hold it."""
    if isinstance(value, Enum):
        return value.value
    return value.isoformat() if isinstance(value, date) else value

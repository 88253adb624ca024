"""Notes in the change log that something was handed out: a list, a comparison, a pack."""

from __future__ import annotations

from sqlalchemy.orm import Session

from portfolio.db.changelog import Entry, record
from portfolio.services.viewer import Viewer


def log_export(session: Session, viewer: Viewer, name: str) -> None:
    """Write that the viewer took away a file of this name."""
    entry = Entry("exported", "export", 0, name, viewer.organisation_id)
    record(session, viewer.actor, [entry])

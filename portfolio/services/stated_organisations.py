"""Whom a reference means that somebody stated, for what must not tell whether anybody has it."""

from __future__ import annotations

from collections.abc import Iterable

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Organisation
from portfolio.services.stored import batches


def organisations_meant(session: Session, refs: Iterable[str]) -> dict[str, int]:
    """The ids of the organisations that have one of the references; the others are left out.

    What comes of it is not to be shown to whoever stated them.
    """
    found: dict[str, int] = {}
    for batch in batches(set(refs)):
        query = sa.select(Organisation.ref, Organisation.id).where(Organisation.ref.in_(batch))
        found |= {row.ref: row.id for row in session.execute(query)}
    return found

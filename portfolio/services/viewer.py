"""Who is looking: every service takes a viewer, and shows only what is that viewer's to see."""

from __future__ import annotations

from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import InstrumentedAttribute


@dataclass(frozen=True, slots=True)
class Viewer:
    """A person and the organisation they work for; without one, the local viewer sees all."""

    name: str
    organisation_id: int | None = None

    def sees(self, organisation_id: int) -> bool:
        return self.organisation_id in (None, organisation_id)

    def only(self, owner: InstrumentedAttribute[int]) -> sa.ColumnElement[bool]:
        """The condition that keeps a query to what belongs to this viewer's organisation."""
        if self.organisation_id is None:
            return sa.true()
        return owner == self.organisation_id


LOCAL = Viewer("local viewer")

"""Who is looking: every service takes a viewer, and shows only what is that viewer's to see."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import sqlalchemy as sa
from sqlalchemy.orm import InstrumentedAttribute

from portfolio.db.changelog import Actor
from portfolio.domain.errors import ForbiddenError, NotFoundError
from portfolio.domain.rights import Right

_Column = InstrumentedAttribute[int] | sa.ColumnElement[int]


@dataclass(frozen=True, slots=True)
class Viewer:
    """A person and the organisation they work for; without one, the local viewer sees all.

    `grants` are the buildings of others that are open to this organisation today.
    """

    name: str
    organisation_id: int | None = None
    person_id: int | None = None
    rights: frozenset[Right] = frozenset(Right)
    is_laboratory: bool = False
    grants: Mapping[int, frozenset[Right]] = field(default_factory=dict)

    @property
    def actor(self) -> Actor:
        """The viewer as the change log names who acts."""
        return Actor(self.name, self.person_id, self.organisation_id)

    def sees(self, organisation_id: int) -> bool:
        """Whether this is the viewer's own organisation."""
        return self.organisation_id in (None, organisation_id)

    def only(self, owner: _Column) -> sa.ColumnElement[bool]:
        """The condition that keeps a query to what belongs to this viewer's organisation."""
        if self.organisation_id is None:
            return sa.true()
        return owner == self.organisation_id

    def reads(self, owner: _Column, building: _Column) -> sa.ColumnElement[bool]:
        """The condition that keeps a query to own buildings and those open to this viewer."""
        own = self.only(owner)
        return sa.or_(own, building.in_(sorted(self.grants))) if self.grants else own

    def may(self, right: Right, organisation_id: int, building_id: int | None = None) -> bool:
        """Whether the viewer may do this to an organisation's thing, or to a building of it."""
        if right not in self.rights:
            return False
        if self.sees(organisation_id):
            return True
        return building_id is not None and right in self.grants.get(building_id, frozenset())

    def require(
        self, right: Right, organisation_id: int, building_id: int | None = None, *, what: str
    ) -> None:
        """Raise NotFoundError where the viewer may not even look, ForbiddenError where it may.

        `what` names the kind of thing, so that a foreign one answers like one that is not there.
        """
        if not self.may(Right.READ, organisation_id, building_id):
            raise NotFoundError(f"There is no such {what}.")
        if not self.may(right, organisation_id, building_id):
            raise ForbiddenError(f"Your role does not let you {right.value} this {what}.")


LOCAL = Viewer("local viewer")

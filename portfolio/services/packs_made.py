"""Packs that were handed out: how each is named, who made it, and which hold some evidence."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.life import PackMade
from portfolio.db.models import Building, Organisation
from portfolio.services.history import SOMEBODY
from portfolio.services.stored import batches
from portfolio.services.viewer import LOCAL, Viewer


@dataclass(frozen=True, slots=True)
class HandedOut:
    """One pack with its building's reference and owner."""

    row: PackMade
    building_ref: str
    owner_id: int

    @property
    def words(self) -> str:
        """The pack as people name it, no two alike."""
        return f"pack {self.row.id} of {self.building_ref}, {self.row.at:%Y-%m-%d %H:%M} UTC"


def packs_holding(
    session: Session,
    tests: Collection[int],
    buildings: Collection[int] = (),
    *,
    read_by: Viewer = LOCAL,
) -> list[HandedOut]:
    """The packs not overtaken yet that hold one of the tests or are of one of the buildings, of
    buildings that somebody reads."""
    query = (
        sa.select(PackMade, Building.ref, Building.organisation_id)
        .join(Building, Building.id == PackMade.building_id)
        .where(PackMade.overtaken_on.is_(None))
        .where(read_by.reads(Building.organisation_id, Building.id))
        .order_by(PackMade.id)
    )
    return [
        HandedOut(row, ref, owner)
        for row, ref, owner in session.execute(query)
        if row.building_id in buildings or not set(tests).isdisjoint(row.test_ids)
    ]


def makers_told(session: Session, viewer: Viewer, pack_ids: Collection[int]) -> dict[int, str]:
    """By pack, who made it: to the owner's people everybody, to others the owner's and their own.

    Which other consultancies an owner works with is nobody else's.
    """
    own = sa.select(Organisation.name).where(Organisation.id == viewer.organisation_id)
    mine = session.scalar(own)
    found = {}
    for batch in batches(pack_ids):
        query = (
            sa.select(PackMade.id, PackMade.by, Building.organisation_id, Organisation.name)
            .join(Building, Building.id == PackMade.building_id)
            .join(Organisation, Organisation.id == Building.organisation_id)
            .where(PackMade.id.in_(batch))
        )
        for pack_id, by, owner_id, owner in session.execute(query):
            is_told = viewer.sees(owner_id) or _works_for(by, owner, mine)
            found[pack_id] = by if is_told else SOMEBODY
    return found


def _works_for(by: str, *organisations: str | None) -> bool:
    """Whether a maker, named with the organisation, is of one of these, or runs the program."""
    return by == LOCAL.name or any(name and by.endswith(f", {name}") for name in organisations)

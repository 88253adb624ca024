"""Packs in which a document stands: a change of what it says or supports overtakes them.

Which documents a pack holds follows from whom it was made for: its owner's organisation, or one
that its building was open to. Whoever could not read the document learns no more than that a
paper has changed.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.changelog import Actor
from portfolio.db.documents import Document
from portfolio.db.people import BuildingGrant
from portfolio.domain.rights import Right
from portfolio.services.documents.seeing import is_readable
from portfolio.services.packs_made import HandedOut, packs_holding
from portfolio.services.reopening import keep_reopened, overtaken
from portfolio.services.viewer import LOCAL, Viewer

UNTOLD = "A paper behind it has changed"


@dataclass(frozen=True, slots=True)
class PaperPack:
    """A pack that may hold a document; `is_told`: the building's owner reads the document."""

    pack: HandedOut
    is_told: bool


def packs_with_paper(
    session: Session,
    document_id: int,
    tests: Collection[int],
    buildings: Collection[int],
    on: date,
    *,
    read_by: Viewer = LOCAL,
) -> list[PaperPack]:
    """The packs that hold what the document supports, and that somebody who reads the document
    could have made; of buildings that `read_by` reads."""
    found = []
    for pack in packs_holding(session, tests, buildings, read_by=read_by):
        building_id = pack.row.building_id
        is_told = _reads(session, pack.owner_id, building_id, document_id, on)
        opened = sa.select(BuildingGrant.organisation_id).filter_by(building_id=building_id)
        others = session.scalars(opened.distinct()).all()
        if is_told or any(_reads(session, one, building_id, document_id, on) for one in others):
            found.append(PaperPack(pack, is_told))
    return found


def overtake_by_paper(
    session: Session, actor: Actor, packs: Collection[PaperPack], told: str, on: date
) -> None:
    """Mark the packs as overtaken; why is `told` where the building's owner reads the document."""
    for because, is_told in ((told[:400], True), (UNTOLD, False)):
        chosen = [one.pack for one in packs if one.is_told == is_told]
        keep_reopened(session, actor, overtaken(chosen, because, on), because, on)


def _reads(
    session: Session, organisation_id: int, building_id: int, document_id: int, on: date
) -> bool:
    """Whether an organisation reads a document while the building is open to it."""
    grants = {building_id: frozenset({Right.READ})}
    viewer = Viewer("", organisation_id, grants=grants)
    query = sa.select(Document.id).where(Document.id == document_id, is_readable(viewer, on))
    return session.scalar(query) is not None

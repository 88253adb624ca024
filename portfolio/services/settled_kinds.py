"""Kinds of zones that the same facts could settle, each read once however many zones are alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import mapping
from portfolio.db.results import ZoneSettling


@dataclass(frozen=True, slots=True)
class SettledKind:
    """How many zones are of a kind, and its smallest sets; mapping.fact_told names the facts."""

    zones: int
    sets: Sequence[Sequence[str]]

    @property
    def facts(self) -> dict[str, bool]:
        """Every fact of the sets, and whether it is a set by itself."""
        alone = {one[0] for one in self.sets if len(one) == 1}
        return {fact: fact in alone for one in self.sets for fact in one}


def settled_kinds(session: Session, kept: sa.ColumnElement[bool]) -> dict[str, SettledKind]:
    """The kinds of the zones that meet the condition, by key; zones without a set are left out.

    A kind is read off one of its zones: of another the tests may be others, the facts are the same.
    """
    counted = (
        sa.select(sa.func.min(ZoneSettling.zone_id).label("sample"), sa.func.count().label("zones"))
        .where(kept, ZoneSettling.kind != "")
        .group_by(ZoneSettling.kind)
        .subquery()
    )
    query = sa.select(ZoneSettling.kind, ZoneSettling.sets, counted.c.zones).join(
        counted, counted.c.sample == ZoneSettling.zone_id
    )
    return {
        kind: SettledKind(zones, mapping.facts_told_in(sets))
        for kind, sets, zones in session.execute(query)
    }

"""Kinds of zones that the same facts could settle, each read once however many zones are alike."""

from __future__ import annotations

from collections.abc import Collection, Iterable

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import mapping
from portfolio.db.results import ZoneSettling
from portfolio.domain.settling import Settling, ToFind
from portfolio.services.stored import batches


def sets_by_kind(session: Session, kinds: Collection[str | None]) -> dict[str, Settling]:
    """What would settle zones of each kind, as one zone of it has it: the tests may be others."""
    samples = (
        sa.select(sa.func.min(ZoneSettling.zone_id))
        .group_by(ZoneSettling.kind)
        .where(ZoneSettling.kind.in_(sa.bindparam("kinds", expanding=True)))
    )
    query = sa.select(ZoneSettling.kind, ZoneSettling.told).where(ZoneSettling.zone_id.in_(samples))
    found: dict[str, Settling] = {}
    for batch in batches(kind for kind in kinds if kind is not None):
        for kind, told in session.execute(query, {"kinds": batch}):
            found[kind] = mapping.settling_of(told)
    return found


def facts_by_kind(session: Session, kinds: Collection[str | None]) -> dict[str, dict[ToFind, bool]]:
    """The facts in the sets of each kind, and whether one is a set by itself."""
    return {kind: facts_of(found) for kind, found in sets_by_kind(session, kinds).items()}


def facts_of(found: Settling) -> dict[ToFind, bool]:
    """Every fact of the sets, and whether it is a set by itself."""
    alone = {one.facts[0] for one in found.sets if len(one.facts) == 1}
    facts: Iterable[ToFind] = (fact for one in found.sets for fact in one.facts)
    return {fact: fact in alone for fact in facts}

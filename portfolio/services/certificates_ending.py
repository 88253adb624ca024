"""On the day after a certificate's last one its zones are re-opened and their packs overtaken.

A certificate changes no coverage by itself; but what somebody read in it may no longer be so.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.certificates import Certificate
from portfolio.db.changelog import Actor
from portfolio.db.life import Concerned, Reopened
from portfolio.db.models import Building, Survey, Zone
from portfolio.services.reopening import Watch, reopen


def certificates_ended(session: Session, on: date) -> list[Certificate]:
    """The certificates whose end has come and was not told yet."""
    told = sa.select(Reopened.id).where(
        Reopened.subject == Concerned.CERTIFICATE, Reopened.subject_id == Certificate.id
    )
    told = told.where(Reopened.on > Certificate.valid_until).correlate(Certificate)
    query = sa.select(Certificate).where(Certificate.valid_until < on, ~told.exists())
    return list(session.scalars(query.order_by(Certificate.id)))


def reopen_ended(session: Session, actor: Actor, on: date) -> int:
    """Re-open each certificate that ended, its owner's zones with the product, and their packs."""
    found = 0
    for row in certificates_ended(session, on):
        because = f"The certificate {row.ref} of {row.product} ended on {row.valid_until}"
        session.add(
            Reopened(
                organisation_id=row.organisation_id,
                subject=Concerned.CERTIFICATE,
                subject_id=row.id,
                subject_ref=row.ref,
                because=because[:400],
                on=on,
            )
        )
        held = dict(_zones_with(session, row))
        watched = Watch(frozenset(), frozenset(held), {}, frozenset(held.values()))
        # a certificate is its holder's alone; the building may be open to others
        told = f"A certificate of {row.product} ended on {row.valid_until}"
        owners = [row.organisation_id]
        found += 1 + reopen(session, actor, watched, told[:400], on, zone_ids=(), owners=owners)
    return found


def _zones_with(session: Session, row: Certificate) -> Iterable[tuple[int, int]]:
    """The owner's zones of which some survey names the product, however it is spaced or cased,
    each with its building."""
    wanted = _even(row.product)
    query = (
        sa.select(Survey.zone_id, Zone.building_id, Survey.build_up)
        .join(Zone, Zone.id == Survey.zone_id)
        .join(Building, Building.id == Zone.building_id)
        .where(Building.organisation_id == row.organisation_id)
    )
    for zone_id, building_id, build_up in session.execute(query):
        layers = build_up.get("layers", [])
        if any(_even(layer.get("product", "")) == wanted for layer in layers):
            yield zone_id, building_id


def _even(name: str) -> str:
    return " ".join(name.split()).casefold()

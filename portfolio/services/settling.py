"""Stores what would settle zones that are too little known, and reads it for one of them."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

from sqlalchemy.orm import Session

from portfolio.db import mapping
from portfolio.db.results import ZoneSettling
from portfolio.domain.settling import Settling
from portfolio.services.gathering import GatheredZone
from portfolio.services.totals import insert_plain


def store_settling(
    session: Session, zones: Sequence[GatheredZone], found: Sequence[Settling]
) -> None:
    """A row for each zone that something would settle; equal zones share what is written."""
    nothing = Settling()
    told = {
        key: (_kind_of(settling), *mapping.settling_told(settling))
        for key, settling in {id(settling): settling for settling in found}.items()
        if settling != nothing
    }
    rows = []
    for zone, settling in zip(zones, found, strict=True):
        if id(settling) in told:
            kind, sets, otherwise = told[id(settling)]
            rows.append(
                {
                    "zone_id": zone.zone_id,
                    "building_id": zone.building_id,
                    "organisation_id": zone.organisation_id,
                    "kind": kind,
                    "sets": sets,
                    "otherwise": otherwise,
                }
            )
    insert_plain(session, ZoneSettling, rows)


def _kind_of(found: Settling) -> str:
    """The same for zones whose sets ask for the same facts, found in the same ways."""
    sets = sorted({tuple(map(mapping.fact_told, one.facts)) for one in found.sets})
    if not sets:
        return ""
    return hashlib.sha256(repr(sets).encode()).hexdigest()[:16]


def stored_settling(session: Session, zone_id: int) -> Settling:
    """What would settle a zone, as it was computed last."""
    row = session.get(ZoneSettling, zone_id)
    return Settling() if row is None else mapping.settling_of(row.sets, row.otherwise)

"""Stores the smallest sets that could settle zones, and says of one zone all that would settle it.

The sets are judged with all tests when coverage is; what a fact found otherwise would do is asked
of one zone at a time, and worked out then.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import date

from sqlalchemy.orm import Session

from portfolio.db import mapping
from portfolio.db.bulk import Rows, insert_rows
from portfolio.db.results import ZoneSettling
from portfolio.domain.coverage import Coverage, ZoneCoverage
from portfolio.domain.settling import Settling, SettlingSet, found_otherwise
from portfolio.reference.loader import load_reference
from portfolio.services.failed_tests import failed_for
from portfolio.services.gathering import GatheredZone

_SETTLING = ("zone_id", "building_id", "organisation_id", "kind", "sets")


def store_sets(
    session: Session, zones: Sequence[GatheredZone], found: Sequence[tuple[SettlingSet, ...]]
) -> None:
    """A row for each zone that has a set; equal zones share what is written."""
    told = {
        key: (_kind_of(sets), mapping.sets_told(sets))
        for key, sets in {id(sets): sets for sets in found if sets}.items()
    }
    rows: Rows = [
        (zone.zone_id, zone.building_id, zone.organisation_id, *told[id(sets)])
        for zone, sets in zip(zones, found, strict=True)
        if sets
    ]
    insert_rows(session, ZoneSettling, _SETTLING, rows)


def _kind_of(found: Sequence[SettlingSet]) -> str:
    """The same for zones whose sets ask for the same facts, found in the same ways."""
    sets = sorted({tuple(map(mapping.fact_told, one.facts)) for one in found})
    return hashlib.sha256(repr(sets).encode()).hexdigest()[:16]


def sets_of(
    session: Session, zone: GatheredZone, coverage: ZoneCoverage
) -> tuple[SettlingSet, ...]:
    """The smallest sets that could settle a zone; `coverage` is its own today.

    Whoever asks has made sure that the zone may be read.
    """
    if coverage.coverage is not Coverage.TOO_LITTLE_KNOWN:
        return ()
    row = session.get(ZoneSettling, zone.zone_id)
    return () if row is None else mapping.sets_of(row.sets)


def settling_of(session: Session, zone: GatheredZone, coverage: ZoneCoverage, on: date) -> Settling:
    """All that would settle a zone, by the tests that its owner sees.

    What a fact found otherwise would do is worked out against every failing test: as long as the
    rest of a zone's page takes.
    """
    if coverage.coverage is not Coverage.TOO_LITTLE_KNOWN:
        return Settling()
    sets = sets_of(session, zone, coverage)
    failed = failed_for(session, zone.organisation_id, on)
    otherwise = found_otherwise(zone.wall, coverage, failed, load_reference().judge)
    return Settling(sets, otherwise)

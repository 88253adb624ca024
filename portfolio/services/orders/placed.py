"""Where every gap that a viewer sees stands in an order, and the places that it could take.

Computed for the whole portfolio at once and kept in this process under the stamp of the results,
which is another one as soon as anything that a place rests on is: so nothing has to be stored for
an order, and after a change only the first page has to wait for it.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from threading import Lock
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import BuildingResult, ZoneResult
from portfolio.domain.buildings import Building
from portfolio.domain.coverage import Coverage
from portfolio.domain.order_facts import Fact
from portfolio.domain.placing import Columns, Ints, PlacedZone, Telling, columns_of, tellings
from portfolio.domain.priorities import (
    GapOrder,
    Reason,
    coverage_word,
    reasons_for,
    tie_of,
    unknown_facts,
)
from portfolio.services.gathering import gather_buildings
from portfolio.services.orders.known import KnownOrder
from portfolio.services.stamp import stamp_of
from portfolio.services.viewer import Viewer

_KEPT = 24


@dataclass(frozen=True, slots=True)
class Place:
    """One gap's place among all, the first and last that it could take, and the unknown facts of
    its own building that leave it open. Places count from 1."""

    place: int
    first: int
    last: int
    gaps: int
    unknown: tuple[Fact, ...]

    @property
    def is_certain(self) -> bool:
        return self.first == self.last


class PlacedGaps:
    """The gaps of one viewer in one order."""

    def __init__(
        self, order: GapOrder, zone_ids: Ints, buildings: Sequence[Building], columns: Columns
    ) -> None:
        self.order = order
        self.columns = columns
        self._zone_ids = zone_ids
        self._buildings = buildings
        self._at = {zone_id: at for at, zone_id in enumerate(zone_ids.tolist())}
        self._unknown: dict[int, tuple[Fact, ...]] = {}

    def __len__(self) -> int:
        return len(self._at)

    @cached_property
    def in_order(self) -> list[int]:
        """The ids of the zones, the first gap first."""
        ids: list[int] = self._zone_ids[np.argsort(self.columns.places.place)].tolist()
        return ids

    def place_of(self, zone_id: int) -> Place | None:
        """None where the zone is no gap."""
        at = self._at.get(zone_id)
        if at is None:
            return None
        places = self.columns.places
        place, first, last = (int(c[at]) for c in (places.place, places.first, places.last))
        return Place(place, first, last, len(self), self._unknown_at(at))

    def places(self) -> dict[int, int]:
        """The place of every zone by its id."""
        return dict(zip(self._zone_ids.tolist(), self.columns.places.place.tolist(), strict=True))

    def building_of(self, zone_id: int) -> Building:
        """The building of a gap."""
        return self._buildings[int(self.columns.building[self._at[zone_id]])]

    def reasons_of(
        self, zone_id: int, coverage: Coverage, *, by_inference: bool
    ) -> tuple[Reason, ...]:
        """How each step placed a gap."""
        word = coverage_word(coverage, by_inference=by_inference)
        return reasons_for(self.building_of(zone_id), word, self.order)

    def tellings_of(self, zone_id: int) -> list[Telling]:
        """What finding each unknown fact would tell of a gap's place, the most telling first."""
        building = self.building_of(zone_id)
        return tellings(self.columns, self._at[zone_id], building, self.order)

    def _unknown_at(self, at: int) -> tuple[Fact, ...]:
        number = int(self.columns.building[at])
        if number not in self._unknown:
            self._unknown[number] = unknown_facts(self._buildings[number], self.order)
        return self._unknown[number]


_Kept = OrderedDict[tuple[Any, ...], PlacedGaps]
_kept: WeakKeyDictionary[sa.Engine, _Kept] = WeakKeyDictionary()
_lock = Lock()


def placed_gaps(session: Session, viewer: Viewer, known: KnownOrder) -> PlacedGaps:
    """The viewer's gaps in an order, out of what this process keeps where it is still so."""
    stamp = stamp_of(session)
    scope = viewer.organisation_id, tuple(sorted(viewer.grants))
    key = (stamp, scope, known.name, known.order.version)
    engine = session.get_bind().engine
    with _lock:
        kept = _kept.setdefault(engine, OrderedDict())
        if (found := kept.get(key)) is not None:
            kept.move_to_end(key)
            return found
    found = place_gaps(session, viewer, known.order)
    with _lock:
        kept[key] = found
        while len(kept) > _KEPT:
            kept.popitem(last=False)
    return found


def place_gaps(session: Session, viewer: Viewer, order: GapOrder) -> PlacedGaps:
    """The viewer's gaps in an order that nobody may have kept yet."""
    rows = session.execute(_gaps(viewer)).all()
    building_ids = sorted({row.building_id for row in rows})
    buildings = _buildings(session, viewer, building_ids)
    number = {building_id: at for at, building_id in enumerate(building_ids)}
    zones = [
        PlacedZone(
            number[row.building_id],
            f"{row.coverage}-by-inference" if row.by_inference else row.coverage,
            tie_of(row.position),
        )
        for row in rows
    ]
    ids = np.array([row.zone_id for row in rows], dtype=np.int64)
    return PlacedGaps(order, ids, buildings, columns_of(buildings, zones, order))


def _gaps(viewer: Viewer) -> sa.Select[Any]:
    kept = ZoneResult
    coverage = sa.type_coerce(kept.coverage, sa.String).label("coverage")
    columns: tuple[Any, ...] = (
        *(kept.zone_id, kept.building_id, coverage, kept.by_inference, kept.position),
    )
    query = sa.select(*columns)
    return query.where(kept.is_gap, viewer.reads(kept.organisation_id, kept.building_id))


def _buildings(session: Session, viewer: Viewer, ids: Sequence[int]) -> list[Building]:
    """The buildings in the order of `ids`, with what was found of their facings."""
    kept = BuildingResult
    query = sa.select(kept.building_id, kept.metal_composite)
    query = query.where(viewer.reads(kept.organisation_id, kept.building_id))
    composite = {row.building_id: row.metal_composite for row in session.execute(query)}
    found = gather_buildings(session, ids)
    return [
        replace(found[building_id][1], metal_composite=composite.get(building_id, ""))
        for building_id in ids
    ]

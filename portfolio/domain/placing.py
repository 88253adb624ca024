"""Where each gap stands in an order, and the first and the last place that it could take.

Exact over every completion of the unknown facts of all buildings, without trying them. A gap is
at its first place where its own building is as bad as it could be and all others are as mild as
they could be, and the other way round at its last. Buildings are completed apart from each other,
but the zones of one building share its facts: so the zones of its own building stand before a gap
or after it whatever is found, and are counted as they stand, not as they could.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from portfolio.domain.buildings import Building
from portfolio.domain.criteria import COVERAGE
from portfolio.domain.order_facts import Fact
from portfolio.domain.priorities import (
    GapOrder,
    codes_of,
    is_of_zone,
    milder,
    unknown_facts,
)

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Columns:
    """The gaps of a portfolio as columns, in any order.

    `worst` and `mildest` have a row a gap and a column a step: how bad the step finds it with all
    that is unknown at its worst, and at its mildest; lower comes first. In the columns of
    `of_zone` both are alike. `building` numbers the buildings, `tie` the gaps, each once, as their
    references sort.
    """

    worst: Ints
    mildest: Ints
    of_zone: Bools
    building: Ints
    tie: Ints

    @cached_property
    def places(self) -> Places:
        """The place of each gap, counted from 1."""
        return _places(self)


@dataclass(frozen=True, slots=True)
class Places:
    """By gap: its place, the first and the last that it could take, and how many gaps of its own
    building stand before it. All counted from 1, but the last from 0."""

    place: Ints
    first: Ints
    last: Ints
    siblings: Ints


@dataclass(frozen=True, slots=True)
class PlacedZone:
    """A gap to place: the number of its building, its coverage as steps name it, and the text by
    which it sorts where every step leaves it level with another."""

    building: int
    coverage: str
    tie: str


def columns_of(
    buildings: Sequence[Building], zones: Sequence[PlacedZone], order: GapOrder
) -> Columns:
    """The gaps as the steps of an order find them."""
    of_zone = is_of_zone(order)
    facts = order.facts
    mildest_buildings = [milder(building, order, facts) for building in buildings]
    worst, mildest = (_codes(found, zones, order) for found in (buildings, mildest_buildings))
    tie = np.empty(len(zones), dtype=np.int64)
    tie[np.argsort(np.array([zone.tie for zone in zones], dtype=np.str_))] = np.arange(len(zones))
    building = np.array([zone.building for zone in zones], dtype=np.int64)
    return Columns(worst, mildest, np.array(of_zone, dtype=np.bool_), building, tie)


def _codes(buildings: Sequence[Building], zones: Sequence[PlacedZone], order: GapOrder) -> Ints:
    """A row a zone; what the steps find of a building, and of a coverage, is worked out once."""
    steps = len(order.steps)
    of_buildings = np.array(
        [codes_of(building, "", order) for building in buildings], dtype=np.int64
    ).reshape(-1, steps)
    found = of_buildings[[zone.building for zone in zones]].reshape(-1, steps)
    coverages = [zone.coverage for zone in zones]
    for place, step in enumerate(order.steps):
        if step.criterion == COVERAGE:
            known = {word: step.code(word) for word in set(coverages)}
            found[:, place] = [known[word] for word in coverages]
    return found


@dataclass(frozen=True, slots=True)
class Telling:
    """What finding one unknown fact would tell of a gap's place.

    `first_if_mildest` is the first place left if it is found the mildest it could be,
    `last_if_worst` the last place left if it is found the worst. `moved` is by how many places
    either end of the range comes in, at most.
    """

    fact: Fact
    first_if_mildest: int
    last_if_worst: int
    moved: int


def tellings(columns: Columns, gap: int, building: Building, order: GapOrder) -> list[Telling]:
    """For each unknown fact of a gap's building what finding it would tell, the most telling one
    first; of two alike the one that an earlier step asks about."""
    places = columns.places
    found = []
    for fact in unknown_facts(building, order):
        others = [other for other in order.facts if other is not fact]
        first = _place_at(
            columns, columns.mildest, gap, _codes_if(columns, gap, building, order, [fact])
        )
        last = _place_at(
            columns, columns.worst, gap, _codes_if(columns, gap, building, order, others)
        )
        moved = max(first - int(places.first[gap]), int(places.last[gap]) - last)
        found.append(Telling(fact, first, last, moved))
    return sorted(found, key=lambda told: -told.moved)


def _codes_if(
    columns: Columns, gap: int, building: Building, order: GapOrder, facts: Sequence[Fact]
) -> Ints:
    """The codes of a gap with some unknown facts at their mildest, the others at their worst."""
    codes = np.array(codes_of(milder(building, order, facts), "", order), dtype=np.int64)
    return np.where(columns.of_zone, columns.worst[gap], codes)


def _places(columns: Columns) -> Places:
    count = len(columns.tie)
    both = _ranks(np.vstack([columns.worst, columns.mildest]))
    worst = both[:count] * count + columns.tie
    mildest = both[count:] * count + columns.tie
    place = np.empty(count, dtype=np.int64)
    place[np.argsort(worst)] = np.arange(1, count + 1)
    siblings = _siblings_before(columns)
    own_mildest_before, own_worst_before = _own_counted(columns, siblings)
    before_first = np.searchsorted(np.sort(mildest), worst) - own_mildest_before
    before_last = np.searchsorted(np.sort(worst), mildest) - own_worst_before
    return Places(place, 1 + before_first + siblings, 1 + before_last + siblings, siblings)


def _ranks(rows: Ints) -> Ints:
    """Rows numbered as they sort, equal ones alike."""
    if not rows.size:
        return np.zeros(len(rows), dtype=np.int64)
    order = np.lexsort(rows.T[::-1])
    is_new = np.any(np.diff(rows[order], axis=0) != 0, axis=1)
    found = np.empty(len(rows), dtype=np.int64)
    found[order] = np.concatenate([[0], np.cumsum(is_new)])
    return found


def _within(building: Ints, rank: Ints, side: str) -> Ints:
    """How many of the same building rank lower, or as low where the side is "right"."""
    width = int(rank.max(initial=0)) + 2
    keys = building * width + rank
    ordered = np.sort(keys)
    upto = np.searchsorted(ordered, keys, side="right" if side == "right" else "left")
    found: Ints = upto - np.searchsorted(ordered, building * width)
    return found


def _siblings_before(columns: Columns) -> Ints:
    """Gaps of its own building that stand before a gap: its building's facts are common to both,
    so the steps that look at the zone and the references decide, whatever is found."""
    rows = np.column_stack([columns.worst[:, columns.of_zone], columns.tie])
    return _within(columns.building, _ranks(rows), "left")


def _own_counted(columns: Columns, siblings: Ints) -> tuple[Ints, Ints]:
    """How many gaps of its own building were counted before a gap as if completed apart: those
    that at their mildest come before it at its worst, and at their worst before it at its mildest.

    Until the first step on which the building could be milder only the zones' own steps decide;
    from there on the milder one is after.
    """
    differs = columns.worst != columns.mildest
    steps = differs.shape[1]
    known = ~differs.any(axis=1)
    first = np.where(known, steps, np.argmax(differs, axis=1) if steps else 0)
    counts = columns.of_zone & (np.arange(steps) < first[:, np.newaxis])
    prefix = _ranks(np.where(counts, columns.worst, 0))
    before = np.where(known, siblings, _within(columns.building, prefix, "left"))
    upto = np.where(known, siblings, _within(columns.building, prefix, "right"))
    return before, upto


def _place_at(columns: Columns, others: Ints, gap: int, codes: Ints) -> int:
    """The place of a gap if its codes were these, and those of other buildings `others`."""
    outside = columns.building != columns.building[gap]
    level = outside.copy()
    before = 0
    for step, code in enumerate(codes):
        before += int(np.count_nonzero(level & (others[:, step] < code)))
        level &= others[:, step] == code
    before += int(np.count_nonzero(level & (columns.tie < columns.tie[gap])))
    return 1 + before + int(columns.places.siblings[gap])

"""Which facts to find out first, over many zones: chosen one after another, and counted as such.

Each next fact is the one that, with those chosen before it, completes a smallest set of most zones;
where none completes any, the one that most zones without a complete set still ask for. What a fact
will turn out to be nobody knows: a complete set could settle a zone, and need not.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from portfolio.domain.parameters import PLACE_OF
from portfolio.domain.settling import ToFind


@dataclass(frozen=True, slots=True)
class AlikeZones:
    """How many zones share the same smallest sets of facts."""

    zones: int
    sets: tuple[frozenset[ToFind], ...]


@dataclass(frozen=True, slots=True)
class Chosen:
    """A fact in its place. `completed` counts the zones with a set among this and earlier facts."""

    fact: ToFind
    completed: int


def in_greedy_order(found: Iterable[AlikeZones]) -> list[Chosen]:
    """Every fact of the sets once. Level facts come cheapest way first, then from the inside out.

    The order of `found` does not matter.
    """
    alike = list(found)
    facts = sorted(
        {fact for kind in alike for one in kind.sets for fact in one},
        key=lambda fact: (fact.way, PLACE_OF[fact.parameter]),
    )
    bits = {fact: 1 << place for place, fact in enumerate(facts)}
    counted: dict[tuple[int, ...], int] = {}
    for kind in alike:
        masks = tuple(sorted({sum(bits[fact] for fact in one) for one in kind.sets}))
        counted[masks] = counted.get(masks, 0) + kind.zones
    left = [(zones, masks) for masks, zones in counted.items() if masks]
    waiting = list(range(len(facts)))
    chosen: list[Chosen] = []
    completed = 0
    while waiting:
        best = _best(waiting, left)
        waiting.remove(best)
        bit = 1 << best
        still = [(zones, tuple(mask & ~bit for mask in masks)) for zones, masks in left]
        completed += sum(zones for zones, masks in still if 0 in masks)
        left = [(zones, masks) for zones, masks in still if 0 not in masks]
        chosen.append(Chosen(facts[best], completed))
    return chosen


def _best(waiting: Sequence[int], left: Sequence[tuple[int, tuple[int, ...]]]) -> int:
    """The place of the next fact; of level ones the first."""
    completes, asked = dict.fromkeys(waiting, 0), dict.fromkeys(waiting, 0)
    for zones, masks in left:
        for single in {mask for mask in masks if mask & (mask - 1) == 0}:
            completes[single.bit_length() - 1] += zones
        asks = 0
        for mask in masks:
            asks |= mask
        while asks:
            low = asks & -asks
            asked[low.bit_length() - 1] += zones
            asks ^= low
    return max(waiting, key=lambda place: (completes[place], asked[place], -place))

"""Which facts to find out first, over many zones: chosen one after another, and counted as such.

Each next fact is the one that, with those chosen before it, completes a smallest set of most zones;
where none completes any, the one that most zones without a complete set still ask for. What a fact
will turn out to be nobody knows: a complete set could settle a zone, and need not.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

import numpy as np
import numpy.typing as npt

Named = TypeVar("Named", bound=Hashable)
"""However the caller names a fact."""


@dataclass(frozen=True, slots=True)
class AlikeZones(Generic[Named]):
    """How many zones share the same smallest sets of facts."""

    zones: int
    sets: Sequence[Collection[Named]]


@dataclass(frozen=True, slots=True)
class Chosen(Generic[Named]):
    """A fact in its place. `completed` counts the zones with a set among this and earlier facts."""

    fact: Named
    completed: int


def in_greedy_order(
    found: Collection[AlikeZones[Named]], level: Callable[[Named], Any]
) -> list[Chosen[Named]]:
    """Every fact of the sets once; level ones in the order of what `level` makes of them.

    The order of `found` does not matter.
    """
    settled = [alike for alike in found if alike.sets]
    if not settled:
        return []
    named = {fact for alike in settled for one in alike.sets for fact in one}
    facts = sorted(named, key=level)
    waiting = _Waiting(settled, facts)
    return [Chosen(facts[place], waiting.take(place)) for place in iter(waiting.best, -1)]


class _Waiting(Generic[Named]):
    """What is still to choose, and the kinds of zones without a complete set."""

    def __init__(self, found: Sequence[AlikeZones[Named]], facts: Sequence[Named]) -> None:
        places = {fact: place for place, fact in enumerate(facts)}
        told = [(kind, one) for kind, alike in enumerate(found) for one in alike.sets]
        #: [sets]: the kind of each; [sets, facts]: what it lacks; [sets]: how much that is
        self._kind = np.array([kind for kind, _ in told], dtype=np.int64)
        self._lacks = np.zeros((len(told), len(facts)), dtype=np.bool_)
        rows = np.repeat(np.arange(len(told)), [len(one) for _, one in told])
        self._lacks[rows, [places[fact] for _, one in told for fact in one]] = True
        self._left = self._lacks.sum(axis=1)
        #: [kinds]: the zones of those that are not complete; [kinds, facts]: what any set asks for
        self._zones = np.array([float(alike.zones) for alike in found])
        starts = np.flatnonzero(np.diff(self._kind, prepend=-1))
        self._asks = np.logical_or.reduceat(self._lacks, starts, axis=0).astype(np.float64)
        self._waits = np.ones(len(facts), dtype=np.bool_)
        self._completed = 0

    def best(self) -> int:
        """The place of the next fact, of level ones the first; -1 when all are chosen."""
        if not self._waits.any():
            return -1
        order = np.lexsort((-(self._zones @ self._asks), -self._completes()))
        return int(order[self._waits[order]][0])

    def take(self, place: int) -> int:
        """Choose a fact: how many zones have a complete set by then."""
        self._waits[place] = False
        self._left -= self._lacks[:, place]
        self._lacks[:, place] = False
        complete = np.unique(self._kind[self._left == 0])
        self._completed += int(self._zones[complete].sum())
        # a complete kind asks for nothing more
        self._zones[complete] = 0
        return self._completed

    def _completes(self) -> npt.NDArray[np.float64]:
        """For each fact the zones of which it completes a set, each zone once."""
        rows = np.flatnonzero(self._left == 1)
        places = self._lacks[rows].argmax(axis=1)
        pairs = np.unique(np.stack([self._kind[rows], places]), axis=1)
        found = np.zeros(len(self._waits))
        np.add.at(found, pairs[1], self._zones[pairs[0]])
        return found

"""What people saw at a large-scale test, with times from ignition."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

_PAUSE_S = 1.0
"""Ours: times are written to the second, so one that ends at 3:50 and one from 3:51 are one."""


class Sight(StrEnum):
    """What is watched for. The first three decide something; the others are recorded."""

    FLAMES_ABOVE_RIG = "flames-above-rig"
    EARLY_END = "early-end"
    BURN_THROUGH = "burn-through"
    ONGOING_BURNING = "ongoing-burning"
    FLAMING_DEBRIS = "flaming-debris"
    COLLAPSE = "collapse"
    SPALLING = "spalling"
    DELAMINATION = "delamination"
    POOL_FIRE = "pool-fire"

    @property
    def words(self) -> str:
        return self.value.replace("-", " ")


@dataclass(frozen=True, slots=True)
class Observation:
    """Something seen, or watched for and not seen; times in s from ignition, None if not told."""

    sight: Sight
    was_seen: bool
    from_s: float | None = None
    until_s: float | None = None
    height_m: float | None = None
    note: str = ""


def joined(observations: Iterable[Observation]) -> tuple[Observation, ...]:
    """Observations of one kind, those that follow each other without a pause made into one.

    One whose beginning is not told stays by itself, and so does what follows one without an end.
    """
    found: list[Observation] = []
    apart = []
    for one in sorted(observations, key=lambda one: one.from_s or 0.0):
        before = found[-1] if found else None
        if one.from_s is None:
            apart.append(one)
        elif before is None or before.until_s is None or one.from_s > before.until_s + _PAUSE_S:
            found.append(one)
        else:
            found[-1] = _both(before, before.until_s, one)
    return (*found, *apart)


def _both(first: Observation, until_s: float, then: Observation) -> Observation:
    ends = None if then.until_s is None else max(until_s, then.until_s)
    heights = (first.height_m, then.height_m)
    told = [height for height in heights if height is not None]
    note = "; ".join(filter(None, (first.note, then.note)))
    height = max(told) if len(told) == len(heights) else None
    return replace(first, until_s=ends, height_m=height, note=note)


def of(observations: Iterable[Observation], sight: Sight) -> tuple[Observation, ...]:
    """The observations of one kind."""
    return tuple(one for one in observations if one.sight is sight)

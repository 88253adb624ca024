"""What people saw at a large-scale test, with times from ignition."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


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


def of(observations: Iterable[Observation], sight: Sight) -> tuple[Observation, ...]:
    """The observations of one kind."""
    return tuple(one for one in observations if one.sight is sight)

"""The order of gaps that an organisation writes for itself, out of the criteria there are.

A step of one's own chooses what is looked at and which values count alike. What comes first within
a criterion is not chosen: an order that put sprinklers first would move a gap down for having none.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from portfolio.domain.criteria import CRITERIA, HEIGHT_BAND
from portfolio.domain.heights import HeightBand
from portfolio.domain.priorities import GapOrder, Step

NUMBERS = ("people", "homes")
"""The criteria that are numbers: bands of them are optional."""


@dataclass(frozen=True, slots=True)
class OwnStep:
    """One step: of words the bands, worst first and each word once; of a number, or of metres, the
    least of each band, greatest first. Both empty: every value by itself."""

    criterion: str
    groups: tuple[tuple[str, ...], ...] = ()
    limits: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class OwnOrder:
    """One version of an organisation's order, as it was written."""

    key: str
    title: str
    steps: tuple[OwnStep, ...]
    author: str
    reason: str


def words_of(criterion: str, house: GapOrder) -> Mapping[str, str]:
    """The words of a criterion, worst first, with their labels; none for a number or metres."""
    if criterion == HEIGHT_BAND:
        return {}
    for step in house.steps:
        if step.criterion == criterion:
            return {value: step.labels[value] for value in step.values}
    return {}


def as_order(own: OwnOrder, version: str, house: GapOrder) -> GapOrder:
    """The order as gaps are placed by it; words and their labels are those of the house order."""
    limits = next((s.limits for s in own.steps if s.criterion == HEIGHT_BAND and s.limits), ())
    bands = height_bands(limits) if limits else house.bands
    source = f"written by {own.author}"
    steps = tuple(_step(step, bands, house, source) for step in own.steps)
    return GapOrder(own.key, own.title, version, steps, bands, house.sleeping_by_use, own.reason)


def height_bands(limits: tuple[float, ...]) -> tuple[HeightBand, ...]:
    """Bands of heights with these least metres, greatest first, and one below them all."""
    rising = (0.0, *sorted(limits))
    found = []
    for low, high in zip(rising, (*rising[1:], None), strict=True):
        if high is None:
            label = f"{low:g} m or more"
        else:
            label = f"{low:g} m to below {high:g} m" if low else f"below {high:g} m"
        found.append(HeightBand(f"{low:g}", label, low))
    return tuple(found)


def _step(own: OwnStep, bands: tuple[HeightBand, ...], house: GapOrder, source: str) -> Step:
    title = CRITERIA[own.criterion].title
    if own.criterion == HEIGHT_BAND:
        labels = {band.key: band.label for band in sorted(bands, key=lambda band: -band.from_m)}
    else:
        labels = dict(words_of(own.criterion, house))
    group_of = {word: place for place, group in enumerate(own.groups) for word in group}
    groups = tuple(group_of[word] for word in labels) if own.groups else ()
    limits = () if own.criterion == HEIGHT_BAND else tuple(int(limit) for limit in own.limits)
    return Step(
        own.criterion, title, tuple(labels), labels, source, "house", groups=groups, limits=limits
    )

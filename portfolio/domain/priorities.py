"""The order of gaps: a visible list of steps, each with its ranks and its source.

No weights. A later step only decides between gaps that every earlier step leaves level; the last
word is the building's and the zone's reference, so that the order is total and repeatable. What
is unknown ranks with the worst, and the reason says so.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from portfolio.domain.buildings import Building, Zone
from portfolio.domain.coverage import ZoneCoverage
from portfolio.domain.heights import HeightBand, band_of, exact

_SEPARATOR = "\x1f"  # sorts before every character of a reference
_MOST = 10**9 - 1  # as many digits as are written, so that nobody at all sorts last


@dataclass(frozen=True, slots=True)
class Step:
    """One step: a criterion, and its values worst first. Empty values: more is worse."""

    criterion: str
    title: str
    values: tuple[str, ...]
    labels: Mapping[str, str]
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class GapOrder:
    """An order: its steps, and the vocabularies that its criteria read."""

    key: str
    title: str
    version: str
    steps: tuple[Step, ...]
    bands: tuple[HeightBand, ...]
    sleeping_by_use: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Gap:
    """A zone that is not covered, with what its order needs."""

    building: Building
    zone: Zone
    coverage: ZoneCoverage


@dataclass(frozen=True, slots=True)
class Reason:
    """How one step placed a gap."""

    title: str
    text: str
    was_unknown: bool


@dataclass(frozen=True, slots=True)
class RankedGap:
    """A gap with its place (from 1) and how it came by it, step by step."""

    rank: int
    gap: Gap
    reasons: tuple[Reason, ...]


def ranked(gaps: Sequence[Gap], order: GapOrder) -> list[RankedGap]:
    """The gaps in order, each with its reasons."""
    in_order = sorted(gaps, key=lambda gap: position(gap, order))
    return [RankedGap(i, gap, reasons(gap, order)) for i, gap in enumerate(in_order, start=1)]


def position(gap: Gap, order: GapOrder) -> str:
    """A text that sorts, byte by byte, as the order does; the store pages gaps by it."""
    return position_after(steps_of(gap, order), gap)


def steps_of(gap: Gap, order: GapOrder) -> str:
    """The part of a position that the steps decide: alike for one coverage in one building."""
    return ".".join(_place(step, gap, order) for step in order.steps)


def position_after(steps: str, gap: Gap) -> str:
    """The whole position, given what the steps decide of it."""
    return _SEPARATOR.join((steps, gap.building.ref, gap.zone.ref))


def _place(step: Step, gap: Gap, order: GapOrder) -> str:
    """Lower comes first. A number counts downwards, and an unknown one comes before any."""
    value = _CRITERIA[step.criterion](gap, order)
    if step.values:
        return f"{step.values.index(value) if value in step.values else 0:02d}"
    counted = 0 if value == "" else _MOST - min(int(value), _MOST - 1)
    return f"{counted:09d}"


def reasons(gap: Gap, order: GapOrder) -> tuple[Reason, ...]:
    """How each step of the order placed the gap."""
    return tuple(_reason(step, gap, order) for step in order.steps)


def _reason(step: Step, gap: Gap, order: GapOrder) -> Reason:
    value = _CRITERIA[step.criterion](gap, order)
    if value == "" or (step.values and value not in step.values):
        return Reason(step.title, f"{step.title}: unknown, so placed with the worst", True)
    doubt = _height_doubt(gap, order) if step.criterion == "height-band" else ""
    return Reason(step.title, f"{step.title}: {step.labels.get(value, value)}{doubt}", False)


def _height_doubt(gap: Gap, order: GapOrder) -> str:
    """What to say where the claims and their tolerances leave more than one band."""
    claims = gap.building.height_claims
    lowest = band_of([exact(min(claim.low for claim in claims))], order.bands)
    if lowest == band_of(claims, order.bands):
        return ""
    told = " and ".join(sorted({f"{claim.metres:g} m" for claim in claims}))
    return f" ({told} claimed: either side of a limit, counted with the taller)"


def _coverage(gap: Gap, order: GapOrder) -> str:
    del order
    by_inference = "-by-inference" if gap.coverage.by_inference else ""
    return gap.coverage.coverage.value + by_inference


def _sleeping(gap: Gap, order: GapOrder) -> str:
    return order.sleeping_by_use.get(gap.building.use, "")


def _height_band(gap: Gap, order: GapOrder) -> str:
    band = band_of(gap.building.height_claims, order.bands)
    return band.key if band else ""


def _evacuation(gap: Gap, order: GapOrder) -> str:
    del order
    return gap.building.evacuation


def _sprinklers(gap: Gap, order: GapOrder) -> str:
    del order
    return gap.building.sprinklers


def _people(gap: Gap, order: GapOrder) -> str:
    del order
    people = gap.building.people_estimate
    return "" if people is None else str(people)


_CRITERIA: dict[str, Callable[[Gap, GapOrder], str]] = {
    "coverage": _coverage,
    "sleeping": _sleeping,
    "height-band": _height_band,
    "evacuation": _evacuation,
    "sprinklers": _sprinklers,
    "people": _people,
}

CRITERIA: tuple[str, ...] = tuple(_CRITERIA)
"""The criteria that a step may name."""

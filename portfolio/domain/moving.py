"""How a portfolio moves: what changed from one day's count to the next, and the counts in between.

Only changes are kept, so that a portfolio in which nothing happens takes no room; the counts of a
day are all changes until then added up. A count that moved because zones came or went, or because
walls were judged by other rules, is no progress: such days are breaks and say so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple


class Facet(NamedTuple):
    """What is counted of one building: `measure` is zones, buildings or facts, `series` a coverage
    with its inference, or what is missing. The rest is what one may look at by itself."""

    organisation_id: int
    building_id: int
    jurisdiction: str
    use: str
    height_band: str
    measure: str
    series: str


class Amount(NamedTuple):
    """A count and an area in m²; of a change both may be negative."""

    number: int = 0
    area_m2: float = 0.0


NOTHING = Amount()
ZONES, BUILDINGS, FACTS = "zones", "buildings", "facts"
MEASURES = (ZONES, BUILDINGS, FACTS)
_DECIMALS = 2


def changes(
    before: Mapping[Facet, Amount], after: Mapping[Facet, Amount]
) -> list[tuple[Facet, Amount]]:
    """What has to be added to `before` to come to `after`, in an order of its own."""
    found = []
    for facet in sorted({*before, *after}):
        was, now = before.get(facet, NOTHING), after.get(facet, NOTHING)
        area = round(now.area_m2, _DECIMALS) - round(was.area_m2, _DECIMALS)
        change = Amount(now.number - was.number, round(area, _DECIMALS))
        if change != NOTHING:
            found.append((facet, change))
    return found


@dataclass(frozen=True, slots=True)
class DayCount:
    """The counts at the start of one day, by measure and series, and what broke the line there."""

    day: date
    counts: Mapping[str, Mapping[str, Amount]]
    breaks: tuple[str, ...] = ()

    def count(self, measure: str, series: str) -> int:
        return self.counts.get(measure, {}).get(series, NOTHING).number

    def total(self, measure: str) -> int:
        return sum(amount.number for amount in self.counts.get(measure, {}).values())


class Change(NamedTuple):
    """What changed on one day, over the buildings that one looks at."""

    day: date
    measure: str
    series: str
    amount: Amount


@dataclass(frozen=True, slots=True)
class Days:
    """The days on which a count was taken, each with the methods by which walls were judged."""

    methods: Mapping[date, frozenset[str]] = field(default_factory=dict)


def day_counts(found: Iterable[Change], days: Days) -> list[DayCount]:
    """The counts of every day that was counted, in order.

    A day is a break where the number of zones is another one than the day before, or the method.
    """
    by_day: dict[date, list[Change]] = {}
    for change in found:
        by_day.setdefault(change.day, []).append(change)
    running: dict[str, dict[str, Amount]] = {measure: {} for measure in MEASURES}
    told: list[DayCount] = []
    judged_by: frozenset[str] | None = None
    for day in sorted({*days.methods, *by_day}):
        zones = 0
        for change in by_day.get(day, ()):
            series = running.setdefault(change.measure, {})
            was = series.get(change.series, NOTHING)
            area = round(was.area_m2 + change.amount.area_m2, _DECIMALS)
            series[change.series] = Amount(was.number + change.amount.number, area)
            zones += change.amount.number if change.measure == ZONES else 0
        methods = days.methods.get(day, judged_by or frozenset())
        breaks = _breaks(zones, judged_by, methods) if told else ()
        judged_by = methods
        counts = {
            measure: {key: amount for key, amount in series.items() if amount != NOTHING}
            for measure, series in running.items()
        }
        told.append(DayCount(day, counts, breaks))
    return told


def _breaks(zones: int, before: frozenset[str] | None, methods: frozenset[str]) -> tuple[str, ...]:
    found = []
    if zones:
        many = f"{abs(zones):,} zone{'s' if abs(zones) != 1 else ''}"
        found.append(f"{many} {'came in' if zones > 0 else 'went out'}")
    if before is not None and methods != before:
        found.append("walls are judged by other rules than before")
    return tuple(found)


def thinned(told: list[DayCount], most: int) -> list[DayCount]:
    """At most so many of the days, spread evenly: the first, the last, and what breaks the line as
    far as there is room."""
    if len(told) <= most:
        return told
    chosen = {0, len(told) - 1}
    broken = [place for place, day in enumerate(told) if day.breaks]
    for place in (*reversed(broken), *_evenly(len(told), most)):
        if len(chosen) < most:
            chosen.add(place)
    return [told[place] for place in sorted(chosen)]


def _evenly(count: int, most: int) -> Iterable[int]:
    return (round(step * (count - 1) / (most - 1)) for step in range(most))

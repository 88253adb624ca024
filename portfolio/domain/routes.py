"""Whether the law where a building stands lets a large-scale test speak for a wall.

Jurisdiction, date and kind of work decide: an existing wall is appraised as it stands, by the rule
of today; new work goes by the rule of the day on which its application counted, and by the height
and use of its building.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from typing import NamedTuple

from portfolio.domain.evidence import Answer3
from portfolio.domain.heights import HeightClaim, Side, Threshold, side_of


class Work(StrEnum):
    """The kind of work that a wall is looked at for."""

    EXISTING = "existing"
    NEW = "new"


class NewWork(NamedTuple):
    """What a rule on new work asks. `counted_on` is the day on which the work's application or
    notice to building control counted; None and "" are unknown. `heights` are claimed, `estimate`
    is what the storeys suggest."""

    counted_on: date | None
    use: str = ""
    heights: tuple[HeightClaim, ...] = ()
    estimate: HeightClaim | None = None


@dataclass(frozen=True, slots=True)
class Reach:
    """Which buildings a rule reaches: those with a storey from a height on, and of these for
    certain those of some uses. `uses_source` says where the uses come from."""

    threshold: Threshold
    uses: frozenset[str]
    uses_source: str = ""


@dataclass(frozen=True, slots=True)
class Route:
    """Whether large-scale tests count for a kind of work in a jurisdiction, from a date on.

    With a `reach` it speaks of the buildings within it only.
    """

    jurisdiction: str
    work: str
    accepts: Answer3
    effective_from: date
    effective_to: date | None
    reason: str
    source: str
    status: str = ""
    reach: Reach | None = None

    def is_in_force(self, on: date) -> bool:
        """Whether it holds on a day; no longer on the day on which it ends."""
        return self.effective_from <= on and (self.effective_to is None or on < self.effective_to)


@dataclass(frozen=True, slots=True)
class AppliedRoute:
    """The route that was applied, and why. `since` is the first day of its rule, None where none is
    recorded; `settles` names the fact that would settle an unknown answer."""

    work: Work
    answer: Answer3
    reason: str
    source: str = ""
    status: str = ""
    since: date | None = None
    settles: str = ""


def applied_route(
    routes: Collection[Route], jurisdiction: str, new_work: NewWork | None, on: date
) -> AppliedRoute:
    """The route for an existing wall on a day, or for new work by the day on which it counted."""
    work = Work.EXISTING if new_work is None else Work.NEW
    here = [route for route in routes if (route.jurisdiction, route.work) == (jurisdiction, work)]
    if new_work is None:
        return _route_of_day(here, work, on, _nothing_about("this route", jurisdiction))
    if not here:
        return AppliedRoute(work, Answer3.UNKNOWN, _nothing_about("new work", jurisdiction))
    if new_work.counted_on is None:
        return AppliedRoute(
            work,
            Answer3.UNKNOWN,
            "the day on which the application for this new work counted is not recorded",
            settles="the day on which the application or notice to building control counted",
        )
    nothing = _nothing_about(
        f"new work whose application counted on {new_work.counted_on.isoformat()}", jurisdiction
    )
    found = _in_force(here, new_work.counted_on)
    if found is not None and found.reach is not None:
        return _within_reach(found, found.reach, new_work)
    return _route_of_day(here, work, new_work.counted_on, nothing)


def _nothing_about(what: str, jurisdiction: str) -> str:
    where = jurisdiction or "a building whose jurisdiction is not recorded"
    return f"nothing is recorded about {what} in {where}"


def _in_force(routes: Collection[Route], on: date) -> Route | None:
    valid = [route for route in routes if route.is_in_force(on)]
    return max(valid, key=lambda route: route.effective_from, default=None)


def _route_of_day(routes: Collection[Route], work: Work, on: date, nothing: str) -> AppliedRoute:
    found = _in_force(routes, on)
    if found is None:
        return AppliedRoute(work, Answer3.UNKNOWN, nothing)
    return _by(found, found.accepts, found.reason)


def _within_reach(route: Route, reach: Reach, new_work: NewWork) -> AppliedRoute:
    limit = f"{reach.threshold.operator.value} {reach.threshold.metres:g} m"
    from_there = f"a storey at a height of {limit}"
    side = _side(new_work, reach.threshold)
    if side is Side.BELOW:
        reason = f"the building has no storey at a height of {limit}, where the rule begins"
        return _by(route, Answer3.MET, reason)
    if side is not Side.ABOVE:
        lies = (
            "is claimed by nobody" if side is Side.UNKNOWN else "could lie on either side of that"
        )
        return _by(
            route,
            Answer3.UNKNOWN,
            f"the rule begins with {from_there}, and the height of the top storey {lies}",
            f"the height of the top storey, closely enough to tell whether it is {limit}",
        )
    if new_work.use in reach.uses:
        found = _by(route, route.accepts, route.reason)
        return replace(found, source=f"{found.source}; {reach.uses_source}")
    if not new_work.use:
        reason = f"the building has {from_there}, and its use is not recorded"
        return _by(route, Answer3.UNKNOWN, reason, "the use of the building")
    reason = (
        f"the building has {from_there}, and whether the rule reaches a building of its use is not "
        "recorded here"
    )
    return _by(route, Answer3.UNKNOWN, reason, "whether the rule reaches a building of this use")


def _side(new_work: NewWork, threshold: Threshold) -> Side:
    """On which side the building lies. What storeys suggest may speak against the work and never
    for it: it opens no route, and a claim that it contradicts opens none either."""
    claimed = side_of(new_work.heights, threshold)
    suggested = side_of(() if new_work.estimate is None else (new_work.estimate,), threshold)
    if claimed is Side.UNKNOWN:
        return Side.ABOVE if suggested is Side.ABOVE else Side.UNKNOWN
    return Side.EITHER_SIDE if (claimed, suggested) == (Side.BELOW, Side.ABOVE) else claimed


def _by(route: Route, answer: Answer3, reason: str, settles: str = "") -> AppliedRoute:
    told = Work(route.work), answer, reason, route.source, route.status, route.effective_from
    return AppliedRoute(*told, settles)

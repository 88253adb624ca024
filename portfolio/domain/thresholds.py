"""Thresholds of a jurisdiction, asked of a building: above, below, either side, or unknown.

A threshold may combine conditions (a height or a count of storeys, and homes), and may leave open
what its source leaves open: its operator, its measure, or whether one of them is enough. What is
left open is read in every way it can be, and where the readings part the building lies on either
side.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from math import inf

from portfolio.domain.buildings import Building
from portfolio.domain.heights import HeightClaim, Operator, Side, Threshold, estimate_from_storeys


class Measure(StrEnum):
    """What a threshold measures: heights in metres above the lowest ground, or a count."""

    FLOOR = "floor"
    ROOF = "roof"
    STOREYS = "storeys"
    HOMES = "homes"
    UNSTATED = "not stated"

    @property
    def words(self) -> str:
        """What is measured, as it is said on a page."""
        return _WORDS[self]

    @property
    def unit(self) -> str:
        """ "m" for heights, "" for counts."""
        return "" if self in (Measure.STOREYS, Measure.HOMES) else "m"


_WORDS = {
    Measure.FLOOR: "floor of the top storey",
    Measure.ROOF: "roof",
    Measure.STOREYS: "storeys above ground",
    Measure.HOMES: "homes",
    Measure.UNSTATED: "height (to what: not recorded here)",
}
_FINDING_OUT = {
    Measure.FLOOR: "a measurement from the lowest ground to the floor of the top storey",
    Measure.ROOF: "a measurement from the lowest ground to the roof",
    Measure.STOREYS: "a count of the storeys above ground",
    Measure.HOMES: "a count of the homes",
    Measure.UNSTATED: "the rule of the place, for what it measures, and a measurement of that",
}


@dataclass(frozen=True, slots=True)
class Claim:
    """What one source says of one measure: the least and the most it may be, and its words."""

    low: float
    high: float
    words: str
    is_estimate: bool = False


Claims = dict[Measure, tuple[Claim, ...]]
"""All that is claimed of a building, by measure."""


class Joined(StrEnum):
    """Whether one of several conditions is enough."""

    OR = "or"
    UNSTATED = "or (whether both are asked: not recorded here)"


@dataclass(frozen=True, slots=True)
class Condition:
    """One measure against one value. An operator of None is one that the source does not state."""

    measure: Measure
    value: float
    operator: Operator | None

    @property
    def words(self) -> str:
        """The condition as it is said on a page."""
        amount = f"{self.value:g} m" if self.measure.unit else f"{self.value:g}"
        if self.operator is None:
            return f"{self.measure.words}: {amount} (at least or more than: not recorded here)"
        return f"{self.measure.words}: {self.operator.value} {amount}"

    def answers(self, claim: Claim) -> set[bool]:
        """Every answer that the claim leaves possible, by every reading of the operator."""
        operators = (self.operator,) if self.operator else tuple(Operator)
        limits = [Threshold(self.value, operator) for operator in operators]
        return {limit.is_reached_by(end) for limit in limits for end in (claim.low, claim.high)}


@dataclass(frozen=True, slots=True)
class ConditionGroup:
    """Conditions of which one is enough, or may be."""

    conditions: tuple[Condition, ...]
    joined: Joined = Joined.OR


@dataclass(frozen=True, slots=True)
class JurisdictionThreshold:
    """From where on a rule of a jurisdiction applies: every group has to be met.

    `triggers` says what then applies. Where `start_is_known` is False, `effective_from` is the day
    on which the threshold was recorded here, and keeps no earlier day from being asked.
    """

    key: str
    jurisdiction: str
    groups: tuple[ConditionGroup, ...]
    triggers: str
    source: str
    status: str
    effective_from: date
    start_is_known: bool
    effective_to: date | None = None
    note: str = ""

    @property
    def words(self) -> str:
        """All conditions as one sentence."""
        return "; and ".join(
            f" {group.joined.value} ".join(condition.words for condition in group.conditions)
            for group in self.groups
        )

    @property
    def floor_metres(self) -> tuple[float, ...]:
        """The heights that a top floor is compared with."""
        floors = Measure.FLOOR, Measure.UNSTATED
        asked = (one for group in self.groups for one in group.conditions)
        return tuple(one.value for one in asked if one.measure in floors)

    def is_in_force(self, on: date) -> bool:
        """Whether the threshold counts on a day; `effective_to` is the first day it does not."""
        if self.start_is_known and on < self.effective_from:
            return False
        return self.effective_to is None or on < self.effective_to


@dataclass(frozen=True, slots=True)
class ConditionFinding:
    """One condition asked: its side, the claims behind it, and what would settle it, else ""."""

    condition: Condition
    side: Side
    claims: tuple[Claim, ...]
    settles: str = ""


@dataclass(frozen=True, slots=True)
class ThresholdFinding:
    """One threshold asked of one building."""

    threshold: JurisdictionThreshold
    side: Side
    findings: tuple[ConditionFinding, ...]

    @property
    def settles(self) -> tuple[str, ...]:
        """What would settle it: nothing where the whole is definite."""
        if self.side in (Side.ABOVE, Side.BELOW):
            return ()
        return tuple(dict.fromkeys(found.settles for found in self.findings if found.settles))


def claims_of(building: Building) -> Claims:
    """What is claimed of a building; an estimate from storeys only where no height is claimed."""
    floors = tuple(_height(claim) for claim in building.heights)
    if not floors and building.storeys:
        floors = (_height(estimate_from_storeys(building.storeys), is_estimate=True),)
    return {
        Measure.FLOOR: floors,
        Measure.STOREYS: _count(building.storeys, "storeys as recorded"),
        Measure.HOMES: _count(building.homes, "homes as recorded"),
    }


def _height(claim: HeightClaim, *, is_estimate: bool = False) -> Claim:
    told = [f"{claim.metres:g} m ± {claim.effective_tolerance_m:.2g} m"]
    if is_estimate:
        told.append("tolerance ours")
    elif claim.tolerance_m is None:
        told.append("tolerance not stated, ours taken")
    told += [part for part in (claim.method, claim.source) if part]
    told += [claim.on.isoformat()] if claim.on else []
    return Claim(claim.low, claim.high, ", ".join(told), is_estimate)


def _count(number: int | None, words: str) -> tuple[Claim, ...]:
    return () if number is None else (Claim(number, number, f"{number} {words}"),)


def ask_all(
    thresholds: Collection[JurisdictionThreshold], building: Building, on: date
) -> tuple[ThresholdFinding, ...]:
    """Every threshold of the building's jurisdiction that is in force on a day; none elsewhere."""
    claims = claims_of(building)
    return tuple(
        ask(threshold, claims)
        for threshold in thresholds
        if threshold.jurisdiction == building.jurisdiction and threshold.is_in_force(on)
    )


def ask(threshold: JurisdictionThreshold, claims: Claims) -> ThresholdFinding:
    """One threshold asked of what is claimed."""
    found = [
        [_finding(condition, claims) for condition in group.conditions]
        for group in threshold.groups
    ]
    sides = [
        _one_of([finding.side for finding in findings], group.joined)
        for group, findings in zip(threshold.groups, found, strict=True)
    ]
    return ThresholdFinding(
        threshold, _all_of(sides), tuple(finding for group in found for finding in group)
    )


def _one_of(sides: Sequence[Side], joined: Joined) -> Side:
    if joined is Joined.UNSTATED and len(set(sides)) > 1:
        return Side.EITHER_SIDE
    return next((side for side in _FIRST_OF_ONE if side in sides), Side.BELOW)


def _all_of(sides: Sequence[Side]) -> Side:
    return next((side for side in _FIRST_OF_ALL if side in sides), Side.ABOVE)


_FIRST_OF_ONE = (Side.ABOVE, Side.EITHER_SIDE, Side.UNKNOWN)
_FIRST_OF_ALL = (Side.BELOW, Side.EITHER_SIDE, Side.UNKNOWN)


def _finding(condition: Condition, claims: Claims) -> ConditionFinding:
    spoken = tuple(_speaking(condition.measure, claims))
    if not spoken:
        return ConditionFinding(condition, Side.UNKNOWN, (), _FINDING_OUT[condition.measure])
    answers = set[bool]().union(*(condition.answers(claim) for claim in spoken))
    if len(answers) == 1:
        return ConditionFinding(condition, Side.ABOVE if True in answers else Side.BELOW, spoken)
    return ConditionFinding(condition, Side.EITHER_SIDE, spoken, _settling(condition, spoken))


def _speaking(measure: Measure, claims: Claims) -> Iterator[Claim]:
    """The claims on a measure. Of one that is not stated a floor is the least: no roof is lower."""
    if measure is not Measure.UNSTATED:
        yield from claims.get(measure, ())
        return
    most = max((roof.high for roof in claims.get(Measure.ROOF, ())), default=inf)
    for floor in claims.get(Measure.FLOOR, ()):
        yield Claim(floor.low, max(floor.high, most), floor.words, floor.is_estimate)


def _settling(condition: Condition, claims: Sequence[Claim]) -> str:
    """What would settle a condition that the claims leave on either side."""
    by_answer = {answer: _surely(condition, claims, reached=answer) for answer in (True, False)}
    if by_answer[True] and by_answer[False]:
        above, below = by_answer[True][0], by_answer[False][0]
        return f"which is right: {above.words}; or {below.words}"
    if condition.operator is None and any(
        condition.value in (claim.low, claim.high) for claim in claims
    ):
        return "the rule of the place, for whether the value itself is in or out"
    finding_out = _FINDING_OUT[condition.measure]
    if condition.measure is Measure.UNSTATED or any(claim.is_estimate for claim in claims):
        return finding_out
    middles = [(claim.low + claim.high) / 2 for claim in claims]
    gap = min(abs(middle - condition.value) for middle in middles)
    closeness = f" to within less than {gap:.2f} m" if round(gap, 2) else ""
    return f"{finding_out}{closeness}"


def _surely(condition: Condition, claims: Sequence[Claim], *, reached: bool) -> list[Claim]:
    return [claim for claim in claims if condition.answers(claim) == {reached}]

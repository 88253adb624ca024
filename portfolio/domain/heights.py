"""Heights: every claim kept with method, date and tolerance; near a threshold "either side"."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

GROUND_STOREY_M = 4.65
TYPICAL_STOREY_M = 3.1
"""Storey heights for an estimate only (arithmetic on published tall-building defaults)."""

ESTIMATE_TOLERANCE_SHARE = 0.1
"""How far an estimate from storeys may be off, as a share of itself (ours)."""

UNSTATED_TOLERANCE_M = 0.5
"""How far a height without a stated tolerance may be off (ours)."""


LEFT_OUT_OF_STOREYS = (
    "roof-top plant storeys; a basement storey if any part of its ceiling finish is below ground; "
    "a gallery under 50 % of the floor"
)
LEFT_OUT_SOURCE = "England; secondary sources restating SI 2023/275"
"""What a count of storeys leaves out, and who says so."""


class Side(StrEnum):
    """Where a height lies in respect of a threshold."""

    ABOVE = "above"
    BELOW = "below"
    EITHER_SIDE = "either side"
    UNKNOWN = "unknown"


class Operator(StrEnum):
    """Operators differ between rules, so each threshold carries its own."""

    AT_LEAST = "at least"
    MORE_THAN = "more than"


@dataclass(frozen=True, slots=True)
class HeightClaim:
    """One word on the height of the top storey's floor above the lowest ground, in metres."""

    metres: float
    method: str
    tolerance_m: float | None = None
    on: date | None = None
    source: str = ""

    @property
    def low(self) -> float:
        return round(self.metres - self.effective_tolerance_m, 6)

    @property
    def high(self) -> float:
        return round(self.metres + self.effective_tolerance_m, 6)

    @property
    def effective_tolerance_m(self) -> float:
        return UNSTATED_TOLERANCE_M if self.tolerance_m is None else self.tolerance_m


@dataclass(frozen=True, slots=True)
class Threshold:
    """A height from which a rule of a jurisdiction applies."""

    metres: float
    operator: Operator
    jurisdiction: str = ""
    title: str = ""
    source: str = ""

    def is_reached_by(self, metres: float) -> bool:
        if self.operator is Operator.AT_LEAST:
            return metres >= self.metres
        return metres > self.metres


def estimate_from_storeys(storeys: int) -> HeightClaim:
    """The height of the top floor as storeys suggest it: an estimate, never a measurement.

    >>> [round(estimate_from_storeys(n).metres, 2) for n in (4, 5, 6, 7)]
    [10.85, 13.95, 17.05, 20.15]
    """
    if storeys < 1:
        raise ValueError("a building has at least one storey")
    metres = 0.0 if storeys == 1 else GROUND_STOREY_M + (storeys - 2) * TYPICAL_STOREY_M
    return HeightClaim(
        round(metres, 2),
        f"estimated from {storeys} storeys",
        max(UNSTATED_TOLERANCE_M, metres * ESTIMATE_TOLERANCE_SHARE),
        source="storey heights: arithmetic on published tall-building defaults",
    )


def claims_or_estimate(
    claims: Sequence[HeightClaim], storeys: int | None
) -> tuple[HeightClaim, ...]:
    """The claims there are, else an estimate from storeys, else nothing."""
    if claims:
        return tuple(claims)
    return (estimate_from_storeys(storeys),) if storeys else ()


def side_of(claims: Collection[HeightClaim], threshold: Threshold) -> Side:
    """On which side of a threshold a building lies, all claims and tolerances together."""
    if not claims:
        return Side.UNKNOWN
    reached = {
        threshold.is_reached_by(metres) for claim in claims for metres in (claim.low, claim.high)
    }
    if reached == {True, False}:
        return Side.EITHER_SIDE
    return Side.ABOVE if True in reached else Side.BELOW


def shown_height_m(claims: Collection[HeightClaim]) -> float | None:
    """The height to show and to sort by: the greatest claimed, since taller comes first."""
    return max((claim.metres for claim in claims), default=None)


def span_of(claims: Collection[HeightClaim]) -> tuple[float, float] | None:
    """The least and the greatest height that the claims and their tolerances allow, in metres."""
    if not claims:
        return None
    return max(0.0, min(claim.low for claim in claims)), max(claim.high for claim in claims)


def exact(metres: float) -> HeightClaim:
    """A height without any tolerance, for asking in which band it lies."""
    return HeightClaim(metres, "exact", 0.0)


@dataclass(frozen=True, slots=True)
class HeightBand:
    """A band of heights from `from_m` (included) up to the next band."""

    key: str
    label: str
    from_m: float


def band_of(claims: Collection[HeightClaim], bands: Sequence[HeightBand]) -> HeightBand | None:
    """The highest band that the height could lie in; None when nothing is claimed.

    A height either side of a limit counts in the higher band (ours: unknown never acquits).
    """
    if not claims:
        return None
    highest = max(claim.high for claim in claims)
    reached = [band for band in bands if band.from_m <= highest]
    return max(reached or bands[:1], key=lambda band: band.from_m)

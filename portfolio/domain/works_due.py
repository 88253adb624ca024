"""Days that works are held to: deadlines of law and of policy, one's own, reviews, residents."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from portfolio.domain.heights import HeightClaim, Operator, Side, Threshold, side_of

SOON = timedelta(days=30)
"""How long before its day a thing is due soon (ours)."""


class DeadlineKind(StrEnum):
    """On what a deadline rests. Policy is not law, and stands apart."""

    STATUTORY = "statutory"
    POLICY = "policy"


@dataclass(frozen=True, slots=True)
class Deadline:
    """The last day on which buildings of some heights are to be remediated in a jurisdiction.

    Heights are those of the top storey's floor, in metres: at least `from_m`, less than `below_m`.
    `stated_on` is the day as of which the source says so.
    """

    key: str
    title: str
    kind: DeadlineKind
    jurisdiction: str
    on: date
    from_m: float
    below_m: float | None
    stated_on: date
    source: str
    status: str


class Applies(StrEnum):
    """Whether a deadline is a building's."""

    YES = "applies"
    COULD = "could apply"
    NO = "does not apply"


def applies(deadline: Deadline, jurisdiction: str, claims: Collection[HeightClaim]) -> Applies:
    """Whether a deadline is that of a building. What nobody knows could be so."""
    if jurisdiction and jurisdiction != deadline.jurisdiction:
        return Applies.NO
    reached = side_of(claims, Threshold(deadline.from_m, Operator.AT_LEAST))
    over = Side.BELOW
    if deadline.below_m is not None:
        over = side_of(claims, Threshold(deadline.below_m, Operator.AT_LEAST))
    if reached is Side.BELOW or over is Side.ABOVE:
        return Applies.NO
    is_known = jurisdiction and reached is Side.ABOVE and over is Side.BELOW
    return Applies.YES if is_known else Applies.COULD


class DueKind(StrEnum):
    """What is due."""

    OWN = "own-deadline"
    STATUTORY = "statutory-deadline"
    POLICY = "policy-deadline"
    REVIEW = "interim-review"
    RESIDENTS = "residents"

    @property
    def label(self) -> str:
        """The words on screen."""
        return _LABELS[self]


_LABELS = {
    DueKind.OWN: "own deadline",
    DueKind.STATUTORY: "statutory deadline",
    DueKind.POLICY: "policy date (not law)",
    DueKind.REVIEW: "review of an interim measure",
    DueKind.RESIDENTS: "information of residents",
}


class Lateness(StrEnum):
    """How a day stands to today."""

    OVERDUE = "overdue"
    SOON = "due-soon"
    LATER = "later"


def lateness(day: date, today: date) -> Lateness:
    """A thing is overdue from the day after its own, and due soon 30 days before."""
    if day < today:
        return Lateness.OVERDUE
    return Lateness.SOON if day <= today + SOON else Lateness.LATER


def next_deadlines(
    deadlines: Sequence[Deadline], jurisdiction: str, claims: Collection[HeightClaim]
) -> tuple[tuple[Deadline, Applies], ...]:
    """The deadlines that are, or could be, a building's, earliest first."""
    found = [(one, applies(one, jurisdiction, claims)) for one in deadlines]
    kept = [(one, answer) for one, answer in found if answer is not Applies.NO]
    return tuple(sorted(kept, key=lambda pair: (pair[0].on, pair[0].key)))

"""The criteria of one classification document, as data: nothing in here knows a number.

The numbers stand in `portfolio/reference/criteria.toml`, each with its source and how sure it is.
"""

from __future__ import annotations

from dataclasses import dataclass

from portfolio.domain.exceeding import Limit
from portfolio.domain.traces import Face, Side


@dataclass(frozen=True, slots=True)
class Basis:
    """Where a criterion comes from, and how sure that is."""

    source: str
    status: str


@dataclass(frozen=True, slots=True)
class StartRule:
    """When the clock of the criteria starts, and from which temperature rises count."""

    limit: Limit
    level: int
    side: Side
    faces: tuple[Face, ...]
    mean_over_s: float
    basis: Basis


@dataclass(frozen=True, slots=True)
class SpreadRule:
    """A rise that no channel of a level and side may exceed, starting within a window from ts."""

    key: str
    title: str
    limit: Limit
    level: int
    side: Side
    faces: tuple[Face, ...]
    window_s: float
    basis: Basis


@dataclass(frozen=True, slots=True)
class BurnThroughRule:
    """Flaming on the inner face that lasts too long, high enough, within a window from ts."""

    title: str
    longer_than_s: float
    least_height_m: float
    window_s: float
    basis: Basis


@dataclass(frozen=True, slots=True)
class SeenRule:
    """Something that must not have been seen at any time."""

    title: str
    basis: Basis


@dataclass(frozen=True, slots=True)
class RigLevel:
    """How high above the opening a level of thermocouples is, in m."""

    level: int
    above_opening_m: float
    basis: Basis


@dataclass(frozen=True, slots=True)
class CriteriaSet:
    """What one edition and annex of a classification document asks.

    `part` is the part of the test standard that the annex is for. `burn_through` is None where
    the wall stands on a solid substrate. `crib_s` is how long the fire burns before it is put
    out: a log that ends before that ended early, whatever anybody says; `basis` says whence.
    """

    document: str
    edition: str
    annex: str
    part: str
    start: StartRule
    spreads: tuple[SpreadRule, ...]
    burn_through: BurnThroughRule | None
    flames_above_rig: SeenRule
    early_end: SeenRule
    crib_s: float
    basis: Basis

    @property
    def name(self) -> str:
        """How it is called."""
        return f"{self.document}, {self.edition}, annex {self.annex}"

    @property
    def levels(self) -> frozenset[int]:
        """The levels that some criterion looks at."""
        return frozenset({self.start.level, *(rule.level for rule in self.spreads)})

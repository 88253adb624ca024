"""What bar charts are drawn from: rows of amounts, stacked by coverage or single."""

import math
from dataclasses import dataclass

from portfolio.drawings.marks import coverage_mark


def _check_amount(amount: float) -> None:
    if not (math.isfinite(amount) and amount >= 0):
        raise ValueError(f"A bar of {amount} cannot be drawn; give an amount of 0 or more.")


@dataclass(frozen=True, slots=True)
class BarSegment:
    """A part of a stacked bar: how much of the row has this coverage."""

    coverage: str
    amount: float
    href: str | None = None

    def __post_init__(self) -> None:
        coverage_mark(self.coverage)
        _check_amount(self.amount)


@dataclass(frozen=True, slots=True)
class BarRow:
    """One stacked bar; segments of amount 0 are not drawn."""

    label: str
    segments: tuple[BarSegment, ...]
    href: str | None = None

    @property
    def total(self) -> float:
        """The whole length of the bar, in the unit of the chart."""
        return sum(segment.amount for segment in self.segments)


@dataclass(frozen=True, slots=True)
class StackedBars:
    """A chart of stacked bars; `unit` is empty for counts, or such as "m²"."""

    title: str
    rows: tuple[BarRow, ...]
    unit: str = ""


@dataclass(frozen=True, slots=True)
class PlainBar:
    """One bar of a single amount."""

    label: str
    amount: float
    href: str | None = None

    def __post_init__(self) -> None:
        _check_amount(self.amount)


@dataclass(frozen=True, slots=True)
class PlainBars:
    """A chart of single amounts; `unit` is empty for counts, or such as "m²"."""

    title: str
    rows: tuple[PlainBar, ...]
    unit: str = ""

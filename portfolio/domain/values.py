"""Values as sets of what could be: known, partly known, unknown, or not applicable.

A category is the set of keys it could be, a measure the interval it could lie in, a product its
name. Unknown is a value of its own: it never equals anything, not even another unknown.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum


class Nothing(Enum):
    """The two values that carry no content."""

    UNKNOWN = "unknown"
    NOT_APPLICABLE = "not applicable"


UNKNOWN = Nothing.UNKNOWN
NOT_APPLICABLE = Nothing.NOT_APPLICABLE
OTHER = "other"
"""The key of what a vocabulary has no word for: two of it need not be alike."""


@dataclass(frozen=True, slots=True)
class OneOf:
    """The keys a category could have; one key when it is known."""

    keys: frozenset[str]

    def __post_init__(self) -> None:
        if not self.keys:
            raise ValueError("a category that could be nothing at all is a contradiction")

    @property
    def is_known(self) -> bool:
        return len(self.keys) == 1


@dataclass(frozen=True, slots=True)
class Range:
    """The interval a measure could lie in, both ends included, in the parameter's own unit."""

    low: float
    high: float

    def __post_init__(self) -> None:
        if math.isnan(self.low) or math.isnan(self.high) or self.low > self.high:
            raise ValueError(f"no measure lies between {self.low} and {self.high}")

    @property
    def is_known(self) -> bool:
        return self.low == self.high


@dataclass(frozen=True, slots=True)
class Named:
    """An identity that is either the same or not: a product, or an order of layers."""

    name: str

    @property
    def folded(self) -> str:
        """The name without the differences of writing: case and runs of spaces."""
        return " ".join(self.name.casefold().split())


Value = OneOf | Range | Named | Nothing


def known(key: str) -> OneOf:
    """A category known to be exactly `key`."""
    return OneOf(frozenset({key}))


def one_of(keys: Iterable[str]) -> OneOf:
    """A category known to be one of `keys`."""
    return OneOf(frozenset(keys))


def exactly(number: float) -> Range:
    """A measure known as one number."""
    return Range(float(number), float(number))


def union(first: Value, second: Value) -> Value:
    """What could be if either `first` or `second` is right: for two claims in conflict.

    >>> union(exactly(50), exactly(60))
    Range(low=50.0, high=60.0)
    >>> union(exactly(50), UNKNOWN)
    <Nothing.UNKNOWN: 'unknown'>
    """
    if isinstance(first, OneOf) and isinstance(second, OneOf):
        return OneOf(first.keys | second.keys)
    if isinstance(first, Range) and isinstance(second, Range):
        return Range(min(first.low, second.low), max(first.high, second.high))
    if isinstance(first, Named) and isinstance(second, Named) and first.folded == second.folded:
        return first
    return first if first is second else UNKNOWN


def agree(first: Value, second: Value, tolerance: float = 0.0) -> bool:
    """Whether two claims of one thing can both be true, measures within `tolerance`.

    A claim that says less (a set of keys) agrees with one that says more (a key of that set).
    """
    if UNKNOWN in (first, second):
        return True
    if isinstance(first, OneOf) and isinstance(second, OneOf):
        return bool(first.keys & second.keys)
    if isinstance(first, Range) and isinstance(second, Range):
        return first.low - tolerance <= second.high and second.low - tolerance <= first.high
    if isinstance(first, Named) and isinstance(second, Named):
        return first.folded == second.folded
    return first is second


def narrowed(first: Value, second: Value) -> Value:
    """The more exact of two claims that agree: what is left when both are true."""
    if first is UNKNOWN:
        return second
    if isinstance(first, OneOf) and isinstance(second, OneOf) and first.keys & second.keys:
        return OneOf(first.keys & second.keys)
    if isinstance(first, Range) and isinstance(second, Range):
        low, high = max(first.low, second.low), min(first.high, second.high)
        return Range(low, high) if low <= high else first
    return first

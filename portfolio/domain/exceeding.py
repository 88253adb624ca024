"""How long a temperature stayed over a limit: what readings prove, and what they leave open.

Between two readings nobody looked. So every exceedance has two durations: the *least*, from its
first to its last reading over the limit, and the *most*, between the readings beside it that are
not over. The crossings themselves are interpolated and lie in between. A gap with nothing over
the limit in it is the same thing with a least of nothing: as long as it is, it may hide a hold.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from portfolio.domain.traces import Floats, seconds_between

BRIDGED_SHARE = 0.5
"""Ours: two readings over the limit are taken for one exceedance when they are no further apart
than this share of the hold that is asked for."""


@dataclass(frozen=True, slots=True)
class Limit:
    """A rise in K to be exceeded (or, `inclusive`, reached) for `hold_s` seconds at least."""

    rise_k: float
    hold_s: float
    inclusive: bool = False

    def over(self, rises_k: Floats) -> NDArray[np.bool_]:
        """Which readings are over it, shape as given."""
        return rises_k >= self.rise_k if self.inclusive else rises_k > self.rise_k


@dataclass(frozen=True, slots=True)
class Exceedance:
    """One stretch of readings over a limit, times in s on the logger's clock.

    `after_s` is the reading before it that is not over (or where the record begins), `until_s`
    the one after it (infinite where the record ends), `starts_s` and `ends_s` the interpolated
    crossings.
    """

    after_s: float
    first_s: float
    last_s: float
    until_s: float
    starts_s: float
    ends_s: float

    @property
    def duration_s(self) -> float:
        """From crossing to crossing."""
        return seconds_between(self.starts_s, self.ends_s)

    @property
    def least_s(self) -> float:
        """What the readings prove."""
        return seconds_between(self.first_s, self.last_s)

    @property
    def most_s(self) -> float:
        """What the readings leave open; infinite where the record ends over the limit."""
        return seconds_between(self.after_s, self.until_s)


def exceedances(
    times_s: Floats, rises_k: Floats, limit: Limit, *, since_s: float
) -> tuple[Exceedance, ...]:
    """Every stretch over the limit, in order. Both arrays have shape (readings,), without NaN."""
    over = limit.over(rises_k)
    not_over = np.flatnonzero(~over)
    found = []
    for first, last in _pieces(times_s, over, limit):
        at = int(np.searchsorted(not_over, first))
        below = int(not_over[at - 1]) if at else None
        above = int(not_over[at]) if at < len(not_over) else None
        found.append(
            Exceedance(
                since_s if below is None else float(times_s[below]),
                float(times_s[first]),
                float(times_s[last]),
                math.inf if above is None else float(times_s[above]),
                _crossing(times_s, rises_k, limit, first, below),
                _crossing(times_s, rises_k, limit, last, above),
            )
        )
    return tuple(found)


def longest(found: tuple[Exceedance, ...]) -> Exceedance | None:
    """The longest from crossing to crossing, the first of equals."""
    return max(found, key=lambda one: one.duration_s, default=None)


def proven(found: tuple[Exceedance, ...], limit: Limit) -> Exceedance | None:
    """The first that lasted as long as is asked, whatever happened between the readings."""
    return next((one for one in found if one.least_s >= limit.hold_s), None)


def possible_from(
    times_s: Floats, rises_k: Floats, limit: Limit, *, since_s: float
) -> tuple[float, float]:
    """The first span from `since_s` on in which a long enough hold could lie, unproven or not.

    It goes from one reading that is not over to the next; the end is infinite where the record
    ends. There is always one, because nobody knows what came after the record.
    """
    not_over = times_s[~limit.over(rises_k)]
    ends = np.concatenate(([since_s], not_over, [math.inf]))
    # the same rounding as of single durations
    long_enough = np.flatnonzero(np.round(np.diff(ends), 6) >= limit.hold_s)
    at = int(long_enough[0])
    return float(ends[at]), float(ends[at + 1])


def _pieces(times_s: Floats, over: NDArray[np.bool_], limit: Limit) -> list[tuple[int, int]]:
    """First and last place of each run of readings over the limit that no gap parts."""
    places = np.flatnonzero(over)
    if not len(places):
        return []
    apart = np.round(np.diff(times_s[places]), 6) > limit.hold_s * BRIDGED_SHARE
    breaks = np.flatnonzero((np.diff(places) > 1) | apart)
    firsts = places[np.concatenate(([0], breaks + 1))]
    lasts = places[np.concatenate((breaks, [len(places) - 1]))]
    return [(int(a), int(b)) for a, b in zip(firsts, lasts, strict=True)]


def _crossing(
    times_s: Floats, rises_k: Floats, limit: Limit, over_at: int, beside: int | None
) -> float:
    """Where the straight line to the reading beside passes the limit.

    The reading over it where there is none beside, or only beyond a gap: nothing is drawn across.
    """
    here = float(times_s[over_at])
    if beside is None or abs(beside - over_at) > 1:
        return here
    there = float(times_s[beside])
    step = float(rises_k[beside] - rises_k[over_at])
    if step == 0 or abs(there - here) > limit.hold_s * BRIDGED_SHARE:
        return here
    return here + (limit.rise_k - float(rises_k[over_at])) / step * (there - here)

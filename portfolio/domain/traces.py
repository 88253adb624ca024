"""What a logger recorded at a large-scale test: a clock, and the temperatures of its channels.

Nothing is mended here. A reading that is not there is NaN, and a clock that does not go forward
is kept as it was written, so that whoever judges the log can say what it hides.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

HIGHEST_PLAUSIBLE_C, LOWEST_PLAUSIBLE_C = 1400.0, -60.0
"""What a façade thermocouple can read (ours; a broken one often reads the end of its range)."""
INTERRUPTED_S = 60.0
"""Ours: beyond such a break nobody knows that it is still one record of one test."""
_FEW_SAMPLES = 3
_DECIMALS = 6
"""Far finer than any logger, and coarse enough that 618.3 - 18.3 is 600."""
_SECONDS_A_MINUTE = 60


class Side(StrEnum):
    """Whether a thermocouple hangs before the face or sits inside the wall."""

    EXTERNAL = "external"
    INTERNAL = "internal"


class Face(StrEnum):
    """The two faces of the rig."""

    MAIN = "main"
    WING = "wing"


@dataclass(frozen=True, slots=True, eq=False)
class Channel:
    """One thermocouple: where it is, and its readings in °C, shape (samples,), NaN for none.

    `position_mm` counts along the face: from the centre line on the main face, from the main
    face on the wing. `layer` names the layer or cavity of an internal one.
    """

    name: str
    level: int
    side: Side
    face: Face | None
    readings_c: Floats
    position_mm: float | None = None
    layer: str = ""
    is_declared_broken: bool = False

    @property
    def place(self) -> str:
        """Where it is, in words."""
        parts = [f"level {self.level}", self.side.value]
        parts += [self.face.value] if self.face else []
        at = self.position_mm
        parts += [f"{at:+g} mm" if at else "0 mm"] if at is not None else []
        parts += [self.layer] if self.layer else []
        return ", ".join(parts)


@dataclass(frozen=True, slots=True, eq=False)
class Log:
    """A log: times in s on the logger's own clock, shape (samples,), and what was read then.

    `ignition_s` is on the same clock, None where nobody told it. Raises ValueError for times that
    are not finite, for channels of another length, and for two channels of one name.
    """

    times_s: Floats
    channels: tuple[Channel, ...]
    ignition_s: float | None = None

    def __post_init__(self) -> None:
        if self.times_s.ndim != 1 or not np.isfinite(self.times_s).all():
            raise ValueError("the times of a log are finite seconds, one a sample")
        names = [channel.name for channel in self.channels]
        if len(set(names)) != len(names):
            raise ValueError("two channels of a log have one name")
        for channel in self.channels:
            if channel.readings_c.shape != self.times_s.shape:
                raise ValueError(f"channel {channel.name} has not one reading a time")

    @property
    def clock_faults(self) -> tuple[int, ...]:
        """The samples, counted from 0, whose time is not after the time before."""
        return tuple(int(at) + 1 for at in np.flatnonzero(np.diff(self.times_s) <= 0))

    @property
    def samples_in_order(self) -> int:
        """How many samples stand before the first fault of the clock.

        Where the clock goes back to before a few samples, or to before a jump, those belong to
        the fault: which side of it is wrong cannot be told.
        """
        faults = self.clock_faults
        if not faults:
            return len(self.times_s)
        fault = faults[0]
        before = self.times_s[:fault]
        resumes = int(np.searchsorted(before, self.times_s[fault]))
        if fault - resumes <= _FEW_SAMPLES:
            return resumes
        steps = np.diff(before)
        has_jumped = resumes > 0 and float(steps[resumes - 1]) > 2 * float(np.median(steps))
        return resumes if has_jumped else fault

    @property
    def last_s(self) -> float | None:
        """The last time that can be trusted, or None for an empty log."""
        count = self.samples_in_order
        return float(self.times_s[count - 1]) if count else None

    @property
    def recorded_until_s(self) -> float | None:
        """Up to when something was read after ignition without a long break; None for nothing."""
        count = self.samples_in_order
        is_read = np.zeros(count, dtype=np.bool_)
        for channel in self.channels:
            is_read |= plausible(channel.readings_c[:count])
        times = self.times_s[:count][is_read]
        if not len(times):
            return None
        lit = float(times[0]) if self.ignition_s is None else self.ignition_s
        breaks = np.flatnonzero((np.diff(times) > INTERRUPTED_S) & (times[1:] > lit))
        return float(times[breaks[0]] if len(breaks) else times[-1])

    def at(self, *, level: int, side: Side) -> tuple[Channel, ...]:
        """The channels of one level and side."""
        return tuple(c for c in self.channels if (c.level, c.side) == (level, side))


def plausible(readings_c: Floats) -> NDArray[np.bool_]:
    """Which readings a thermocouple can have read; shape as given, false for NaN."""
    return (readings_c <= HIGHEST_PLAUSIBLE_C) & (readings_c >= LOWEST_PLAUSIBLE_C)


def read_by(log: Log, channel: Channel) -> tuple[Floats, Floats]:
    """Times in s and readings in °C that can be used: plausible, and before the clock fails."""
    count = log.samples_in_order
    times, readings = log.times_s[:count], channel.readings_c[:count]
    usable = plausible(readings)
    return times[usable], readings[usable]


def rises(readings_c: Floats, start_c: float) -> Floats:
    """Rises in K over a start temperature; rounded, so that what a logger wrote decides."""
    return np.round(readings_c - start_c, _DECIMALS)


def seconds_between(earlier_s: float, later_s: float) -> float:
    """A duration in s without the noise of binary fractions.

    >>> seconds_between(100.1, 130.1)
    30.0
    """
    between = later_s - earlier_s
    return round(between, _DECIMALS) if math.isfinite(between) else between


def minutes_text(seconds: float) -> str:
    """A time as min:s, tenths only where there are some.

    >>> minutes_text(899), minutes_text(60.25), minutes_text(-5)
    ('14:59', '1:00.3', '-0:05')
    """
    tenths = math.floor(abs(seconds) * 10 + 0.5)
    minutes, rest = divmod(tenths, _SECONDS_A_MINUTE * 10)
    whole, tenth = divmod(rest, 10)
    sign = "-" if seconds < 0 and tenths else ""
    return f"{sign}{minutes}:{whole:02d}" + (f".{tenth}" if tenth else "")

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
        """How many samples stand before the first fault of the clock."""
        faults = self.clock_faults
        return faults[0] if faults else len(self.times_s)

    @property
    def last_s(self) -> float | None:
        """The last time that can be trusted, or None for an empty log."""
        count = self.samples_in_order
        return float(self.times_s[count - 1]) if count else None

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

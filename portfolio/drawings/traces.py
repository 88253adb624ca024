"""What a temperature chart and a rig are drawn from; everything is already worked out."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class DrawnTrace:
    """One channel: times in s and readings in °C, as many of each, None where there is none."""

    label: str
    times_s: tuple[float, ...]
    readings_c: tuple[float | None, ...]

    def __post_init__(self) -> None:
        if len(self.times_s) != len(self.readings_c):
            raise ValueError("A trace has as many readings as times; give None for a gap.")


@dataclass(frozen=True, slots=True)
class DrawnLimit:
    """A limit in °C, from one time in s to another (None: to the end of the chart)."""

    words: str
    celsius: float
    from_s: float
    until_s: float | None = None


@dataclass(frozen=True, slots=True)
class DrawnMoment:
    """A moment to be marked, such as ts."""

    words: str
    at_s: float


@dataclass(frozen=True, slots=True)
class TraceChart:
    """A temperature-time chart; times count from what `clock` says.

    Readings further apart than `gap_s` are not joined by a line.
    """

    title: str
    traces: tuple[DrawnTrace, ...]
    limits: tuple[DrawnLimit, ...] = ()
    moments: tuple[DrawnMoment, ...] = ()
    clock: str = "min from ignition"
    gap_s: float = 15.0


@dataclass(frozen=True, slots=True)
class DrawnChannel:
    """One channel on the rig at a moment; `rise_k` is None where it read nothing.

    `is_over` says that it is over the limit that looks at it.
    """

    label: str
    level: int
    row: str
    face: str
    position_mm: float | None
    rise_k: float | None
    is_over: bool = False


@dataclass(frozen=True, slots=True)
class RigDrawing:
    """The rig at a moment: its levels in words, by number, and its channels."""

    title: str
    levels: tuple[tuple[int, str], ...]
    channels: tuple[DrawnChannel, ...]

"""Invented logs: every reading follows from a known function, so that answers are known exactly.

None of this was ever measured.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from portfolio.domain.classified import Classified, CriterionFinding
from portfolio.domain.classifying import classify
from portfolio.domain.evidence import Answer3
from portfolio.domain.gates import Gate
from portfolio.domain.limits import CriteriaSet
from portfolio.domain.observations import Observation, Sight
from portfolio.domain.traces import Channel, Face, Floats, Log, Side
from portfolio.reference.loader import load_reference

Course = Callable[[Floats], Floats]
"""A rise over ambient in K at each time in s after ignition."""

PAIRS_UP = Gate("pairing", Answer3.MET, "invented: they pair up", "a test")
NOTHING_SEEN = tuple(
    Observation(sight, was_seen=False)
    for sight in (Sight.FLAMES_ABOVE_RIG, Sight.EARLY_END, Sight.BURN_THROUGH)
)


def annex(letter: str) -> CriteriaSet:
    """The shipped criteria of one annex."""
    return next(one for one in load_reference().criteria if one.annex == letter)


def stretch(rise: float, first: float, last: float, below: float = 0.0) -> Course:
    """`rise` from `first` to `last`, both included, and about `below` before and after, as what
    is alive reads."""
    return lambda t: np.where((t >= first) & (t <= last), rise, below + drifting(t))


def ramp(per_second: float, since: float = 0.0) -> Course:
    """A rise that grows evenly from `since` on."""
    return lambda t: np.maximum(t - since, 0.0) * per_second


def drifting(t: Floats) -> Floats:
    """A thermocouple that is alive and never warm: up to 3.6 K in an hour."""
    return np.maximum(t, 0.0) / 1000.0


def early_fire(t: Floats) -> Floats:
    """Level 1 warms through 200 K exactly 100 s after ignition, and stays hot."""
    return np.minimum(np.maximum(t, 0.0) * 2.0, 300.0)


PLACES = {
    "L1 main": (1, Side.EXTERNAL, Face.MAIN, 0.0),
    "L1 wing": (1, Side.EXTERNAL, Face.WING, 150.0),
    "L2 main": (2, Side.EXTERNAL, Face.MAIN, 0.0),
    "L2 wing": (2, Side.EXTERNAL, Face.WING, 150.0),
    "L2 cavity": (2, Side.INTERNAL, Face.MAIN, 0.0),
    "L3 main": (3, Side.EXTERNAL, Face.MAIN, 0.0),
}
QUIET: Mapping[str, Course] = {
    "L1 main": early_fire,
    "L1 wing": drifting,
    "L2 main": drifting,
    "L2 wing": drifting,
    "L2 cavity": drifting,
    "L3 main": drifting,
}
"""A log on which everything is met: ts at 100 s, nothing warm at level 2."""


def make_log(
    courses: Mapping[str, Course] | None = None,
    *,
    step: float = 1.0,
    ambient: float = 18.0,
    until: float = 3600.0,
    ignition: float = 300.0,
) -> Log:
    """A log from 5 min before ignition to `until` s after it; `courses` replace quiet ones."""
    after = np.round(np.arange(-300.0, until + step / 2, step), 6)
    channels = tuple(
        Channel(
            name,
            *PLACES[name][:3],
            np.round(ambient + np.where(after > 0, course(after), 0.0), 6),
            position_mm=PLACES[name][3],
            layer="cavity" if name == "L2 cavity" else "",
        )
        for name, course in {**QUIET, **(courses or {})}.items()
    )
    return Log(after + ignition, channels, ignition)


def with_readings(log: Log, name: str, change: Callable[[Floats, Floats], Floats]) -> Log:
    """The log with the readings of one channel changed, as a function of times and readings."""
    return replace(
        log,
        channels=tuple(
            replace(c, readings_c=change(log.times_s, c.readings_c)) if c.name == name else c
            for c in log.channels
        ),
    )


def classified(
    log: Log,
    seen: Sequence[Observation] = NOTHING_SEEN,
    *,
    letter: str = "B",
    pairing: Gate = PAIRS_UP,
) -> Classified:
    """The log by the shipped criteria; nothing seen unless given otherwise."""
    return classify(log, annex(letter), seen, pairing=pairing)


def finding(found: Classified, key: str = "external-spread") -> CriterionFinding:
    """The finding of one criterion."""
    return next(one for one in found.findings if one.key == key)


def answer(log: Log, key: str = "external-spread") -> Answer3:
    """The answer of one criterion."""
    return finding(classified(log), key).answer

"""What classifying a log comes to: findings by channel and by criterion, and the conclusion."""

from __future__ import annotations

import math
from dataclasses import dataclass

from portfolio.domain.evidence import Answer3, Criteria
from portfolio.domain.exceeding import Exceedance
from portfolio.domain.limits import Basis, CriteriaSet
from portfolio.domain.observations import Observation
from portfolio.domain.traces import Channel, seconds_between

ANSWER_WORDS = {
    Answer3.MET: "met",
    Answer3.NOT_MET: "not met",
    Answer3.UNKNOWN: "cannot be told",
}


@dataclass(frozen=True, slots=True)
class StartTemperature:
    """Ts in °C. Where not every channel was recorded as the rule asks, `doubts` says so.

    `mean_c` is None where there is no reading to take a mean of; `highest_c` is the hottest
    reading that went into it, from which even a doubtful rise is surely exceeded.
    """

    mean_c: float | None
    highest_c: float | None
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class StartTime:
    """ts in s on the logger's clock: where it was read, and between which times it must lie.

    `read_s` is the interpolated crossing of the first channel that proves it, None where none
    does; then `latest_s` is infinite.
    """

    read_s: float | None
    earliest_s: float
    latest_s: float
    channel: str
    reason: str

    @property
    def is_told(self) -> bool:
        """Whether some channel proves it."""
        return math.isfinite(self.latest_s)


@dataclass(frozen=True, slots=True)
class ChannelFinding:
    """What one channel read after ignition; times in s on the logger's clock.

    `limit_k` is the rise of the rule that looks at it, None where none does: then it is recorded
    and shown. `faults` says what is wrong with it.
    """

    channel: Channel
    highest_c: float | None
    highest_rise_k: float | None
    highest_at_s: float | None
    limit_k: float | None
    longest: Exceedance | None
    faults: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CriterionFinding:
    """One criterion's answer. `at_s` is on the logger's clock, None where nothing happened."""

    key: str
    title: str
    answer: Answer3
    threshold: str
    measured: str
    reason: str
    basis: Basis
    channel: str = ""
    at_s: float | None = None


@dataclass(frozen=True, slots=True)
class Classified:
    """Everything that the log and the observations come to."""

    criteria_set: CriteriaSet
    ignition_s: float | None
    start_temperature: StartTemperature
    start_time: StartTime
    channels: tuple[ChannelFinding, ...]
    findings: tuple[CriterionFinding, ...]
    observations: tuple[Observation, ...]
    remarks: tuple[str, ...]

    @property
    def answer(self) -> Answer3:
        """The conclusion: the worst of the findings."""
        answers = {finding.answer for finding in self.findings}
        if Answer3.NOT_MET in answers:
            return Answer3.NOT_MET
        return Answer3.UNKNOWN if Answer3.UNKNOWN in answers else Answer3.MET

    @property
    def keeps_from_telling(self) -> tuple[str, ...]:
        """What would have to be known before a conclusion could be drawn."""
        return tuple(
            f"{finding.title}: {finding.reason}"
            for finding in self.findings
            if finding.answer is Answer3.UNKNOWN
        )

    @property
    def criteria(self) -> Criteria:
        """The answers as a test record holds them."""
        found = {finding.key: finding.answer for finding in self.findings}
        return Criteria(
            found["external-spread"],
            found["internal-spread"],
            found.get("burn-through"),
            found["flames-above-rig"],
            found["early-end"],
        )

    def from_ignition(self, at_s: float | None) -> float | None:
        """A time of the logger's clock, counted from ignition."""
        return _since(self.ignition_s, at_s)

    def from_start(self, at_s: float | None) -> float | None:
        """A time of the logger's clock, counted from ts as it was read."""
        return _since(self.start_time.read_s, at_s)


def _since(zero_s: float | None, at_s: float | None) -> float | None:
    return None if zero_s is None or at_s is None else seconds_between(zero_s, at_s)

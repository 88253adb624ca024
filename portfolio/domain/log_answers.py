"""What a classified log answers of a test's record: its criteria, and how long the test ran."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from portfolio.domain.classified import Classified
from portfolio.domain.evidence import LONGEST_RUN_S, Answer3
from portfolio.domain.observations import Observation, Sight, of
from portfolio.domain.seen import outside_record
from portfolio.domain.traces import Log, minutes_text, seconds_between


@dataclass(frozen=True, slots=True)
class LogAnswer:
    """One field of a record as the log answers it. `value` is an answer, or whole seconds from
    ignition; None where it cannot be told, or is not asked. `reason` says why."""

    field: str
    title: str
    value: Answer3 | int | None
    reason: str


_CRITERIA = (
    ("external_spread", "External spread", "external-spread"),
    ("internal_spread", "Internal spread", "internal-spread"),
    ("burn_through", "Burn-through", "burn-through"),
    ("no_flames_above_rig", "No flames above the rig", "flames-above-rig"),
    ("no_early_end", "Not ended early", "early-end"),
)


def answers_of(found: Classified, log: Log) -> tuple[LogAnswer, ...]:
    """The answers, field by field; `found` is what `log` was classified as."""
    findings = {finding.key: finding for finding in found.findings}
    answers = []
    for field, title, key in _CRITERIA:
        finding = findings.get(key)
        if finding is None:
            reason = f"{found.criteria_set.name} does not ask for it"
            answers.append(LogAnswer(field, title, None, reason))
            continue
        told = None if finding.answer is Answer3.UNKNOWN else finding.answer
        answers.append(LogAnswer(field, title, told, finding.reason))
    seconds, reason = _run_time(found, log)
    answers.append(LogAnswer("run_seconds", "Run time (s)", seconds, reason))
    return tuple(answers)


def _run_time(found: Classified, log: Log) -> tuple[int | None, str]:
    """How long the test ran: until it was ended early, or as long as its log goes on."""
    ended = [one for one in of(found.observations, Sight.EARLY_END) if one.was_seen]
    if ended:
        seconds, reason = _ended(ended, log)
    else:
        seconds, reason = _recorded(found, log)
    times = [
        at
        for one in found.observations
        if one.was_seen and one.sight is not Sight.EARLY_END
        for at in (one.from_s, one.until_s)
        if at is not None
    ]
    if seconds is not None and (last := max(times, default=0.0)) > seconds:
        return None, f"something was seen {minutes_text(last)} after ignition, which is after that"
    if seconds is not None and not 0 <= seconds <= LONGEST_RUN_S:
        return None, f"{seconds} s is longer than a test runs (ours: {LONGEST_RUN_S} s at most)"
    return seconds, reason


def _ended(ended: Sequence[Observation], log: Log) -> tuple[int | None, str]:
    first = min(
        (one for one in ended if one.from_s is not None),
        key=lambda one: one.from_s or 0.0,
        default=None,
    )
    if first is None or first.from_s is None:
        return None, "when it was ended is not told"
    wrong = outside_record(first, log)
    return (None, wrong) if wrong else (int(first.from_s), "it was ended early then")


def _recorded(found: Classified, log: Log) -> tuple[int | None, str]:
    """The end of a log is the end of its test only where the test is known not to have ended
    before."""
    if log.ignition_s is None or log.last_s is None or log.recorded_until_s is None:
        return None, "the time of ignition is missing"
    answers = {finding.key: finding.answer for finding in found.findings}
    if answers["early-end"] is not Answer3.MET:
        reason = "whether it was ended early cannot be told, so its log may go on after its end"
        return None, reason
    ran = seconds_between(log.ignition_s, log.recorded_until_s)
    if log.clock_faults or log.last_s > log.recorded_until_s:
        return None, f"the log breaks off {minutes_text(ran)} after ignition, and goes on"
    return int(ran), "the log goes on so long after ignition"

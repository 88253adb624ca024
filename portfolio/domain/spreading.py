"""Whether fire spread: a rise that lasted too long on any channel of a level and side."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from portfolio.domain.channel_record import Record
from portfolio.domain.classified import CriterionFinding, StartTemperature, StartTime
from portfolio.domain.evidence import Answer3
from portfolio.domain.exceeding import Exceedance, exceedances, longest, proven
from portfolio.domain.limits import SpreadRule
from portfolio.domain.starting import faces_missing, may_exceed_from
from portfolio.domain.traces import minutes_text

_NAMED = 4
_SECONDS_A_MINUTE = 60


@dataclass(frozen=True, slots=True)
class _Seen:
    """What one channel proves (None for nothing), and what keeps it from being cleared."""

    record: Record
    proven: Exceedance | None
    open: str


def spread_finding(
    records: Sequence[Record],
    rule: SpreadRule,
    start: StartTemperature,
    begun: StartTime,
    ignition_s: float | None,
) -> CriterionFinding:
    """The answer of one rule, from the channels of its level and side.

    An exceedance that starts before ts counts as well (ours): it is surely within the window.
    """
    if ignition_s is None or start.mean_c is None:
        return _finding(rule, Answer3.UNKNOWN, "not judged", "; ".join(start.doubts))
    seen = [_seen(record, rule, begun, ignition_s) for record in records]
    measured = _measured(records, rule, ignition_s)
    failed = [(one.proven, one.record.channel.name) for one in seen if one.proven is not None]
    if failed:
        exceeded, channel = min(failed, key=lambda pair: (pair[0].first_s, pair[1]))
        reason = _failed_words(exceeded, ignition_s)
        return _finding(
            rule, Answer3.NOT_MET, measured, reason, channel=channel, at_s=exceeded.starts_s
        )
    opens = _opens(seen, rule, start, begun)
    channel, at = _hottest(records)
    if opens:
        return _finding(rule, Answer3.UNKNOWN, measured, "; ".join(opens), channel=channel, at_s=at)
    reason = "no channel exceeded it long enough, and the record leaves no room for it"
    return _finding(rule, Answer3.MET, measured, reason, channel=channel, at_s=at)


def _seen(record: Record, rule: SpreadRule, begun: StartTime, ignition_s: float) -> _Seen:
    found = exceedances(record.times_s, record.sure_rises_k, rule.limit, since_s=ignition_s)
    sure = proven(found, rule.limit)
    if sure is not None and sure.first_s <= begun.earliest_s + rule.window_s:
        return _Seen(record, sure, "")
    since, why = may_exceed_from(record, rule.limit, ignition_s)
    if since >= begun.latest_s + rule.window_s:
        return _Seen(record, None, "")
    # one that surely started after the window keeps nothing open
    if sure is not None and sure.after_s < begun.latest_s + rule.window_s:
        told = (
            f"an exceedance from {minutes_text(sure.first_s - ignition_s)} after ignition: "
            "whether it started within the window cannot be told"
        )
        why = told if since >= sure.after_s else f"{why}; {told}"
    return _Seen(record, None, f"{record.channel.name}: {why}")


def _opens(
    seen: Sequence[_Seen], rule: SpreadRule, start: StartTemperature, begun: StartTime
) -> list[str]:
    """Everything that keeps the rule from being met, the first channels by name."""
    opens = list(start.doubts)
    if not begun.is_told:
        opens.append("ts was not reached on any channel for long enough, so that no window runs")
    if not seen:
        opens.append(f"no {rule.side.value} channel of level {rule.level}")
    elif rule.faces:
        opens += faces_missing([one.record.channel for one in seen], rule.faces)
    named = sorted(one.open for one in seen if one.open)
    opens += named[:_NAMED]
    if len(named) > _NAMED:
        opens.append(f"and {len(named) - _NAMED} more channels")
    return opens


def _hottest(records: Sequence[Record]) -> tuple[str, float | None]:
    best: tuple[float, str, float] | None = None
    for record in sorted(records, key=lambda one: one.channel.name):
        if len(record.times_s):
            at = int(np.argmax(record.readings_c))
            if best is None or record.readings_c[at] > best[0]:
                best = float(record.readings_c[at]), record.channel.name, float(record.times_s[at])
    return ("", None) if best is None else best[1:]


def _measured(records: Sequence[Record], rule: SpreadRule, ignition_s: float) -> str:
    channel, at = _hottest(records)
    if at is None:
        return "no reading"
    record = next(one for one in records if one.channel.name == channel)
    rise = float(record.rises_k[int(np.argmax(record.readings_c))])
    words = (
        f"highest rise {rise:.1f} K on {channel}, {minutes_text(at - ignition_s)} after ignition"
    )
    longest_by_channel = [
        (found, one.channel.name)
        for one in sorted(records, key=lambda one: one.channel.name)
        if (found := longest(exceedances(one.times_s, one.rises_k, rule.limit, since_s=ignition_s)))
    ]
    if not longest_by_channel:
        return f"{words}; never over {rule.limit.rise_k:g} K"
    found, name = max(longest_by_channel, key=lambda pair: pair[0].duration_s)
    return f"{words}; longest over {rule.limit.rise_k:g} K: {duration_words(found)} on {name}"


def duration_words(found: Exceedance) -> str:
    """How long an exceedance lasted, and between which durations it must lie."""
    if math.isinf(found.most_s):
        return f"{found.least_s:g} s or more, to the end of the record"
    return f"{found.duration_s:.1f} s (between {found.least_s:g} and {found.most_s:g} s)"


def _failed_words(found: Exceedance, ignition_s: float) -> str:
    start = minutes_text(found.starts_s - ignition_s)
    return f"exceeded from {start} after ignition for {duration_words(found)}"


def threshold_words(rule: SpreadRule) -> str:
    """The rule's threshold as a sentence."""
    return (
        f"no rise of more than {rule.limit.rise_k:g} K over Ts for {rule.limit.hold_s:g} s or "
        f"longer on any {rule.side.value} channel of level {rule.level}, starting within "
        f"{rule.window_s / _SECONDS_A_MINUTE:g} min of ts"
    )


def _finding(
    rule: SpreadRule,
    answer: Answer3,
    measured: str,
    reason: str,
    *,
    channel: str = "",
    at_s: float | None = None,
) -> CriterionFinding:
    return CriterionFinding(
        rule.key,
        rule.title,
        answer,
        threshold_words(rule),
        measured,
        reason,
        rule.basis,
        channel,
        at_s,
    )

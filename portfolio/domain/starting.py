"""Ts and ts: from which temperature rises count, and from when the criteria's clock runs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import median_low

import numpy as np

from portfolio.domain.channel_record import FAR_K, Record, gap_for, is_flat
from portfolio.domain.classified import StartTemperature, StartTime
from portfolio.domain.exceeding import Exceedance, Limit, exceedances, possible_from, proven
from portfolio.domain.limits import StartRule
from portfolio.domain.traces import Channel, Face, Floats, Log, minutes_text, read_by


@dataclass(frozen=True, slots=True)
class _Before:
    """What one channel read before ignition; `mean_c` is None where there is nothing to go by.

    `doubt` says what is wrong; a channel that `is_wrong` is left out of Ts where there are others.
    """

    name: str
    mean_c: float | None
    highest_c: float
    doubt: str
    is_wrong: bool = False


def start_temperature(log: Log, rule: StartRule) -> StartTemperature:
    """Ts in °C: the mean of the channels' means over time before ignition.

    Each channel's mean is taken between its readings along straight lines, so that it does not
    hang on how often was sampled.
    """
    ignition = log.ignition_s
    if ignition is None:
        return StartTemperature(None, None, ("the time of ignition is not given",))
    channels = log.at(level=rule.level, side=rule.side)
    if not channels:
        return StartTemperature(None, None, (f"no {rule.side} channel of level {rule.level}",))
    found = _far_from_others([_before(log, channel, rule, ignition) for channel in channels])
    doubts = tuple(f"{one.name} {one.doubt}" for one in found if one.doubt)
    read = [one for one in found if one.mean_c is not None]
    used = [one for one in read if not one.is_wrong] or read
    if not used:
        return StartTemperature(None, None, doubts)
    mean = math.fsum(one.mean_c or 0.0 for one in used) / len(used)
    highest = max(one.highest_c for one in used) if doubts else mean
    return StartTemperature(mean, highest, doubts)


def _before(log: Log, channel: Channel, rule: StartRule, ignition_s: float) -> _Before:
    times, readings = read_by(log, channel)
    after = times >= ignition_s
    never_moved = is_flat(times[after], readings[after])
    since = ignition_s - rule.mean_over_s
    within = (times >= since) & (times <= ignition_s)
    times, readings = times[within], readings[within]
    if not len(times):
        doubt = f"was not read in the {rule.mean_over_s:g} s before ignition"
        return _Before(channel.name, None, math.nan, doubt)
    doubt = ""
    if channel.is_declared_broken:
        doubt = "is declared broken"
    elif never_moved:
        doubt = "never moved after ignition"
    elif not _is_whole(times, since, ignition_s, gap_for(rule.limit.hold_s)):
        doubt = f"has gaps in the {rule.mean_over_s:g} s before ignition"
    is_wrong = channel.is_declared_broken or never_moved
    highest = float(readings.max())
    return _Before(channel.name, _mean_over(times, readings), highest, doubt, is_wrong)


def _far_from_others(found: Sequence[_Before]) -> list[_Before]:
    """Before the fire all of them hang in the same air: one that reads otherwise is wrong."""
    means = [one.mean_c for one in found if one.mean_c is not None and not one.is_wrong]
    if not means:
        return list(found)
    # of two that disagree the colder one, which makes rises larger
    middle = median_low(means)
    doubt = f"reads more than {FAR_K:g} K from the others before ignition"
    return [
        replace(one, doubt=one.doubt or doubt, is_wrong=True)
        if one.mean_c is not None and abs(one.mean_c - middle) > FAR_K
        else one
        for one in found
    ]


def _mean_over(times: Floats, readings: Floats) -> float:
    if len(times) == 1:
        return float(readings[0])
    return float(np.trapezoid(readings, times) / (times[-1] - times[0]))


def _is_whole(times: Floats, since: float, until: float, gap: float) -> bool:
    edges = np.concatenate(([since], times, [until]))
    return bool((np.round(np.diff(edges), 6) <= gap).all())


def start_time(
    records: Sequence[Record], rule: StartRule, start: StartTemperature, ignition_s: float
) -> StartTime:
    """ts on the logger's clock, by the channels of the rule's level and side.

    The earliest that it can be counts gaps, broken channels and holds that sampling leaves open;
    the latest is the first that some channel proves.
    """
    limit = rule.limit
    # in the order of names, so that it does not hang on the order of the columns
    ordered = sorted(records, key=lambda record: record.channel.name)
    sure = [(one, record.channel.name) for record in ordered if (one := _sure(record, limit))]
    first = min(sure, key=lambda pair: (pair[0].first_s, pair[0].starts_s), default=None)
    latest, read, name = math.inf, None, ""
    if first is not None:
        latest, read, name = first[0].first_s, first[0].starts_s, first[1]
    possible = [(*may_exceed_from(one, limit, ignition_s), one.channel.name) for one in ordered]
    earliest, why, doubtful = min(
        possible, key=lambda found: found[0], default=(ignition_s, "", "")
    )
    opens = [f"{doubtful}: {why}"]
    doubt = [*start.doubts, *faces_missing([record.channel for record in records], rule.faces)]
    if doubt:
        earliest, opens = ignition_s, doubt
    is_narrow = latest - earliest <= gap_for(limit.hold_s)
    reason = "" if is_narrow else "; ".join(opens)
    return StartTime(read, min(earliest, latest), latest, name, reason)


def _sure(record: Record, limit: Limit) -> Exceedance | None:
    """The first exceedance that the channel proves, whatever Ts exactly is."""
    since = float(record.times_s[0]) if len(record.times_s) else 0.0
    return proven(exceedances(record.times_s, record.sure_rises_k, limit, since_s=since), limit)


def faces_missing(channels: Sequence[Channel], faces: Sequence[Face]) -> list[str]:
    """The faces that a rule looks at and no channel is on."""
    there = {channel.face for channel in channels}
    return [f"no channel on the {face.value} face" for face in faces if face not in there]


def may_exceed_from(record: Record, limit: Limit, ignition_s: float) -> tuple[float, str]:
    """From when on a long enough exceedance cannot be ruled out on this channel, and why."""
    if record.trusted_until_s <= ignition_s:
        return ignition_s, "; ".join(record.faults)
    since, until = possible_from(record.times_s, record.rises_k, limit, since_s=ignition_s)
    if record.trusted_until_s < since:
        return record.trusted_until_s, record.distrust
    inside = (record.times_s > since) & (record.times_s < until)
    start = minutes_text(since - ignition_s)
    if not math.isfinite(until):
        return since, f"the record ends {start} after ignition" if not inside.any() else (
            f"the record ends over the limit, which it passed {start} after ignition"
        )
    end = minutes_text(until - ignition_s)
    if not inside.any():
        return since, f"a gap from {start} to {end} after ignition"
    least = float(record.times_s[inside][-1] - record.times_s[inside][0])
    return since, (
        f"an exceedance of {least:g}–{until - since:g} s from {start} after ignition: "
        f"whether it lasted {limit.hold_s:g} s cannot be told"
    )

"""Ts and ts: from which temperature rises count, and from when the criteria's clock runs."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from portfolio.domain.channel_record import Record, gap_for
from portfolio.domain.classified import StartTemperature, StartTime
from portfolio.domain.exceeding import Limit, exceedances, possible_from, proven
from portfolio.domain.limits import StartRule
from portfolio.domain.traces import Channel, Face, Floats, Log, minutes_text, read_by


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
    gap = gap_for(rule.limit.hold_s)
    means: list[float] = []
    hottest: list[float] = []
    doubts: list[str] = []
    for channel in channels:
        times, readings = read_by(log, channel)
        within = (times >= ignition - rule.mean_over_s) & (times <= ignition)
        times, readings = times[within], readings[within]
        if len(times):
            means.append(_mean_over(times, readings))
            hottest.append(float(readings.max()))
        if not _is_whole(times, ignition - rule.mean_over_s, ignition, gap):
            doubts.append(f"{channel.name} has gaps in the {rule.mean_over_s:g} s before ignition")
        elif channel.is_declared_broken:
            doubts.append(f"{channel.name} is declared broken")
    if not means:
        return StartTemperature(None, None, tuple(doubts))
    mean = math.fsum(means) / len(means)
    return StartTemperature(mean, max(hottest) if doubts else mean, tuple(doubts))


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
    earliest, latest, read, name = math.inf, math.inf, None, ""
    opens: list[str] = []
    for record in records:
        possible, why = may_exceed_from(record, limit, ignition_s)
        sure = proven(
            exceedances(record.times_s, record.sure_rises_k, limit, since_s=ignition_s), limit
        )
        if sure is not None and sure.first_s < latest:
            latest, read, name = sure.first_s, sure.starts_s, record.channel.name
        if possible < earliest:
            earliest, opens = possible, [f"{record.channel.name}: {why}"]
    doubt = [*start.doubts, *faces_missing([record.channel for record in records], rule.faces)]
    if doubt:
        earliest, opens = ignition_s, doubt
    if read is not None and not opens_wide(earliest, latest, gap_for(limit.hold_s)):
        return StartTime(read, earliest, latest, name, "")
    return StartTime(read, min(earliest, latest), latest, name, "; ".join(opens))


def opens_wide(earliest: float, latest: float, gap: float) -> bool:
    """Whether more than the sampling itself lies between the two."""
    return latest - earliest > gap


def faces_missing(channels: Sequence[Channel], faces: Sequence[Face]) -> list[str]:
    """The faces that a rule looks at and no channel is on."""
    there = {channel.face for channel in channels}
    return [f"no channel on the {face.value} face" for face in faces if face not in there]


def may_exceed_from(record: Record, limit: Limit, ignition_s: float) -> tuple[float, str]:
    """From when on a long enough exceedance cannot be ruled out on this channel, and why."""
    if record.hides_everything:
        return ignition_s, "; ".join(record.faults)
    since, until = possible_from(record.times_s, record.rises_k, limit, since_s=ignition_s)
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

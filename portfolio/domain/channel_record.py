"""One channel after ignition: what can be used of it, and what is wrong with it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from portfolio.domain.classified import ChannelFinding, StartTemperature
from portfolio.domain.exceeding import BRIDGED_SHARE, Limit, exceedances, longest
from portfolio.domain.traces import (
    Channel,
    Floats,
    Log,
    minutes_text,
    plausible,
    read_by,
    rises,
)

_FLAT_FOR_S = 300.0
"""Ours: a thermocouple that reads the same number for five minutes of fire and to the end."""


@dataclass(frozen=True, slots=True, eq=False)
class Record:
    """The usable readings of one channel from ignition on, both of shape (readings,).

    `rises_k` are over Ts; `sure_rises_k` over the hottest that Ts can be, so that what exceeds a
    limit there has exceeded it. `hides_everything`: it was declared broken or never moved, so
    what it reads counts against the wall and never for it.
    """

    channel: Channel
    times_s: Floats
    readings_c: Floats
    rises_k: Floats
    sure_rises_k: Floats
    faults: tuple[str, ...]
    hides_everything: bool


def record_of(
    log: Log, channel: Channel, ignition_s: float, start: StartTemperature, gap_s: float
) -> Record:
    """What `channel` says from ignition on; readings more than `gap_s` apart leave a gap."""
    times, readings = read_by(log, channel)
    after = times >= ignition_s
    times, readings = times[after], readings[after]
    mean = np.nan if start.mean_c is None else start.mean_c
    highest = np.nan if start.highest_c is None else start.highest_c
    never_moved = is_flat(times, readings)
    return Record(
        channel,
        times,
        readings,
        rises(readings, mean),
        rises(readings, highest),
        _faults(log, channel, ignition_s, gap_s, never_moved=never_moved),
        channel.is_declared_broken or never_moved,
    )


def finding_of(record: Record, limit: Limit | None, ignition_s: float) -> ChannelFinding:
    """The highest rise and the longest exceedance of one channel."""
    found = None
    if limit is not None:
        found = longest(exceedances(record.times_s, record.rises_k, limit, since_s=ignition_s))
    if not len(record.times_s):
        return ChannelFinding(
            record.channel,
            None,
            None,
            None,
            limit.rise_k if limit else None,
            None,
            record.faults,
        )
    at = int(np.argmax(record.readings_c))
    rise = float(record.rises_k[at])
    return ChannelFinding(
        record.channel,
        float(record.readings_c[at]),
        None if np.isnan(rise) else rise,
        float(record.times_s[at]),
        limit.rise_k if limit else None,
        found,
        record.faults,
    )


def gap_for(hold_s: float) -> float:
    """How far apart readings may be before what lies between counts as a gap, in s."""
    return hold_s * BRIDGED_SHARE


def is_flat(times: Floats, readings: Floats) -> bool:
    """Whether readings from ignition on never moved, for long enough to take them for broken."""
    return (
        len(times) > 1
        and float(times[-1] - times[0]) >= _FLAT_FOR_S
        and bool((readings == readings[0]).all())
    )


def _faults(
    log: Log, channel: Channel, ignition_s: float, gap_s: float, *, never_moved: bool
) -> tuple[str, ...]:
    count = log.samples_in_order
    readings = channel.readings_c[:count]
    found = []
    if channel.is_declared_broken:
        found.append("declared broken: it counts against the wall and never for it")
    if never_moved:
        found.append(f"never moved from {readings[plausible(readings)][-1]:g} °C: taken for broken")
    missing = int(np.isnan(readings).sum())
    if missing:
        found.append(f"{missing} of {count} readings are missing")
    odd = int((~np.isnan(readings) & ~plausible(readings)).sum())
    if odd:
        found.append(f"{odd} readings that no thermocouple can have read are not used")
    return (*found, *_gaps(log, channel, ignition_s, gap_s))


def _gaps(log: Log, channel: Channel, ignition_s: float, gap_s: float) -> tuple[str, ...]:
    times, _ = read_by(log, channel)
    if not len(times):
        return ("nothing was read that can be used",)
    apart = np.diff(times)
    places = np.flatnonzero(np.round(apart, 6) > gap_s)
    if not len(places):
        return ()
    widest = int(places[np.argmax(apart[places])])
    words = (
        f"{len(places)} gap(s) of more than {gap_s:g} s; the widest from "
        f"{minutes_text(float(times[widest]) - ignition_s)} to "
        f"{minutes_text(float(times[widest + 1]) - ignition_s)} after ignition"
    )
    return (words,)

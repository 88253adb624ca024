"""One channel after ignition: what can be used of it, and what is wrong with it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from portfolio.domain.classified import ChannelFinding, StartTemperature
from portfolio.domain.exceeding import BRIDGED_SHARE, Limit, exceedances, longest
from portfolio.domain.limits import StartRule
from portfolio.domain.traces import (
    Channel,
    Floats,
    Log,
    minutes_text,
    plausible,
    read_by,
    rises,
)

FAR_K = 20.0
"""Ours: further apart than air and sunshine could bring two thermocouples before the fire, and
colder than a fire leaves any of them."""
_FLAT_FOR_S = 300.0
"""Ours: a thermocouple that reads the same number for five minutes of fire has stopped working,
where it does so to the end or is warm."""


@dataclass(frozen=True, slots=True, eq=False)
class Record:
    """The usable readings of one channel from ignition on, both of shape (readings,).

    `rises_k` are over Ts; `sure_rises_k` over the hottest that Ts can be, so that what exceeds a
    limit there has exceeded it. From `trusted_until_s` on, what it reads counts against the wall
    and never for it, and `distrust` says why; infinite for a channel that nothing is wrong with,
    negative infinite for one that is broken throughout.
    """

    channel: Channel
    times_s: Floats
    readings_c: Floats
    rises_k: Floats
    sure_rises_k: Floats
    faults: tuple[str, ...]
    trusted_until_s: float
    distrust: str


def record_of(
    log: Log, channel: Channel, ignition_s: float, start: StartTemperature, rule: StartRule
) -> Record:
    """What `channel` says from ignition on; readings far apart leave a gap, and those colder than
    a fire leaves anything are not used."""
    times, readings = read_by(log, channel)
    mean = np.nan if start.mean_c is None else start.mean_c
    highest = np.nan if start.highest_c is None else start.highest_c
    is_cold = rises(readings, mean) < -FAR_K
    after = times >= ignition_s
    off = _off_before(times, readings, ignition_s, mean, rule)
    trusted_until, distrust = _trusted(
        channel, (times[after], readings[after]), off, mean, ignition_s
    )
    faults = [distrust] if distrust else []
    faults += _unusable(log, channel, int(is_cold.sum()))
    times, readings = times[~is_cold], readings[~is_cold]
    faults += _gaps(times, ignition_s, gap_for(rule.limit.hold_s))
    after = times >= ignition_s
    times, readings = times[after], readings[after]
    return Record(
        channel,
        times,
        readings,
        rises(readings, mean),
        rises(readings, highest),
        tuple(faults),
        trusted_until,
        distrust,
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


def _trusted(
    channel: Channel, after: tuple[Floats, Floats], off_k: float, mean_c: float, ignition_s: float
) -> tuple[float, str]:
    """Until when a channel can be trusted, and what is wrong with it from then on; `off_k` is how
    far from Ts it was before ignition, `after` its times and readings since."""
    if channel.is_declared_broken:
        return -math.inf, "declared broken: it counts against the wall and never for it"
    if is_flat(*after):
        return -math.inf, f"never moved from {after[1][-1]:g} °C: taken for broken"
    if abs(off_k) > FAR_K:
        words = f"{abs(off_k):.0f} K {'over' if off_k > 0 else 'under'} Ts before ignition"
        return -math.inf, f"read {words}: taken for broken"
    stopped = _stopped_at(*after, mean_c)
    if stopped is None:
        return math.inf, ""
    at, reading = stopped
    words = f"did not move from {reading:g} °C for {_FLAT_FOR_S:g} s or longer"
    since = minutes_text(at - ignition_s)
    return at, f"{words} from {since} after ignition: taken for broken from then on"


def _off_before(
    times: Floats, readings: Floats, ignition_s: float, mean_c: float, rule: StartRule
) -> float:
    """How far from Ts the channel read before ignition, in K; 0 where that cannot be told."""
    within = (times >= ignition_s - rule.mean_over_s) & (times < ignition_s)
    if not within.any() or math.isnan(mean_c):
        return 0.0
    return float(np.median(readings[within])) - mean_c


def _stopped_at(times: Floats, readings: Floats, mean_c: float) -> tuple[float, float] | None:
    """When a channel first stopped moving, and at which reading; None for one that never did."""
    if not len(times):
        return None
    firsts = np.concatenate(([0], np.flatnonzero(np.diff(readings) != 0) + 1))
    lasts = np.append(firsts[1:], len(times)) - 1
    is_long = times[lasts] - times[firsts] >= _FLAT_FOR_S
    is_warm = rises(readings[firsts], mean_c) > FAR_K
    found = firsts[is_long & (is_warm | (lasts == len(times) - 1))]
    return (float(times[found[0]]), float(readings[found[0]])) if len(found) else None


def _unusable(log: Log, channel: Channel, cold: int) -> Iterator[str]:
    count = log.samples_in_order
    readings = channel.readings_c[:count]
    missing = int(np.isnan(readings).sum())
    if missing:
        yield f"{missing} of {count} readings are missing"
    odd = int((~np.isnan(readings) & ~plausible(readings)).sum())
    if odd:
        yield f"{odd} readings that no thermocouple can have read are not used"
    if cold:
        yield f"{cold} readings of more than {FAR_K:g} K under Ts are not used"


def _gaps(times: Floats, ignition_s: float, gap_s: float) -> Iterator[str]:
    if not len(times):
        yield "nothing was read that can be used"
        return
    apart = np.diff(times)
    places = np.flatnonzero(np.round(apart, 6) > gap_s)
    if not len(places):
        return
    widest = int(places[np.argmax(apart[places])])
    yield (
        f"{len(places)} gap(s) of more than {gap_s:g} s; the widest from "
        f"{minutes_text(float(times[widest]) - ignition_s)} to "
        f"{minutes_text(float(times[widest + 1]) - ignition_s)} after ignition"
    )

"""A classified log as drawings: a chart for each level and side, and the rig at a minute."""

from __future__ import annotations

import math
from dataclasses import replace

from portfolio.domain.channel_record import gap_for
from portfolio.domain.classified import ChannelFinding, Classified
from portfolio.domain.traces import Channel, Log, Side, minutes_text, plausible, rises
from portfolio.drawings.rig import DrawnChannel, RigDrawing, rig
from portfolio.drawings.trace_chart import (
    DrawnLimit,
    DrawnMoment,
    DrawnTrace,
    TraceChart,
    trace_chart,
)
from portfolio.reference.loader import load_reference
from portfolio.services.classified_groups import Group, groups_of, limit_words
from portfolio.services.classifying import ClassifiedLog
from portfolio.services.drawn_part import WHOLE, DrawnPart

_A_MINUTE = 60.0


def chart_drawings(
    classified: ClassifiedLog, *, width: float = 360, part: DrawnPart = WHOLE
) -> tuple[str, ...]:
    """A chart for each level and side that the part has channels of, as SVG texts, from below."""
    return tuple(
        trace_chart(chart, id_prefix=f"chart-{number}", width=width)
        for number, chart in enumerate(charts_of(classified, part), start=1)
    )


def charts_of(classified: ClassifiedLog, part: DrawnPart = WHOLE) -> tuple[TraceChart, ...]:
    """The same charts as what they are drawn from."""
    channels = classified.log.channels
    return tuple(
        _chart(classified, group, part)
        for group in groups_of(classified.found)
        if any(part.shows(channels[at].name) for at in group.places)
    )


def _chart(classified: ClassifiedLog, group: Group, part: DrawnPart) -> TraceChart:
    log, found = classified.log, classified.found
    count = log.samples_in_order
    times = drawn_times(classified)
    kept = [at for at, time in enumerate(times) if part.holds(time)]
    traces = tuple(
        DrawnTrace(
            f"{one.name}, {one.place}",
            tuple(times[at] for at in kept),
            tuple(readings[at] for at in kept),
        )
        for one, readings in (
            (log.channels[at], _readings(log.channels[at], count)) for at in group.places
        )
        if part.shows(one.name)
    )
    hold = found.criteria_set.start.limit.hold_s
    return TraceChart(
        group.title,
        traces,
        tuple(_within(limit, part) for limit in limits_of(found, group) if _begins(limit, part)),
        tuple(moment for moment in _moments(found) if part.holds(moment.at_s)),
        "min from ignition" if log.ignition_s is not None else "min from the first sample",
        gap_for(hold),
    )


def drawn_times(classified: ClassifiedLog) -> list[float]:
    """When a log was read, in s on the clock of its charts, as far as its own can be trusted."""
    log = classified.log
    found: list[float] = (log.times_s[: log.samples_in_order] - _zero(log)).tolist()
    return found


def _begins(limit: DrawnLimit, part: DrawnPart) -> bool:
    """Whether any of the stretch of a limit is drawn."""
    ends = math.inf if limit.until_s is None else limit.until_s
    return limit.from_s <= part.until_minute * _A_MINUTE and ends >= part.from_minute * _A_MINUTE


def _within(limit: DrawnLimit, part: DrawnPart) -> DrawnLimit:
    begins = max(limit.from_s, part.from_minute * _A_MINUTE)
    return replace(limit, from_s=begins)


def _zero(log: Log) -> float:
    if log.ignition_s is not None:
        return log.ignition_s
    return float(log.times_s[0]) if len(log.times_s) else 0.0


def _readings(channel: Channel, count: int) -> tuple[float | None, ...]:
    readings = channel.readings_c[:count]
    usable = plausible(readings)
    pairs = zip(readings.tolist(), usable.tolist(), strict=True)
    return tuple(reading if is_usable else None for reading, is_usable in pairs)


def limits_of(found: Classified, group: Group) -> tuple[DrawnLimit, ...]:
    """The limit of the group: for spread over its window, else from ignition on."""
    mean = found.start_temperature.mean_c
    if group.limit_k is None or mean is None:
        return ()
    words, celsius = limit_words(group.limit_k, mean), group.limit_k + mean
    begun = found.from_ignition(found.start_time.read_s)
    for rule in found.criteria_set.spreads:
        if (rule.level, rule.side) == (group.level, group.side) and begun is not None:
            return (DrawnLimit(words, celsius, begun, begun + rule.window_s),)
    return (DrawnLimit(words, celsius, 0.0),)


def _moments(found: Classified) -> tuple[DrawnMoment, ...]:
    """ts, and what was seen at a time that was told."""
    moments = []
    begun = found.from_ignition(found.start_time.read_s)
    if begun is not None:
        moments.append(DrawnMoment(f"ts {minutes_text(begun)}", begun))
    moments += [
        DrawnMoment(f"{one.sight.words} {minutes_text(one.from_s)}", one.from_s)
        for one in found.observations
        if one.was_seen and one.from_s is not None
    ]
    return tuple(moments)


def telling_minute(found: Classified) -> float:
    """The minute from ignition at which some channel with a limit was hottest; 0 for none."""
    hottest = max(
        (one for one in found.channels if one.limit_k is not None and one.highest_rise_k),
        key=lambda one: (one.channel.level, one.highest_rise_k or 0.0),
        default=None,
    )
    at = found.from_ignition(hottest.highest_at_s) if hottest else None
    # up, never down: a moment earlier the channel had not read it yet
    return 0.0 if at is None else math.ceil(at / _A_MINUTE * 1000) / 1000


def rig_drawing(classified: ClassifiedLog, minute: float, *, width: float = 360) -> str:
    """The rig at a minute from ignition, as SVG text."""
    found = classified.found
    names = {level.level: level.above_opening_m for level in load_reference().rig_levels}
    levels = sorted({one.channel.level for one in found.channels})
    at = minutes_text(minute * _A_MINUTE)
    drawing = RigDrawing(
        f"Rises {at} after ignition",
        tuple((level, _level_words(level, names.get(level))) for level in levels),
        tuple(_drawn(classified, one, minute * _A_MINUTE) for one in found.channels),
    )
    return rig(drawing, id_prefix="rig", width=width)


def _level_words(level: int, height_m: float | None) -> str:
    return f"level {level}" + ("" if height_m is None else f", {height_m:g} m above the opening")


def _drawn(classified: ClassifiedLog, one: ChannelFinding, seconds: float) -> DrawnChannel:
    channel, found = one.channel, classified.found
    rise = rise_at(classified, channel, seconds)
    row = channel.side.value
    if channel.side is Side.INTERNAL and channel.layer:
        row = f"internal, {channel.layer}"
    rule = found.criteria_set.start
    is_start = (channel.level, channel.side) == (rule.level, rule.side)
    is_over = rise is not None and one.limit_k is not None and rise > one.limit_k
    is_reached = is_start and rise is not None and rise == one.limit_k
    return DrawnChannel(
        channel.name,
        channel.level,
        row,
        channel.face.value if channel.face else "",
        channel.position_mm,
        rise,
        is_over or is_reached,
    )


def rise_at(classified: ClassifiedLog, channel: Channel, seconds: float) -> float | None:
    """The rise in K that a channel read last, `seconds` after ignition; None beyond a gap."""
    log, found = classified.log, classified.found
    mean = found.start_temperature.mean_c
    if mean is None or log.ignition_s is None:
        return None
    count = log.samples_in_order
    readings = channel.readings_c[:count]
    usable = plausible(readings)
    since = seconds + log.ignition_s - log.times_s[:count][usable]
    past = since[since >= 0]
    if not len(past) or float(past[-1]) > gap_for(found.criteria_set.start.limit.hold_s):
        return None
    rise = float(rises(readings[usable][since >= 0][-1:], mean)[0])
    return rise if math.isfinite(rise) else None

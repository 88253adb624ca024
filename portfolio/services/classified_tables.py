"""What a log comes to, as tables for the shell, the page and the workbook."""

from __future__ import annotations

import math

from portfolio.domain.classified import ANSWER_WORDS, ChannelFinding, Classified
from portfolio.domain.traces import minutes_text
from portfolio.services.classifying import ClassifiedLog
from portfolio.sheets.logger_workbook import Readings
from portfolio.sheets.writing import Cell, Table


def conclusion(found: Classified) -> str:
    """The conclusion as a sentence."""
    return f"By {found.criteria_set.name}: {ANSWER_WORDS[found.answer]}."


def start_words(found: Classified) -> tuple[str, ...]:
    """Ts and ts, as sentences."""
    start, begun = found.start_temperature, found.start_time
    if start.mean_c is None:
        temperature = "Ts cannot be told."
    else:
        doubtful = ", in doubt" if start.doubts else ""
        temperature = f"Ts {start.mean_c:.1f} °C{doubtful}."
    if not begun.is_told or begun.read_s is None:
        return temperature, "ts was not reached on any channel for long enough, as far as was read."
    read = found.from_ignition(begun.read_s)
    low, high = found.from_ignition(begun.earliest_s), found.from_ignition(begun.latest_s)
    return (
        temperature,
        f"ts {time_words(read)} after ignition on {begun.channel}, at least {time_words(low)} and "
        f"at most {time_words(high)} by the readings beside.",
    )


def time_words(seconds: float | None) -> str:
    """A time as min:s, or nothing."""
    return "" if seconds is None or not math.isfinite(seconds) else minutes_text(seconds)


def criteria_table(found: Classified) -> Table:
    """Criterion by criterion, with both clocks."""
    return Table(
        "Criteria",
        (
            "Criterion",
            "Answer",
            "Threshold",
            "Measured",
            "Channel",
            "From ignition (min:s)",
            "From ts (min:s)",
            "Why",
            "Source",
            "Status of the source",
        ),
        [
            (
                one.title,
                ANSWER_WORDS[one.answer],
                one.threshold,
                one.measured,
                one.channel,
                time_words(found.from_ignition(one.at_s)),
                time_words(found.from_start(one.at_s)),
                one.reason,
                one.basis.source,
                one.basis.status,
            )
            for one in found.findings
        ],
    )


def channels_table(found: Classified) -> Table:
    """Channel by channel: the highest rise and the longest exceedance, with both clocks."""
    return Table(
        "Channels",
        (
            "Channel",
            "Place",
            "Highest (°C)",
            "Highest rise (K)",
            "From ignition (min:s)",
            "From ts (min:s)",
            "Limit (K)",
            "Longest over it (s)",
            "At least (s)",
            "At most (s)",
            "It began, from ignition (min:s)",
            "It began, from ts (min:s)",
            "Remarks",
        ),
        [_channel_row(found, one) for one in found.channels],
    )


def _channel_row(found: Classified, one: ChannelFinding) -> tuple[Cell, ...]:
    longest = one.longest
    began = longest.starts_s if longest else None
    return (
        one.channel.name,
        one.channel.place,
        one.highest_c,
        one.highest_rise_k,
        time_words(found.from_ignition(one.highest_at_s)),
        time_words(found.from_start(one.highest_at_s)),
        "none known" if one.limit_k is None else one.limit_k,
        round(longest.duration_s, 1) if longest else None,
        longest.least_s if longest else None,
        _most(longest.most_s) if longest else None,
        time_words(found.from_ignition(began)),
        time_words(found.from_start(began)),
        "; ".join(one.faults),
    )


def _most(seconds: float) -> Cell:
    return seconds if math.isfinite(seconds) else "to the end of the record or longer"


def observations_table(found: Classified) -> Table:
    """What was watched for, with both clocks."""
    zero = found.ignition_s
    rows: list[tuple[Cell, ...]] = []
    for one in found.observations:
        at = None if zero is None or one.from_s is None else zero + one.from_s
        rows.append(
            (
                one.sight.words,
                one.was_seen,
                time_words(one.from_s),
                time_words(found.from_start(at)),
                time_words(one.until_s),
                one.height_m,
                one.note,
            )
        )
    headers = (
        "Observation",
        "Seen",
        "From ignition (min:s)",
        "From ts (min:s)",
        "Until, from ignition (min:s)",
        "Height (m)",
        "Note",
    )
    return Table("Observations", headers, rows)


def remarks_table(classified: ClassifiedLog) -> Table:
    """The conclusion, Ts and ts, what keeps from telling, and what else to know of the log."""
    found = classified.found
    kinds = (
        ("Conclusion", (conclusion(found), *start_words(found))),
        ("Cannot be told", found.keeps_from_telling),
        ("Of the log", found.remarks),
        ("Of the file", classified.notes),
    )
    rows = [
        (kind if at == 0 else "", text) for kind, texts in kinds for at, text in enumerate(texts)
    ]
    return Table("Conclusion", ("", "Remark"), rows)


def readings_of(classified: ClassifiedLog) -> Readings:
    """Every reading in °C, times in s from ignition (from the log's zero where there is none)."""
    log = classified.log
    zero = log.ignition_s
    header = "Time from ignition (s)" if zero is not None else "Time on the logger's clock (s)"
    times = (log.times_s - (zero or 0.0)).round(3).tolist()
    columns = [
        [reading if math.isfinite(reading) else None for reading in channel.readings_c.tolist()]
        for channel in log.channels
    ]
    return Readings(
        "Readings",
        (header, *(f"{channel.name} (°C)" for channel in log.channels)),
        list(zip(times, *columns, strict=True)),
    )


def readings_table(classified: ClassifiedLog) -> Table:
    """The same as a table."""
    found = readings_of(classified)
    return Table(found.title, found.headers, found.rows)


def tables_of(classified: ClassifiedLog) -> tuple[Table, ...]:
    """Every table of results, the conclusion first."""
    found = classified.found
    return (
        remarks_table(classified),
        criteria_table(found),
        channels_table(found),
        observations_table(found),
    )

"""Classifies a log and what was seen against the criteria of one document.

Doubt never acquits: what a gap, a broken channel or the sampling could hide cannot be told, and
is never met; what was exceeded on any channel stays not met.
"""

from __future__ import annotations

from collections.abc import Sequence

from portfolio.domain import seen
from portfolio.domain.channel_record import Record, finding_of, record_of
from portfolio.domain.classified import (
    Classified,
    CriterionFinding,
    StartTemperature,
    StartTime,
)
from portfolio.domain.evidence import Answer3
from portfolio.domain.exceeding import Limit
from portfolio.domain.gates import Gate
from portfolio.domain.limits import Basis, CriteriaSet, SpreadRule, StartRule
from portfolio.domain.observations import Observation
from portfolio.domain.spreading import spread_finding
from portfolio.domain.starting import start_temperature, start_time
from portfolio.domain.traces import Log

_UNKNOWN_START = StartTime(None, float("-inf"), float("inf"), "", "the time of ignition is missing")


def classify(
    log: Log,
    criteria_set: CriteriaSet,
    observations: Sequence[Observation] = (),
    *,
    pairing: Gate,
) -> Classified:
    """What `log` and `observations` come to; `pairing` says whether the document may classify."""
    rule = criteria_set.start
    start = start_temperature(log, rule)
    # without ignition nothing is judged, and what was read is counted from the log's beginning
    zero = _zero(log)
    records = [record_of(log, channel, zero, start, rule) for channel in log.channels]
    begun = _UNKNOWN_START
    if log.ignition_s is not None:
        begun = start_time(_at(records, rule.level, rule.side), rule, start, zero)
    findings = [
        *(
            spread_finding(
                _at(records, spread.level, spread.side), spread, start, begun, log.ignition_s
            )
            for spread in criteria_set.spreads
        ),
        *seen.findings(criteria_set, observations, begun, log),
        _pairing_finding(pairing),
    ]
    return Classified(
        criteria_set,
        log.ignition_s,
        start,
        begun,
        tuple(finding_of(r, _limit_for(r, criteria_set), zero) for r in records),
        tuple(findings),
        tuple(observations),
        (
            *_remarks(log, criteria_set, start, begun),
            *(
                f"{wrong[0].upper()}{wrong[1:]}."
                for one in observations
                if (wrong := seen.outside_record(one, log))
            ),
        ),
    )


def _zero(log: Log) -> float:
    if log.ignition_s is not None:
        return log.ignition_s
    return float(log.times_s[0]) if len(log.times_s) else 0.0


def _at(records: Sequence[Record], level: int, side: str) -> list[Record]:
    return [r for r in records if (r.channel.level, r.channel.side) == (level, side)]


def _limit_for(record: Record, criteria_set: CriteriaSet) -> Limit | None:
    """The limit of the rule that looks at this channel, or None where it is only recorded."""
    place = (record.channel.level, record.channel.side)
    rules: list[StartRule | SpreadRule] = [criteria_set.start, *criteria_set.spreads]
    for rule in rules:
        if (rule.level, rule.side) == place:
            return rule.limit
    return None


def _pairing_finding(gate: Gate) -> CriterionFinding:
    """A document that may not classify this test leaves it unclassified; it does not fail it."""
    answer = Answer3.MET if gate.answer is Answer3.MET else Answer3.UNKNOWN
    return CriterionFinding(
        "pairing",
        "The document may classify this edition of the test",
        answer,
        "the edition of the test and the classification document pair up",
        gate.reason,
        gate.reason,
        Basis(gate.source or "nothing is recorded", "published" if gate.source else "house"),
    )


def _remarks(
    log: Log, criteria_set: CriteriaSet, start: StartTemperature, begun: StartTime
) -> list[str]:
    """What a reader must know of the log as a whole."""
    found = []
    found += [f"Ts is in doubt: {doubt}." for doubt in start.doubts]
    if begun.reason:
        found.append(f"ts is in doubt: {begun.reason}.")
    counts = [
        f"{len(there)} {rule.side.value} of level {rule.level}"
        for rule in criteria_set.spreads
        if (there := log.at(level=rule.level, side=rule.side))
    ]
    if counts:
        found.append(
            f"Channels judged: {', '.join(counts)}. Whether these are all that the test standard "
            "asks for is not checked."
        )
    if shown := sorted({c.level for c in log.channels} - criteria_set.levels):
        levels = " and ".join(map(str, shown))
        found.append(
            f"Level {levels} is recorded and shown; no criterion is known for it."
            if len(shown) == 1
            else f"Levels {levels} are recorded and shown; no criterion is known for them."
        )
    return found

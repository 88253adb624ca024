"""The kept logs behind the tests of a pack, judged as they are kept, their charts thinned."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.documents import Document
from portfolio.db.models import TestRecord
from portfolio.db.states import revived
from portfolio.domain.caution import CAUTION
from portfolio.domain.classified import ANSWER_WORDS
from portfolio.domain.documents import FactKind
from portfolio.domain.errors import InputError
from portfolio.drawings.trace_lines import thinned_trace
from portfolio.drawings.traces import DrawnLimit, DrawnTrace, TraceChart
from portfolio.packs.logs import PackLog
from portfolio.services.classified_drawings import charts_of
from portfolio.services.classified_tables import remarks_table, time_words
from portfolio.services.classifying import ClassifiedLog
from portfolio.services.documents.contents import UnreadableError, contents_for
from portfolio.services.documents.listing import documents_of_tests
from portfolio.services.documents.packing import documents_then
from portfolio.services.kept_logs import judge_kept_log
from portfolio.services.log_readings import KeptReading, kept_as, kept_reading
from portfolio.services.reliance import shown_in_full
from portfolio.services.states_then import states_then
from portfolio.services.viewer import Viewer
from portfolio.sheets.charted_sheet import ChartedSheet, Course, CourseChart
from portfolio.sheets.writing import Table

_STEPS_S = (5, 10, 15, 30, 60, 120, 300, 600, 1800, 3600)
_MOST_STEPS = 80
"""Steps of a chart: with at most four readings in each, a channel keeps a few hundred."""
_HEADERS = (
    "Criterion",
    "Why",
    "Answer",
    "Threshold",
    "Measured",
    "Channel",
    "From ignition (min:s)",
    "From ts (min:s)",
    "Source",
    "Status of the source",
)


@dataclass(frozen=True, slots=True)
class LogOfTest:
    """A document that is the log of a test, by its words, and how it is read."""

    test: str
    document_id: int
    name: str
    sha256: str
    kept: KeptReading


def logs_of_tests(
    session: Session, viewer: Viewer, test_ids: Collection[int], on: date
) -> Sequence[LogOfTest]:
    """The kept logs of tests that the viewer may see in full, whose reading is kept."""
    refs = _refs(session, shown_in_full(session, viewer, on, test_ids))
    found = []
    for line in documents_of_tests(session, viewer, sorted(refs), on):
        row, kept = line.row, kept_reading(session, viewer, line.row.id, on)
        if kept is None:
            continue
        tests = refs.keys() & {support.place.test_id for support in line.supports}
        found += [LogOfTest(refs[test], row.id, _name(row), row.sha256, kept) for test in tests]
    return _sorted(found)


def logs_of_tests_then(
    session: Session, viewer: Viewer, test_ids: Collection[int], on: date, *, today: date
) -> Sequence[LogOfTest]:
    """The same as they were kept at the end of `on`, of documents and tests that may be seen
    today."""
    refs = _refs(session, shown_in_full(session, viewer, today, test_ids))
    readings = {
        state["document_id"]: revived("log reading", state)
        for state in states_then(session, "log reading", None, on).values()
    }
    return _sorted(
        LogOfTest(refs[test], row.id, _name(row), row.sha256, kept_as(viewer, row, reading))
        for row, state in documents_then(session, viewer, on, today=today)
        if (reading := readings.get(row.id)) is not None
        for test in _supported(state["supports"], refs)
    )


def _refs(session: Session, test_ids: Collection[int]) -> dict[int, str]:
    query = sa.select(TestRecord.id, TestRecord.ref).where(TestRecord.id.in_(test_ids))
    return {row.id: row.ref for row in session.execute(query)}


def _supported(supports: Iterable[Mapping[str, Any]], tests: Collection[int]) -> set[int]:
    """Of the tests, those that a document supported by its state then."""
    return {
        support["test_id"]
        for support in supports
        if support["fact"] == FactKind.TEST and support["test_id"] in tests
    }


def _name(row: Document) -> str:
    return ", ".join(filter(None, (row.reference, row.file_name)))


def _sorted(logs: Iterable[LogOfTest]) -> Sequence[LogOfTest]:
    return sorted(logs, key=lambda log: (log.test, log.document_id))


def packed_log(session: Session, viewer: Viewer, log: LogOfTest, on: date) -> PackLog:
    """The log as a pack holds it; one that cannot be read or judged says so, and why."""
    facts = (
        ("Caution", CAUTION),
        ("Test", log.test),
        ("Log", f"{log.name} (document {log.document_id})"),
        ("SHA-256", log.sha256),
        ("How it is read was kept", f"{log.kept.on.isoformat()}, {log.kept.by}"),
    )
    contents = contents_for(session.get_bind().engine)
    try:
        done = judge_kept_log(session, viewer, contents, log.document_id, log.kept.facts, on=on)
    except UnreadableError as error:
        return PackLog(log.test, (*facts, ("Cannot be told", f"It is not judged. {error}")))
    except InputError as error:
        return PackLog(log.test, (*facts, ("Cannot be told", f"It is not judged. {error}")))
    step = _step(done)
    thinned = (
        f"Thinned: of every {step} s of each channel the first, the lowest, the highest and the "
        "last reading are kept, so that no peak is lost. The whole record is the log itself."
    )
    return PackLog(
        log.test,
        (*facts, *_told(done), ("Readings in the charts", thinned)),
        _HEADERS,
        tuple(_criteria(done)),
        tuple(_thinned(chart, step) for chart in charts_of(done)),
        thinned,
    )


def log_sheet(log: PackLog) -> ChartedSheet:
    """The log as a sheet of a workbook."""
    table = Table("Criteria", log.headers, log.criteria) if log.criteria else None
    charts = [_chart(chart) for chart in log.charts]
    return ChartedSheet(f"Log {log.test}", log.facts, table, charts, log.thinned)


def _told(done: ClassifiedLog) -> Iterator[tuple[str, str]]:
    ignition = done.log.ignition_s
    yield "Ignition", "not told" if ignition is None else f"{ignition:g} s on the log's clock"
    for what, text in remarks_table(done).rows:
        yield str(what), str(text)


def _criteria(done: ClassifiedLog) -> Iterator[tuple[str, ...]]:
    found = done.found
    for one in found.findings:
        yield (
            one.title,
            one.reason,
            ANSWER_WORDS[one.answer],
            one.threshold,
            one.measured,
            one.channel,
            time_words(found.from_ignition(one.at_s)),
            time_words(found.from_start(one.at_s)),
            one.basis.source,
            one.basis.status,
        )


def _step(done: ClassifiedLog) -> int:
    times = done.log.times_s[: done.log.samples_in_order]
    length = float(times[-1] - times[0]) if len(times) else 0.0
    fitting = (step for step in _STEPS_S if length / step <= _MOST_STEPS)
    return next(fitting, _STEPS_S[-1])


def _thinned(chart: TraceChart, step: int) -> TraceChart:
    traces = tuple(thinned_trace(trace, chart.gap_s, step) for trace in chart.traces)
    return replace(chart, traces=traces)


def _chart(chart: TraceChart) -> CourseChart:
    ends = [trace.times_s[-1] for trace in chart.traces if trace.times_s]
    limits = [_limit(limit, max(ends, default=limit.from_s)) for limit in chart.limits]
    header = "Time from ignition (s)" if "ignition" in chart.clock else "Time (s)"
    return CourseChart(chart.title, header, [*map(_course, chart.traces), *limits])


def _course(trace: DrawnTrace) -> Course:
    return Course(trace.label, trace.times_s, trace.readings_c)


def _limit(limit: DrawnLimit, end_s: float) -> Course:
    until = end_s if limit.until_s is None else limit.until_s
    ends = (limit.from_s, until)
    return Course(limit.words, ends, (limit.celsius, limit.celsius), is_limit=True)

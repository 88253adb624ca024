"""A logger's file that was kept as a document, judged again whenever somebody looks at it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import PurePath

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.documents import DocumentSupport
from portfolio.db.models import TestRecord
from portfolio.domain.documents import FactKind
from portfolio.domain.errors import InputError, Problem
from portfolio.services.classified_drawings import drawn_times
from portfolio.services.classified_page import ClassifiedPage, page_of
from portfolio.services.classified_workbook import seconds_for
from portfolio.services.classifying import ClassifiedLog, classify_files
from portfolio.services.documents.contents import Contents
from portfolio.services.documents.seeing import is_fact_seen
from portfolio.services.drawn_part import WHOLE, DrawnPart
from portfolio.services.log_files import files_of_log
from portfolio.services.log_readings import KeptReading, ReadingFacts, kept_reading
from portfolio.services.viewer import Viewer

_ENDINGS = frozenset({".csv", ".xlsx"})


def may_be_log(file_name: str) -> bool:
    """Whether a file is of a kind that a logger writes."""
    return PurePath(file_name).suffix.casefold() in _ENDINGS


@dataclass(frozen=True, slots=True)
class LogView:
    """How to read and judge a kept log, and what of it to draw."""

    reading: ReadingFacts = ReadingFacts()
    minute: float | None = None
    part: DrawnPart = WHOLE


@dataclass(frozen=True, slots=True)
class KeptLog:
    """A kept log, judged; `names` are its channels, and a workbook of it takes about `seconds`."""

    page: ClassifiedPage
    names: tuple[str, ...]
    seconds: int


def kept_log_page(done: ClassifiedLog, view: LogView) -> KeptLog:
    """The page of a kept log that was judged. Raises InputError for a part with nothing in it."""
    names = tuple(channel.name for channel in done.log.channels)
    _check_part(done, view.part, names)
    return KeptLog(page_of(done, view.minute, view.part), names, seconds_for(done))


def _check_part(done: ClassifiedLog, part: DrawnPart, names: tuple[str, ...]) -> None:
    """An empty chart would say that nothing was read."""
    problems = [
        Problem("The log has no such channel.", f"one of: {', '.join(names)}", value=name[:60])
        for name in sorted(part.channels - set(names))
    ]
    times = drawn_times(done)
    if times and not any(part.holds(time) for time in times):
        first, last = times[0] / 60, times[-1] / 60
        message = "Nothing was recorded in the minutes that are to be drawn."
        problems.append(Problem(message, f"minutes from {first:.1f} to {last:.1f}"))
    if problems:
        raise InputError(problems)


def judge_kept_log(
    session: Session,
    viewer: Viewer,
    contents: Contents,
    document_id: int,
    reading: ReadingFacts,
    *,
    on: date,
) -> ClassifiedLog:
    """Read and judge the log. Raises NotFoundError for a document that is not there or not for
    the viewer, UnreadableError naming a damaged one, and InputError for what is no log and for
    lists that the viewer does not see."""
    files = files_of_log(session, viewer, contents, document_id, reading, on=on)
    return classify_files(files, reading.asked)


def opening_reading(
    session: Session, viewer: Viewer, document_id: int, on: date
) -> tuple[ReadingFacts, KeptReading | None]:
    """How the page of a log opens, and what is kept: as is kept, or where nothing is, by the
    criteria that the record of its test asks for. Raises NotFoundError."""
    kept = kept_reading(session, viewer, document_id, on)
    if kept is not None:
        return kept.facts, kept
    return _asked_for_its_test(session, viewer, document_id, on), None


def _asked_for_its_test(
    session: Session, viewer: Viewer, document_id: int, on: date
) -> ReadingFacts:
    """The criteria that the record of the test asks for, of the first that the log supports."""
    query = (
        sa.select(TestRecord)
        .join(DocumentSupport, DocumentSupport.test_id == TestRecord.id)
        .where(DocumentSupport.document_id == document_id, DocumentSupport.fact == FactKind.TEST)
        .where(is_fact_seen(viewer, on))
        .order_by(TestRecord.id)
    )
    found = session.scalars(query.limit(1)).first()
    if found is None:
        return ReadingFacts()
    return ReadingFacts(class_annex=found.class_annex, test_edition=found.edition)

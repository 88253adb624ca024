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
from portfolio.domain.errors import InputError, NotFoundError, Problem
from portfolio.services.classified_page import ClassifiedPage, page_of
from portfolio.services.classified_workbook import seconds_for
from portfolio.services.classifying import ClassifiedLog, LoggerFiles, classify_files
from portfolio.services.documents.contents import Contents
from portfolio.services.documents.seeing import is_fact_seen, read_document
from portfolio.services.drawn_part import WHOLE, DrawnPart
from portfolio.services.log_readings import KeptReading, ReadingFacts, kept_reading
from portfolio.services.viewer import Viewer
from portfolio.sheets.raw import GivenFile

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
    """The page of a kept log that was judged."""
    names = tuple(channel.name for channel in done.log.channels)
    return KeptLog(page_of(done, view.minute, view.part), names, seconds_for(done))


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
    the viewer, UnreadableError for a damaged one, and InputError for what is no log and for lists
    that the viewer does not see."""

    def given(number: int | None, what: str) -> GivenFile | None:
        if number is None:
            return None
        try:
            found = read_document(session, viewer, contents, number, on)
        except NotFoundError as error:
            # read without it, the log could come to another answer
            message = f"The {what} of this log is not there for you to see."
            raise InputError([Problem(message, value=str(number))]) from error
        return GivenFile(found.name, found.content)

    log = read_document(session, viewer, contents, document_id, on)
    files = LoggerFiles(
        GivenFile(log.name, log.content),
        given(reading.channels, "list of channels"),
        given(reading.observations, "list of observations"),
        reading.ignition,
    )
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

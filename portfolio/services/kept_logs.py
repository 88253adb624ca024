"""A logger's file that was kept as a document, judged again whenever somebody looks at it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import PurePath

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.documents import DocumentSupport
from portfolio.db.models import TestRecord
from portfolio.domain.documents import FactKind
from portfolio.services.classified_page import ClassifiedPage, page_of
from portfolio.services.classifying import Asked, LoggerFiles, classify_files
from portfolio.services.documents.contents import Contents
from portfolio.services.documents.seeing import is_fact_seen, read_document
from portfolio.services.drawn_part import DrawnPart
from portfolio.services.viewer import Viewer
from portfolio.sheets.raw import GivenFile

_ENDINGS = frozenset({".csv", ".xlsx"})


def may_be_log(file_name: str) -> bool:
    """Whether a file is of a kind that a logger writes."""
    return PurePath(file_name).suffix.casefold() in _ENDINGS


@dataclass(frozen=True, slots=True)
class LogView:
    """How to read and judge a kept log, and what of it to draw.

    `channels` and `observations` are the numbers of the documents that hold them, 0 for none.
    """

    ignition: str = ""
    asked: Asked = Asked()
    channels: int = 0
    observations: int = 0
    minute: float | None = None
    part: DrawnPart = DrawnPart()


@dataclass(frozen=True, slots=True)
class KeptLog:
    """A kept log, judged; `names` are its channels."""

    page: ClassifiedPage
    names: tuple[str, ...]


def judge_kept_log(
    session: Session,
    viewer: Viewer,
    contents: Contents,
    document_id: int,
    view: LogView,
    *,
    on: date,
) -> KeptLog:
    """Read and judge the log. Raises NotFoundError for a document that is not there or not for
    the viewer, UnreadableError for a damaged one, and InputError for what is no log."""

    def given(number: int) -> GivenFile | None:
        if not number:
            return None
        found = read_document(session, viewer, contents, number, on)
        return GivenFile(found.name, found.content)

    log = read_document(session, viewer, contents, document_id, on)
    files = LoggerFiles(
        GivenFile(log.name, log.content),
        given(view.channels),
        given(view.observations),
        view.ignition,
    )
    done = classify_files(files, view.asked)
    names = tuple(channel.name for channel in done.log.channels)
    return KeptLog(page_of(done, view.minute, view.part), names)


def asked_for_its_test(session: Session, viewer: Viewer, document_id: int, on: date) -> Asked:
    """The criteria that the record of the test asks for, of the first that the log supports."""
    query = (
        sa.select(TestRecord)
        .join(DocumentSupport, DocumentSupport.test_id == TestRecord.id)
        .where(DocumentSupport.document_id == document_id, DocumentSupport.fact == FactKind.TEST)
        .where(is_fact_seen(viewer, on))
        .order_by(TestRecord.id)
    )
    found: Sequence[TestRecord] = session.scalars(query.limit(1)).all()
    if not found:
        return Asked()
    return Asked(annex=found[0].class_annex, test_edition=found[0].edition)

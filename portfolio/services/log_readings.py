"""How a kept log is read and judged, kept with it: by whom, since when, saved by one at a time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from datetime import date
from pathlib import PurePath

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import changelog
from portfolio.db.documents import Document, DocumentSupport
from portfolio.db.log_readings import LogReading
from portfolio.domain.errors import ForbiddenError, InputError, NotFoundError, Problem
from portfolio.domain.rights import Right
from portfolio.services.classifying import Asked
from portfolio.services.documents.seeing import find_document, is_fact_seen, is_readable
from portfolio.services.editing import Saved, StaleError, differences
from portfolio.services.history import SOMEBODY
from portfolio.services.log_changes import log_read_otherwise
from portfolio.services.viewer import Viewer

_LIST_ENDINGS = frozenset({".csv", ".xlsx", ".toml"})


@dataclass(frozen=True, slots=True)
class ReadingFacts:
    """How to read and judge a log; "" and None where nobody said so.

    `ignition` is on the log's own clock, `channels` and `observations` are numbers of documents.
    """

    ignition: str = ""
    class_document: str = ""
    class_edition: str = ""
    class_annex: str = ""
    test_edition: str = ""
    channels: int | None = None
    observations: int | None = None

    @property
    def asked(self) -> Asked:
        """By which criteria to judge."""
        return Asked(self.class_document, self.class_edition, self.class_annex, self.test_edition)


@dataclass(frozen=True, slots=True)
class KeptReading:
    """What is kept of how a log is read; `revision` counts the saves."""

    facts: ReadingFacts
    by: str
    on: date
    revision: int


def kept_reading(
    session: Session, viewer: Viewer, document_id: int, on: date
) -> KeptReading | None:
    """What is kept with a document that the viewer sees, None for nothing. Raises NotFoundError.

    Who kept it is told to the holder's own people only.
    """
    document = find_document(session, viewer, document_id, on)
    row = _stored(session, document_id)
    return None if row is None else kept_as(viewer, document, row)


def kept_as(viewer: Viewer, document: Document, row: LogReading) -> KeptReading:
    """What a row of today or of an earlier day keeps, as the viewer of the document reads it."""
    by = row.kept_by if viewer.sees(document.organisation_id) else SOMEBODY
    return KeptReading(_facts(row), by, row.kept_on, row.revision)


def lists_seen(session: Session, viewer: Viewer, facts: ReadingFacts, on: date) -> frozenset[int]:
    """Of the lists that a reading names, those that the viewer sees."""
    named = [number for number in (facts.channels, facts.observations) if number is not None]
    query = sa.select(Document.id).where(Document.id.in_(named), is_readable(viewer, on))
    return frozenset(session.scalars(query))


def may_keep_reading(viewer: Viewer, document: Document) -> bool:
    """Whether the viewer may say how a document that it sees is read."""
    return viewer.may(Right.EDIT, document.organisation_id)


def editable_reading(
    session: Session, viewer: Viewer, document_id: int, on: date
) -> tuple[ReadingFacts | None, int]:
    """What is kept, with its revision; None and 0 for nothing.

    Raises NotFoundError, and ForbiddenError for whoever only sees the document.
    """
    _required(session, viewer, document_id, on)
    row = _stored(session, document_id)
    return (None, 0) if row is None else (_facts(row), row.revision)


def lists_beside(
    session: Session, viewer: Viewer, document_id: int, on: date
) -> Sequence[Document]:
    """The documents that may tell where channels are or what was seen, as far as the viewer sees
    them: those that support the same facts as the log."""
    same = sa.select(DocumentSupport.fact, DocumentSupport.fact_id).where(
        DocumentSupport.document_id == document_id, is_fact_seen(viewer, on)
    )
    beside = sa.select(DocumentSupport.document_id).where(
        sa.tuple_(DocumentSupport.fact, DocumentSupport.fact_id).in_(same)
    )
    query = sa.select(Document).where(
        Document.id.in_(beside), Document.id != document_id, is_readable(viewer, on)
    )
    rows = session.scalars(query.order_by(Document.id))
    return [row for row in rows if PurePath(row.file_name).suffix.casefold() in _LIST_ENDINGS]


def keep_reading(
    session: Session,
    viewer: Viewer,
    document_id: int,
    facts: ReadingFacts,
    *,
    revision: int,
    on: date,
) -> Saved:
    """Keep how a log is read, and mark what was made by how it was read before; `revision` is 0
    where nothing was kept.

    Raises NotFoundError, ForbiddenError, InputError for lists that the viewer does not see, and
    StaleError.
    """
    document = _required(session, viewer, document_id, on, is_locked=True)
    row = _stored(session, document_id)
    stored = ReadingFacts() if row is None else _facts(row)
    if (row.revision if row else 0) != revision:
        raise StaleError(stored, row.revision if row else 0)
    _check(session, viewer, facts, on)
    saved = Saved(document.id, f"How {document.file_name} is read")
    changes = differences(asdict(stored), asdict(facts))
    if row is not None and not changes:
        return saved
    action = "kept" if row is None else "changed"
    if row is None:
        row = LogReading(document_id=document_id, revision=0)
        session.add(row)
    for key, value in asdict(facts).items():
        setattr(row, key, value)
    row.kept_by, row.kept_on = viewer.name, on
    row.revision += 1
    session.flush()
    ref = document.reference or document.file_name
    entry = changelog.Entry(action, "log reading", row.id, ref, document.organisation_id, changes)
    changelog.record(session, viewer.actor, [entry])
    log_read_otherwise(session, viewer, document, on, was_kept=action == "changed")
    return saved


def _required(
    session: Session, viewer: Viewer, document_id: int, on: date, *, is_locked: bool = False
) -> Document:
    document = find_document(session, viewer, document_id, on)
    if not may_keep_reading(viewer, document):
        raise ForbiddenError(
            "Only editors of the organisation that holds it say how a log is read."
        )
    if is_locked:
        # two who keep a first reading at once: the second has to find the first one's
        session.refresh(document, with_for_update={"of": Document, "key_share": True})
    return document


def _stored(session: Session, document_id: int) -> LogReading | None:
    return session.scalar(sa.select(LogReading).filter_by(document_id=document_id))


def _facts(row: LogReading) -> ReadingFacts:
    return ReadingFacts(**{field.name: getattr(row, field.name) for field in fields(ReadingFacts)})


def _check(session: Session, viewer: Viewer, facts: ReadingFacts, on: date) -> None:
    problems = []
    for column in ("channels", "observations"):
        number = getattr(facts, column)
        if number is None:
            continue
        try:
            find_document(session, viewer, number, on)
        except NotFoundError as error:
            problems.append(Problem(str(error), column=column, value=str(number)))
    if problems:
        raise InputError(problems)

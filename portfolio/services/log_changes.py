"""What it touches when a kept log is read otherwise: records of its tests, packs that judged it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.documents import Document, DocumentSupport
from portfolio.db.life import Concerned, Reopened
from portfolio.db.models import TestRecord
from portfolio.domain.documents import FactKind
from portfolio.services.papers_in_packs import PaperPack, overtake_by_paper, packs_with_paper
from portfolio.services.reopening import keep_reopened
from portfolio.services.viewer import LOCAL, Viewer


@dataclass(frozen=True, slots=True)
class LogEffects:
    """What another reading would touch, as far as the viewer may read it: records of tests to be
    looked at again, and packs that would be overtaken."""

    tests: tuple[str, ...]
    packs: tuple[str, ...]


def foreseen_of_log(
    session: Session, viewer: Viewer, document_id: int, on: date, *, was_kept: bool
) -> LogEffects:
    """What it would touch if the log were read otherwise; nothing is written."""
    tests = _tests(session, document_id)
    packs = _packs(session, document_id, tests, on, read_by=viewer)
    own = (row.ref for row in tests if viewer.sees(row.organisation_id))
    return LogEffects(tuple(own) if was_kept else (), tuple(one.pack.words for one in packs))


def log_read_otherwise(
    session: Session, viewer: Viewer, document: Document, on: date, *, was_kept: bool
) -> None:
    """Mark the packs that judged the log otherwise, or not at all, as overtaken; and where a
    reading was kept before, re-open the records that may hold its answers."""
    tests = _tests(session, document.id)
    because = f"How the log {document.reference or document.file_name} is read has changed"[:400]
    packs = _packs(session, document.id, tests, on)
    overtake_by_paper(session, viewer.actor, packs, because, on)
    if was_kept:
        rows = [
            Reopened(
                organisation_id=row.organisation_id,
                subject=Concerned.TEST,
                subject_id=row.id,
                subject_ref=row.ref,
            )
            for row in tests
        ]
        keep_reopened(session, viewer.actor, rows, because, on)


def _tests(session: Session, document_id: int) -> Sequence[TestRecord]:
    supported = sa.select(DocumentSupport.test_id).where(
        DocumentSupport.document_id == document_id, DocumentSupport.fact == FactKind.TEST
    )
    query = sa.select(TestRecord).where(TestRecord.id.in_(supported))
    return session.scalars(query.order_by(TestRecord.ref, TestRecord.id)).all()


def _packs(
    session: Session,
    document_id: int,
    tests: Sequence[TestRecord],
    on: date,
    *,
    read_by: Viewer = LOCAL,
) -> list[PaperPack]:
    ids = {row.id for row in tests}
    return packs_with_paper(session, document_id, ids, (), on, read_by=read_by)

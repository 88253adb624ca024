"""What the other kept logs of a test say beside one: none of them is acquitted by another."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.documents import Document, DocumentSupport
from portfolio.db.log_readings import LogReading
from portfolio.domain.documents import FactKind
from portfolio.domain.errors import InputError, NotFoundError
from portfolio.domain.evidence import Answer3
from portfolio.domain.log_answers import LogAnswer, answers_of
from portfolio.services.documents.contents import Contents, UnreadableError
from portfolio.services.kept_logs import judge_kept_log
from portfolio.services.log_readings import kept_as
from portfolio.services.viewer import Viewer

_RUN, _NOT_ENDED = "run_seconds", "no_early_end"


@dataclass(frozen=True, slots=True)
class OtherLog:
    """Another kept log of the test: its answers by field, None where it cannot be judged."""

    document_id: int
    name: str
    answers: Mapping[str, LogAnswer] | None


def kept_logs_of(session: Session, test_id: int) -> Mapping[int, int]:
    """The logs of a test whose reading is kept: its revision by the log's document."""
    query = (
        sa.select(LogReading.document_id, LogReading.revision)
        .join(DocumentSupport, DocumentSupport.document_id == LogReading.document_id)
        .where(DocumentSupport.fact == FactKind.TEST, DocumentSupport.test_id == test_id)
    )
    return {row.document_id: row.revision for row in session.execute(query)}


def other_logs(
    session: Session,
    viewer: Viewer,
    contents: Contents,
    document_ids: Collection[int],
    *,
    on: date,
) -> list[OtherLog]:
    """The logs judged as each is kept."""
    query = (
        sa.select(Document, LogReading)
        .join(LogReading, LogReading.document_id == Document.id)
        .where(Document.id.in_(document_ids))
        .order_by(Document.id)
    )
    found = []
    for document, reading in session.execute(query):
        kept = kept_as(viewer, document, reading)
        answers = None
        try:
            done = judge_kept_log(session, viewer, contents, document.id, kept.facts, on=on)
            answers = {one.field: one for one in answers_of(done.found, done.log)}
        except (InputError, NotFoundError, UnreadableError):
            # what nobody can judge may say "not met"
            pass
        found.append(OtherLog(document.id, document.reference or document.file_name, answers))
    return found


def held_back(answers: Sequence[LogAnswer], others: Sequence[OtherLog]) -> tuple[LogAnswer, ...]:
    """The answers without every "met" that another log of the test speaks against, or could; nor
    how long the test ran where it is doubted so that it did not end early."""
    found = {one.field: _beside(one, others) for one in answers}
    before = {one.field: one for one in answers}
    ended = found.get(_NOT_ENDED)
    if ended is not None and ended != before[_NOT_ENDED] and _RUN in found:
        found[_RUN] = replace(found[_RUN], value=None, reason=ended.reason)
    return tuple(found.values())


def _beside(answer: LogAnswer, others: Sequence[OtherLog]) -> LogAnswer:
    if answer.value is not Answer3.MET:
        return answer
    for other in others:
        said = None if other.answers is None else other.answers.get(answer.field)
        if said is not None and said.value is Answer3.NOT_MET:
            reason = f"{_named(other)} says not met: {said.reason}"
            return replace(answer, value=None, reason=reason)
    for other in others:
        if other.answers is None:
            reason = f"{_named(other)} cannot be judged, and may say not met"
            return replace(answer, value=None, reason=reason)
    return answer


def _named(other: OtherLog) -> str:
    return f"another log of this test, {other.name} (document {other.document_id}),"

"""Takes what a kept log answers into the record of its test: shown beforehand, saved like any
other change of the record. Only answers go: never an outcome, never a classification."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.documents import Document, DocumentSupport
from portfolio.db.models import TestRecord
from portfolio.domain import evidence
from portfolio.domain.documents import FactKind
from portfolio.domain.errors import InputError, NotFoundError, Problem
from portfolio.domain.evidence import Answer3, EvidenceKind
from portfolio.domain.limits import CriteriaSet
from portfolio.domain.log_answers import LogAnswer, answers_of
from portfolio.domain.rights import Right
from portfolio.services.documents.contents import Contents
from portfolio.services.documents.seeing import find_document
from portfolio.services.editing import Saved, StaleError
from portfolio.services.editing_tests import (
    editable_test,
    save_test,
    zones_it_bears_on,
)
from portfolio.services.foreseeing import Effects, foreseen
from portfolio.services.kept_logs import judge_kept_log
from portfolio.services.log_readings import ReadingFacts, kept_reading
from portfolio.services.other_logs import held_back, kept_logs_of, other_logs
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class ReadAnswers:
    """What one log answers, where no other kept log of the test speaks against it.

    `readings` are the revisions of how this log and the others are read, by document; `source`
    names the log's document and content, for the change log.
    """

    document_id: int
    readings: Mapping[int, int]
    source: str
    answers: tuple[LogAnswer, ...]


@dataclass(frozen=True, slots=True)
class AnswerLine:
    """A field of the record: as it is recorded, as the log answers it, and why."""

    answer: LogAnswer
    before: Answer3 | int | None


@dataclass(frozen=True, slots=True)
class AnswersPage:
    """What taking the answers in would change and what stays; `same` are recorded so already.

    `effects` is None where nothing would change.
    """

    test_id: int
    test_ref: str
    revision: int
    read: ReadAnswers
    changes: tuple[AnswerLine, ...]
    same: tuple[AnswerLine, ...]
    untold: tuple[AnswerLine, ...]
    effects: Effects | None

    @property
    def mark(self) -> str:
        """What stands on this page, in short: what is saved has to be what was shown."""
        values = [f"{line.answer.field}={line.answer.value}" for line in self.changes]
        readings = " ".join(f"{key}:{value}" for key, value in sorted(self.read.readings.items()))
        return f"{self.revision} {readings} {' '.join(values)}"


def records_to_answer(
    session: Session, viewer: Viewer, document_id: int
) -> Sequence[tuple[int, str]]:
    """The tests that a log supports and whose records the viewer may change: ids, references."""
    rows = session.scalars(_tests_of(document_id).order_by(TestRecord.ref))
    return [(row.id, row.ref) for row in rows if viewer.may(Right.EDIT, row.organisation_id)]


def read_answers(
    session: Session,
    viewer: Viewer,
    contents: Contents,
    document_id: int,
    test_id: int,
    *,
    on: date,
) -> ReadAnswers:
    """What the log answers of its test, read as it is kept, beside the other logs of it.

    Raises NotFoundError and ForbiddenError, UnreadableError for a damaged file, and InputError
    where nothing is kept, the log cannot be read, or it is judged by criteria for another test.
    """
    document = find_document(session, viewer, document_id, on)
    row = session.scalar(_tests_of(document_id).where(TestRecord.id == test_id))
    if row is None:
        raise NotFoundError("This log supports no such test.")
    viewer.require(Right.EDIT, row.organisation_id, what="test")
    kept = kept_reading(session, viewer, document_id, on)
    if kept is None:
        raise InputError("Keep how this log is read first: what is not kept cannot be repeated.")
    done = judge_kept_log(session, viewer, contents, document_id, kept.facts, on=on)
    _check(row, kept.facts, done.found.criteria_set)
    readings = kept_logs_of(session, test_id)
    others = other_logs(session, viewer, contents, readings.keys() - {document_id}, on=on)
    return ReadAnswers(
        document_id,
        readings,
        f"From the log {_name(document)} (document {document.id}), SHA-256 {document.sha256}, "
        f"judged by {done.found.criteria_set.name}.",
        held_back(answers_of(done.found, done.log), others),
    )


def answers_page(
    session: Session, viewer: Viewer, read: ReadAnswers, test_id: int, on: date
) -> AnswersPage:
    """What taking the answers in would do; nothing is written. Raises NotFoundError."""
    test = editable_test(session, viewer, test_id)
    lines = [AnswerLine(one, getattr(test.facts, one.field)) for one in read.answers]
    told = [line for line in lines if line.answer.value is not None]
    changes = tuple(line for line in told if line.answer.value != line.before)
    effects = None
    if changes:
        row = session.get_one(TestRecord, test_id)
        values = {line.answer.field: line.answer.value for line in changes}
        zones = zones_it_bears_on(session, row)
        effects = foreseen(session, viewer, row, lambda one: _with(one, values), zones, on=on)
    return AnswersPage(
        test.id,
        test.facts.ref,
        test.revision,
        read,
        changes,
        tuple(line for line in told if line.answer.value == line.before),
        tuple(line for line in lines if line.answer.value is None),
        effects,
    )


def take_answers(
    session: Session, viewer: Viewer, read: ReadAnswers, test_id: int, *, revision: int, on: date
) -> Saved:
    """Save the answers that can be told in the record of the test; the change log says whence.

    Raises NotFoundError, ForbiddenError, InputError, and StaleError where the record or how one of
    the test's logs is read has changed since.
    """
    test = editable_test(session, viewer, test_id)
    if kept_logs_of(session, test_id) != read.readings:
        raise StaleError(test.facts, test.revision)
    values: dict[str, Any] = {one.field: one.value for one in read.answers if one.value is not None}
    facts = replace(test.facts, **values)
    return save_test(session, viewer, test_id, facts, revision=revision, on=on, reason=read.source)


def _tests_of(document_id: int) -> sa.Select[TestRecord]:
    supported = sa.select(DocumentSupport.test_id).where(
        DocumentSupport.document_id == document_id, DocumentSupport.fact == FactKind.TEST
    )
    return sa.select(TestRecord).where(
        TestRecord.id.in_(supported), TestRecord.kind == EvidenceKind.TEST
    )


def _name(document: Document) -> str:
    return document.reference or document.file_name


def _check(row: TestRecord, reading: ReadingFacts, criteria: CriteriaSet) -> None:
    """Answers by criteria for another part, annex or edition than the record's are not its own."""
    if not reading.class_annex:
        raise InputError("Keep first by which criteria this log is judged: they are not told.")
    problems = []
    for what, asked, recorded in (
        ("part of the test", criteria.part, row.part),
        ("classification document", criteria.document, row.class_document),
        ("edition of it", criteria.edition, row.class_edition),
        ("annex", criteria.annex, row.class_annex),
        ("edition of the test", reading.test_edition, row.edition),
    ):
        if asked and recorded and asked.casefold() != recorded.casefold():
            problems.append(
                Problem(
                    f"The log is judged for another {what} than the record of {row.ref} says.",
                    f"{recorded}, or another record",
                    value=asked,
                )
            )
    if problems:
        raise InputError(problems)


def _with(
    test: evidence.TestRecord, values: dict[str, Answer3 | int | None]
) -> evidence.TestRecord:
    """The test with these answers in its record."""
    criteria: dict[str, Answer3] = {
        field: value for field, value in values.items() if isinstance(value, Answer3)
    }
    run = values.get("run_seconds")
    return replace(
        test,
        criteria=replace(test.criteria, **criteria),
        run_seconds=run if isinstance(run, int) else test.run_seconds,
    )

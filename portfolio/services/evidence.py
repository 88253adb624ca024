"""The tests that a viewer may see: filtered, sorted and paged in the store."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session, contains_eager

from portfolio.db.models import Organisation, TestConsent, TestRecord
from portfolio.domain.errors import InputError, Problem
from portfolio.domain.evidence import (
    WITHOUT_WALL_BEHIND,
    Answer3,
    Consent,
    Holding,
    Outcome,
    Standing,
    outcome_from_criteria,
    outcome_of,
    outcomes_disagree,
    reference_only,
)
from portfolio.domain.leaning import Way
from portfolio.services.explaining import WITHHELD
from portfolio.services.leaning import bears_on_any, counts_by_test, counts_of
from portfolio.services.reliance import Seen, is_shown_to, is_visible, seen
from portfolio.services.viewer import Viewer
from portfolio.services.wall_words import wall_in_short


@dataclass(frozen=True, slots=True)
class EvidenceFilter:
    """What to keep of the list; empty keeps all. `text` looks in reference, title and holder."""

    text: str = ""
    outcome: str = ""
    standing: str = ""
    holding: str = ""
    leaning: str = ""
    sort: str = "ref"


@dataclass(frozen=True, slots=True)
class EvidenceRow:
    """One test as the list shows it; `consent` is what this viewer has."""

    id: int
    ref: str
    title: str
    holder: str
    standard: str
    tested_on: Any
    outcome: Outcome
    from_criteria: Outcome
    printed: Outcome
    disagree: bool
    standing: Standing
    holding: Holding
    consent: Consent
    wall: str
    covers: int
    against: int
    in_doubt: int
    nearest: int


@dataclass(frozen=True, slots=True)
class EvidencePage:
    """Part of the list, and how long it is altogether."""

    rows: tuple[EvidenceRow, ...]
    total: int


SORTS: Mapping[str, str] = {
    "ref": "reference",
    "tested_on": "date of the test, newest first",
    "outcome": "outcome, failed first",
    "leaning": "zones leaning on it, most first",
}
_WORDS: Mapping[str, tuple[str, ...]] = {
    "outcome": tuple(Outcome),
    "standing": tuple(Standing),
    "holding": tuple(Holding),
    "leaning": tuple(Way),
    "sort": tuple(SORTS),
}


def checked(wanted: EvidenceFilter) -> EvidenceFilter:
    """The filter, if every word of it is known. Raises InputError naming those that are not."""
    problems = [
        Problem(f"This is no {key} to choose by.", f"one of: {', '.join(words)}", value=given[:40])
        for key, words in _WORDS.items()
        if (given := getattr(wanted, key)) and given not in words
    ]
    if problems:
        raise InputError(problems)
    return wanted


def list_evidence(
    session: Session,
    viewer: Viewer,
    wanted: EvidenceFilter,
    on: date,
    *,
    limit: int | None = None,
    offset: int = 0,
) -> EvidencePage:
    """The tests that `wanted` keeps. Raises InputError for words that are not known."""
    checked(wanted)
    query = _visible(viewer, on).where(*_conditions(viewer, wanted, on))
    bare = query.with_only_columns(TestRecord.id, maintain_column_froms=True)
    total = session.scalar(sa.select(sa.func.count()).select_from(bare.subquery())) or 0
    counts: dict[Way, Any] = {}
    # to count every zone of every test is the dear part: only where it decides the order
    if wanted.sort == "leaning":
        leaning = counts_by_test(viewer)
        counts = {way: sa.func.coalesce(leaning.c[way.value], 0) for way in Way}
        query = query.outerjoin(leaning, leaning.c.test_id == TestRecord.id)
    query = query.order_by(*_order(viewer, wanted.sort, counts, on)).limit(limit).offset(offset)
    found = session.execute(query.options(contains_eager(TestRecord.organisation))).all()
    few = None if limit is None else [row[0].id for row in found]
    leans = counts_of(session, viewer, few)
    rows = (
        _row(one, holder, leans.get(test.id, {}))
        for test, holder, said in found
        if (one := _seen(viewer, test, said, on)) is not None
    )
    return EvidencePage(tuple(rows), total)


def _visible(viewer: Viewer, on: date) -> sa.Select[TestRecord, str, TestConsent]:
    """The tests that a viewer sees, with the holder's name and what the sponsor said to them."""
    own = viewer.organisation_id
    # what names nobody has no organisation, and so must not be taken for said to such a viewer
    to_them = sa.false() if own is None else TestConsent.organisation_id == own
    query = (
        sa.select(TestRecord, Organisation.name, TestConsent)
        .select_from(TestRecord)
        .join(Organisation, Organisation.id == TestRecord.organisation_id)
        .outerjoin(TestConsent, (TestConsent.test_id == TestRecord.id) & to_them)
    )
    return query if own is None else query.where(is_visible(own, on))


@dataclass(frozen=True, slots=True)
class FoundTest:
    """One test as a viewer sees it, and who holds it."""

    seen: Seen
    holder: str


def find_test(session: Session, viewer: Viewer, test_id: int, on: date) -> FoundTest | None:
    """The test, if the viewer sees it."""
    query = _visible(viewer, on).where(TestRecord.id == test_id)
    found = session.execute(query.options(contains_eager(TestRecord.organisation))).first()
    if found is None:
        return None
    test, holder, said = found
    one = _seen(viewer, test, said, on)
    return None if one is None else FoundTest(one, holder)


def _seen(viewer: Viewer, row: TestRecord, said: TestConsent | None, on: date) -> Seen | None:
    return seen(row, said, viewer.organisation_id or row.organisation_id, on)


def _is_shown(viewer: Viewer, on: date) -> sa.ColumnElement[bool]:
    own = viewer.organisation_id
    return sa.true() if own is None else is_shown_to(own, on)


def _conditions(viewer: Viewer, wanted: EvidenceFilter, on: date) -> list[sa.ColumnElement[bool]]:
    found: list[sa.ColumnElement[bool]] = []
    if text := wanted.text.strip().casefold():
        # what may not be shown must not be found either
        title = sa.case((_is_shown(viewer, on), TestRecord.title), else_="")
        where = TestRecord.ref + " " + title + " " + Organisation.name
        found.append(sa.func.lower(where).contains(text, autoescape=True))
    if wanted.outcome:
        found.append(_outcome() == wanted.outcome)
    if wanted.standing:
        found.append(TestRecord.standing == Standing(wanted.standing))
    if wanted.holding:
        found.append(TestRecord.holding == Holding(wanted.holding))
    if wanted.leaning:
        found.append(bears_on_any(viewer, Way(wanted.leaning)))
    return found


def _outcome() -> sa.ColumnElement[str]:
    """The stricter of the printed outcome and the criteria's, as `evidence.outcome_of` has it."""
    criteria = (
        TestRecord.external_spread,
        TestRecord.internal_spread,
        TestRecord.burn_through,
        TestRecord.no_flames_above_rig,
        TestRecord.no_early_end,
    )
    failed = sa.or_(*(criterion == Answer3.NOT_MET for criterion in criteria))
    # burn-through is NULL where it does not apply, and then it is not asked; it always applies
    # to a wall on a frame, see evidence.TestRecord
    on_frame = sa.or_(
        *(
            (TestRecord.standard == standard) & (TestRecord.part == part)
            for standard, part in WITHOUT_WALL_BEHIND
        )
    )
    beside_the_point = TestRecord.burn_through.is_(None) & ~on_frame
    all_met = sa.and_(
        *(
            sa.or_(criterion == Answer3.MET, beside_the_point)
            if criterion is TestRecord.burn_through
            else criterion == Answer3.MET
            for criterion in criteria
        )
    )
    return sa.case(
        (failed | (TestRecord.printed_outcome == Outcome.FAILED), Outcome.FAILED.value),
        (all_met | (TestRecord.printed_outcome == Outcome.PASSED), Outcome.PASSED.value),
        else_=Outcome.NOT_TOLD.value,
    )


def _order(viewer: Viewer, sort: str, counts: Mapping[Way, Any], on: date) -> list[Any]:
    by_ref = [TestRecord.ref, TestRecord.id]
    if sort == "tested_on":
        # what may not be shown must not be told by its place either
        told = sa.case((_is_shown(viewer, on), TestRecord.tested_on))
        return [told.desc().nulls_last(), *by_ref]
    if sort == "outcome":
        return [_outcome(), *by_ref]
    if sort == "leaning":
        return [(counts[Way.COVERS] + counts[Way.AGAINST] + counts[Way.IN_DOUBT]).desc(), *by_ref]
    return by_ref


def _row(found: Seen, holder: str, leaning: Mapping[Way, int]) -> EvidenceRow:
    row, whole = found.row, found.record()
    known = whole if found.is_shown else reference_only(whole)
    standard = "-".join(part for part in (row.standard, row.part) if part)
    return EvidenceRow(
        row.id,
        row.ref,
        row.title if found.is_shown else WITHHELD,
        holder,
        ":".join(part for part in (standard, row.edition) if part) if found.is_shown else "",
        row.tested_on if found.is_shown else None,
        outcome_of(known),
        outcome_from_criteria(known.criteria),
        known.printed_outcome,
        outcomes_disagree(known),
        row.standing,
        row.holding,
        found.consent,
        wall_in_short(known.build_up) if found.is_shown else WITHHELD,
        *(leaning.get(way, 0) for way in Way),
    )

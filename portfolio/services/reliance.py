"""Which tests an organisation sees, may lean on, and may be shown in full."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from portfolio.db import mapping
from portfolio.db.models import TestConsent, TestRecord
from portfolio.domain import evidence
from portfolio.domain.evidence import Consent, Shows
from portfolio.reference.loader import load_reference
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class Seen:
    """One test as an organisation sees it: `is_shown` in full, or by reference and outcome."""

    row: TestRecord
    consent: Consent
    is_shown: bool

    def record(self) -> evidence.TestRecord:
        """The test with the consent that the organisation has for leaning on it."""
        return mapping.tested_wall_of(self.row, load_reference().vocabulary, self.consent)


def visible_tests(organisation_id: int, on: date) -> sa.Select[TestRecord, TestConsent]:
    """Own tests, published ones, and those whose sponsor's consent to it is in force.

    Each comes with what the sponsor said to it, if anything. Of several holders of one reference,
    the organisation's own record comes last and so counts.
    """
    mine = (TestConsent.test_id == TestRecord.id) & (TestConsent.organisation_id == organisation_id)
    own = TestRecord.organisation_id == organisation_id
    return (
        sa.select(TestRecord, TestConsent)
        .outerjoin(TestConsent, mine)
        .where(is_visible(organisation_id, on))
        .order_by(TestRecord.ref, own, TestRecord.id)
    )


def is_visible(organisation_id: int, on: date) -> sa.ColumnElement[bool]:
    """The condition, in a query joined to what the sponsor said to the organisation."""
    own = TestRecord.organisation_id == organisation_id
    return own | (TestRecord.consent == Consent.PUBLISHED) | is_in_force(on)


def is_in_force(on: date) -> sa.ColumnElement[bool]:
    """The condition, of what was said or of nothing, that it is a consent given that lasts.

    Whoever was only asked, refused, or given a consent that ran out shows the test to nobody.
    """
    lasts = TestConsent.until.is_(None) | (TestConsent.until >= on)
    return sa.func.coalesce((TestConsent.consent == Consent.GIVEN) & lasts, sa.false())


def is_shown_to(organisation_id: int, on: date) -> sa.ColumnElement[bool]:
    """`Seen.is_shown` as a condition, in a query joined like that of `is_visible`."""
    everything = is_in_force(on) & (TestConsent.shows == Shows.EVERYTHING)
    own = TestRecord.organisation_id == organisation_id
    return own | (TestRecord.consent == Consent.PUBLISHED) | everything


def seen(row: TestRecord, said: TestConsent | None, organisation_id: int, on: date) -> Seen | None:
    """What an organisation may do with a test; None where it does not see it at all."""
    if row.organisation_id == organisation_id:
        return Seen(row, row.consent, is_shown=True)
    if row.consent is Consent.PUBLISHED:
        return Seen(row, Consent.PUBLISHED, is_shown=True)
    if said is None or said.consent is not Consent.GIVEN:
        return None
    if said.until is not None and said.until < on:
        return None
    return Seen(row, Consent.GIVEN, is_shown=said.shows is Shows.EVERYTHING)


def seen_tests(
    session: Session, organisation_id: int, on: date, refs: Collection[str] | None = None
) -> Mapping[str, Seen]:
    """The tests that an organisation sees, by reference; `refs` keeps it to some."""
    query = visible_tests(organisation_id, on).options(joinedload(TestRecord.organisation))
    if refs is not None:
        query = query.where(TestRecord.ref.in_(refs))
    return {test.row.ref: test for test in _seen_of(session, query, organisation_id, on)}


def _seen_of(
    session: Session, query: sa.Select[TestRecord, TestConsent], organisation_id: int, on: date
) -> Iterator[Seen]:
    for row, said in session.execute(query):
        if (found := seen(row, said, organisation_id, on)) is not None:
            yield found


def tests_for(
    session: Session, organisation_id: int, on: date, refs: Collection[str] | None
) -> list[evidence.TestRecord]:
    """The tests that an organisation sees. `refs` keeps it to some, to those that they lean on, and
    to other issues of their reports."""
    found = seen_tests(session, organisation_id, on, refs)
    if refs is not None:
        beside = {ref for test in found.values() for ref in test.row.leans_on}
        beside |= _of_the_same_reports(session, organisation_id, on, found.values())
        if beside - set(refs):
            return tests_for(session, organisation_id, on, {*refs, *beside})
    return [test.record() for test in found.values()]


def _of_the_same_reports(
    session: Session, organisation_id: int, on: date, found: Collection[Seen]
) -> set[str]:
    """The references of tests recorded from any issue of the reports that these are from."""
    reports = {test.row.report_ref.lower() for test in found} - {""}
    if not reports:
        return set()
    visible = visible_tests(organisation_id, on).where(
        sa.func.lower(TestRecord.report_ref).in_(reports)
    )
    return set(session.scalars(visible.with_only_columns(TestRecord.ref)))


def with_a_page(
    session: Session, viewer: Viewer, on: date, test_ids: Collection[int]
) -> frozenset[int]:
    """Of the tests given, those that the viewer's own organisation sees, and so has pages of."""
    own = viewer.organisation_id
    if own is None:
        return frozenset(test_ids)
    query = visible_tests(own, on).where(TestRecord.id.in_(test_ids))
    return frozenset(row.id for row, _ in session.execute(query))


def shown_in_full(
    session: Session, viewer: Viewer, on: date, test_ids: Collection[int]
) -> frozenset[int]:
    """Of the tests given, those that may be shown to the viewer in full.

    Asked record by record: of two holders' tests of one reference the viewer may see one only.
    """
    own = viewer.organisation_id
    if own is None:
        return frozenset(test_ids)
    query = visible_tests(own, on).where(TestRecord.id.in_(test_ids))
    return frozenset(t.row.id for t in _seen_of(session, query, own, on) if t.is_shown)

"""Which tests an organisation sees, may lean on, and may be shown in full."""

from __future__ import annotations

from collections.abc import Collection, Iterator, MutableMapping
from dataclasses import dataclass, replace
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from portfolio.db import mapping
from portfolio.db.models import Organisation, TestConsent, TestRecord
from portfolio.domain import evidence
from portfolio.domain.evidence import Consent, Shows
from portfolio.domain.shelf import folded
from portfolio.reference.loader import load_reference
from portfolio.services.test_names import TestNames, VisibleTest, names_of
from portfolio.services.viewer import Viewer

Read = MutableMapping[int, evidence.TestRecord]
"""Tests by id, as they were read for one organisation: another differs in consent and names."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One test as an organisation sees it: `is_shown` in full, or by reference and outcome."""

    row: TestRecord
    consent: Consent
    is_shown: bool

    def record(
        self, known: TestNames | None = None, read: Read | None = None
    ) -> evidence.TestRecord:
        """The test with the consent that the organisation has for leaning on it, and by the
        references that it is known by, itself and what it leans on. `read` has the tests that were
        read before, whoever asked for them."""
        record = None if read is None else read.get(self.row.id)
        if record is None:
            record = mapping.tested_wall_of(self.row, load_reference().vocabulary, self.consent)
            if read is not None:
                read[self.row.id] = record
        if (record.consent, record.wall_is_shown) != (self.consent, self.is_shown):
            record = replace(record, consent=self.consent, wall_is_shown=self.is_shown)
        if known is None:
            return record
        name = known.names.get(self.row.id, record.ref)
        leans_on = tuple(known.meant(ref, self.row.organisation_id) for ref in record.leans_on)
        if (name, leans_on) == (record.ref, record.leans_on):
            return record
        return replace(record, ref=name, leans_on=leans_on)


def visible_tests(organisation_id: int, on: date) -> sa.Select[TestRecord, TestConsent]:
    """Own tests, published ones, and those whose sponsor's consent to it is in force.

    Each comes with what the sponsor said to it, if anything.
    """
    mine = (TestConsent.test_id == TestRecord.id) & (TestConsent.organisation_id == organisation_id)
    return (
        sa.select(TestRecord, TestConsent)
        .outerjoin(TestConsent, mine)
        .where(is_visible(organisation_id, on))
        .order_by(TestRecord.ref, TestRecord.id)
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


def known_tests(session: Session, organisation_id: int, on: date) -> TestNames:
    """The references by which an organisation knows the tests that it sees."""
    return names_of(_listed(session, organisation_id, on), organisation_id)


def names_for(session: Session, viewer: Viewer, on: date) -> TestNames:
    """The references by which a viewer knows tests; whoever sees all has none of them as their own,
    and knows those of one reference by their holders."""
    if viewer.organisation_id is not None:
        return known_tests(session, viewer.organisation_id, on)
    told = sa.select(*_NAMED).join(TestRecord.organisation)
    return names_of((VisibleTest(*row) for row in session.execute(told)), _NOBODY)


_NAMED = (
    TestRecord.id,
    TestRecord.ref,
    TestRecord.organisation_id,
    Organisation.ref,
    TestRecord.report_ref,
)
_NOBODY = 0


def _listed(session: Session, organisation_id: int, on: date) -> list[VisibleTest]:
    query = visible_tests(organisation_id, on).join(TestRecord.organisation)
    told = query.with_only_columns(*_NAMED)
    return [VisibleTest(*row) for row in session.execute(told)]


def records_for(
    session: Session,
    organisation_id: int,
    on: date,
    names: Collection[str] | None = None,
    read: Read | None = None,
) -> dict[int, evidence.TestRecord]:
    """The tests that an organisation sees, by id. `names` keeps it to some, to those that they lean
    on, directly or not, and to all that come from the same reports. `read` keeps what was read of
    all of them for the next organisation."""
    listed = _listed(session, organisation_id, on)
    known = names_of(listed, organisation_id)
    if names is None:
        every = _seen(session, organisation_id, on, None)
        return {test.row.id: test.record(known, read) for test in every}
    ids = known.ids
    reports: dict[str, set[int]] = {}
    for test in listed:
        if test.report_ref:
            reports.setdefault(folded(test.report_ref), set()).add(test.id)
    wanted = {ids[name] for name in names if name in ids}
    found: dict[int, evidence.TestRecord] = {}
    while missing := wanted - found.keys():
        for seen_test in _seen(session, organisation_id, on, missing):
            record = seen_test.record(known)
            found[seen_test.row.id] = record
            wanted |= {ids[name] for name in record.leans_on if name in ids}
            wanted |= reports.get(folded(record.report_ref), set())
        if not missing & found.keys():
            break
    return found


def _seen(
    session: Session, organisation_id: int, on: date, ids: Collection[int] | None
) -> Iterator[Seen]:
    query = visible_tests(organisation_id, on).options(joinedload(TestRecord.organisation))
    if ids is not None:
        query = query.where(TestRecord.id.in_(ids))
    for row, said in session.execute(query):
        if (found := seen(row, said, organisation_id, on)) is not None:
            yield found


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
    return frozenset(t.row.id for t in _seen(session, own, on, test_ids) if t.is_shown)

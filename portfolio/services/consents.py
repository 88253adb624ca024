"""What a test's sponsor said to organisations that want to lean on it, as the holder records it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import asdict, dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import changelog
from portfolio.db.models import Building, TestConsent, TestRecord, Zone
from portfolio.domain.errors import InputError, NotFoundError, Problem
from portfolio.domain.evidence import Consent, Shows
from portfolio.domain.rights import Right
from portfolio.services.documents.adding import detach_consents
from portfolio.services.editing import (
    Changes,
    Saved,
    StaleError,
    differences,
    locked_test,
    recompute,
)
from portfolio.services.reopening import Watch, reopen, watch
from portfolio.services.stated_organisations import organisations_meant
from portfolio.services.telling import saved_as_told
from portfolio.services.viewer import Viewer

SAID = (Consent.ASKED, Consent.GIVEN, Consent.REFUSED)
"""What a sponsor can have said to another organisation, or been asked."""


@dataclass(frozen=True, slots=True)
class ConsentFacts:
    """What was asked or said. `until` is the last day on which a consent given counts."""

    organisation: str
    consent: Consent = Consent.ASKED
    purpose: str = ""
    on: date | None = None
    until: date | None = None
    shows: Shows = Shows.REFERENCE
    document: str = ""


@dataclass(frozen=True, slots=True)
class Consents:
    """A test with what was said to each organisation; `revision` is the test's."""

    test_id: int
    test_ref: str
    revision: int
    rows: Sequence[TestConsent]

    def facts_of(self, organisation: str) -> ConsentFacts | None:
        """What was said to an organisation, by its reference."""
        found = (_facts(row) for row in self.rows if row.organisation_ref == organisation)
        return next(found, None)


def consents_of(session: Session, viewer: Viewer, test_id: int) -> Consents:
    """The holder's list. Raises NotFoundError, or ForbiddenError for the holder's readers."""
    test = session.get(TestRecord, test_id)
    if test is None:
        raise NotFoundError("There is no such test.")
    viewer.require(Right.EDIT, test.organisation_id, what="test")
    query = (
        sa.select(TestConsent)
        .where(TestConsent.test_id == test_id)
        .order_by(TestConsent.organisation_ref)
    )
    return Consents(test.id, test.ref, test.revision, session.scalars(query).all())


def consent_of(found: Consents, consent_id: int) -> TestConsent:
    """One entry of the list. Raises NotFoundError."""
    row = next((row for row in found.rows if row.id == consent_id), None)
    if row is None:
        raise NotFoundError("There is no such consent.")
    return row


def save_consent(
    session: Session, viewer: Viewer, test_id: int, facts: ConsentFacts, *, revision: int, on: date
) -> Saved:
    """Keep what was said, and compute the coverage of that organisation's zones anew.

    It takes effect for the organisation that has the stated reference on the day of the save, and
    for nobody where none has it: nothing of the answer tells which. Raises NotFoundError,
    ForbiddenError, InputError, and StaleError.
    """
    test = locked_test(session, viewer, test_id)
    known = consents_of(session, viewer, test_id)
    stored = known.facts_of(facts.organisation)
    if test.revision != revision:
        raise StaleError(stored or ConsentFacts(facts.organisation), test.revision)
    _check(test, facts, on)
    before = {} if stored is None else asdict(stored)
    changes = differences({key: before.get(key) for key in asdict(facts)}, asdict(facts))
    changes.pop("organisation", None)
    if not changes:
        return Saved(test.id, test.ref)
    row = next((row for row in known.rows if row.organisation_ref == facts.organisation), None)
    if row is None:
        row = TestConsent(test_id=test.id, organisation_ref=facts.organisation)
    owner = organisations_meant(session, [facts.organisation]).get(facts.organisation)
    touched = _touched(session, test, row, owner, on)
    _write(row, facts)
    row.organisation_id = owner
    session.add(row)
    entry = _entry(test, "consent", facts.organisation, changes)
    because = f"The consent to lean on test {test.ref} has changed"
    return _finished(session, viewer, touched, entry, because)


def take_back(
    session: Session,
    viewer: Viewer,
    test_id: int,
    consent_id: int,
    reason: str,
    *,
    revision: int,
    on: date,
) -> Saved:
    """Remove an entry that should not be there; what it was and why it went stay in the log.

    It has no effect from then on, and no document supports it any more. Raises NotFoundError,
    ForbiddenError, and InputError without a reason or where somebody saved in the meantime.
    """
    test = locked_test(session, viewer, test_id)
    row = consent_of(consents_of(session, viewer, test_id), consent_id)
    if not reason.strip():
        raise InputError([Problem("Say why it is taken back.", column="reason")])
    if test.revision != revision:
        message = "Somebody else has saved this in the meantime."
        raise InputError([Problem(message, "to open the list again and look")])
    gone = {key: (value, None) for key, value in asdict(_facts(row)).items() if value is not None}
    gone.pop("organisation")
    touched = _touched(session, test, row, row.organisation_id, on)
    detach_consents(session, viewer, [row.id], reason)
    session.delete(row)
    entry = _entry(test, "consent taken back", row.organisation_ref, gone, reason.strip())
    because = f"The consent to lean on test {test.ref} was taken back"
    return _finished(session, viewer, touched, entry, because)


@dataclass(frozen=True, slots=True)
class _Touched:
    """What a change of an entry touches, noted before it; `owners` had leave to lean so far."""

    test: TestRecord
    on: date
    zone_ids: Sequence[int]
    watched: Watch
    owners: Collection[int]


def _touched(
    session: Session, test: TestRecord, row: TestConsent, owner: int | None, on: date
) -> _Touched:
    zones = sa.select(Zone.id).join(Building).where(Building.organisation_id == owner)
    zone_ids = () if owner is None else session.scalars(zones).all()
    leaned, was_given = row.organisation_id, row.consent is Consent.GIVEN
    owners = () if leaned is None or not was_given else (leaned,)
    return _Touched(test, on, zone_ids, watch(session, [test.id], on, zone_ids), owners)


def _entry(
    test: TestRecord, action: str, organisation: str, changes: Changes, reason: str = ""
) -> changelog.Entry:
    told = {f"{key}, to {organisation}": change for key, change in changes.items()}
    return changelog.Entry(action, "test", test.id, test.ref, test.organisation_id, told, reason)


def _finished(
    session: Session, viewer: Viewer, touched: _Touched, entry: changelog.Entry, because: str
) -> Saved:
    """Log the change, compute again what it touches, and re-open what leaned on the test."""
    test, on = touched.test, touched.on
    test.revision += 1
    session.flush()
    changelog.record(session, viewer.actor, [entry])
    _, changed = recompute(session, on, zone_ids=touched.zone_ids)
    if touched.owners:
        reopen(
            session,
            viewer.actor,
            touched.watched,
            because,
            on,
            changed=[test.id],
            zone_ids=touched.zone_ids,
            owners=touched.owners,
        )
    return saved_as_told(session, viewer, test, changed, touched.zone_ids)


def _check(test: TestRecord, facts: ConsentFacts, on: date) -> None:
    """Raises InputError. Whether an organisation has the reference is not asked here."""
    problems = []
    if facts.organisation == test.organisation.ref:
        message = "This is the holder of the test, who records its own consent with the test."
        problems.append(Problem(message, column="organisation", value=facts.organisation))
    if facts.consent not in SAID:
        problems.append(Problem("This cannot be said to another organisation.", column="consent"))
    if facts.on is not None and facts.on > on:
        problems.append(Problem("This day has not come yet.", column="on"))
    if facts.on is not None and facts.until is not None and facts.until < facts.on:
        problems.append(Problem("It would end before it begins.", column="until"))
    if problems:
        raise InputError(problems)


def _facts(row: TestConsent) -> ConsentFacts:
    return ConsentFacts(
        row.organisation_ref,
        row.consent,
        row.purpose,
        row.on,
        row.until,
        row.shows,
        row.document,
    )


def _write(row: TestConsent, facts: ConsentFacts) -> None:
    row.consent, row.shows = facts.consent, facts.shows
    row.purpose, row.document = facts.purpose, facts.document
    row.on, row.until = facts.on, facts.until

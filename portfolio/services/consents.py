"""What a test's sponsor said to organisations that want to lean on it, as the holder records it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from portfolio.db import changelog
from portfolio.db.models import Building, Organisation, TestConsent, TestRecord, Zone
from portfolio.domain.errors import InputError, NotFoundError, Problem
from portfolio.domain.evidence import Consent, Shows
from portfolio.domain.rights import Right
from portfolio.services.editing import Saved, StaleError, differences, locked_test, recompute
from portfolio.services.reopening import reopen, watch
from portfolio.services.telling import told_to
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
        found = (_facts(row) for row in self.rows if row.organisation.ref == organisation)
        return next(found, None)


def consents_of(session: Session, viewer: Viewer, test_id: int) -> Consents:
    """The holder's list. Raises NotFoundError, or ForbiddenError for the holder's readers."""
    test = session.get(TestRecord, test_id)
    if test is None:
        raise NotFoundError("There is no such test.")
    viewer.require(Right.EDIT, test.organisation_id, what="test")
    query = (
        sa.select(TestConsent)
        .join(TestConsent.organisation)
        .where(TestConsent.test_id == test_id)
        .options(joinedload(TestConsent.organisation))
        .order_by(Organisation.name, Organisation.id)
    )
    return Consents(test.id, test.ref, test.revision, session.scalars(query).all())


def save_consent(
    session: Session, viewer: Viewer, test_id: int, facts: ConsentFacts, *, revision: int, on: date
) -> Saved:
    """Keep what was said, and compute the coverage of that organisation's zones anew.

    Raises NotFoundError, ForbiddenError, InputError, and StaleError.
    """
    test = locked_test(session, viewer, test_id)
    known = consents_of(session, viewer, test_id)
    stored = known.facts_of(facts.organisation)
    if test.revision != revision:
        raise StaleError(stored or ConsentFacts(facts.organisation), test.revision)
    organisation = _checked(session, test, facts, on)
    before = {} if stored is None else asdict(stored)
    changes = differences({key: before.get(key) for key in asdict(facts)}, asdict(facts))
    changes.pop("organisation", None)
    if not changes:
        return Saved(test.id, test.ref)
    zone_ids = _zones_of(session, organisation.id)
    watched = watch(session, [test.id], on, zone_ids)
    row = next((row for row in known.rows if row.organisation_id == organisation.id), None)
    if row is None:
        row = TestConsent(test_id=test.id, organisation_id=organisation.id)
        session.add(row)
    _write(row, facts)
    test.revision += 1
    told = {f"{key}, to {organisation.ref}": change for key, change in changes.items()}
    entry = changelog.Entry("consent", "test", test.id, test.ref, test.organisation_id, told)
    changelog.record(session, viewer.actor, [entry])
    compared, changed = recompute(session, on, zone_ids=zone_ids)
    if stored is not None and stored.consent is Consent.GIVEN:
        reopen(
            session,
            viewer.actor,
            watched,
            f"The consent to lean on test {test.ref} has changed",
            on,
            changed=[test.id],
            zone_ids=zone_ids,
            owners=[organisation.id],
        )
    return Saved(test.id, test.ref, compared, told_to(session, viewer, changed))


def _checked(session: Session, test: TestRecord, facts: ConsentFacts, on: date) -> Organisation:
    """The organisation that the consent is to. Raises InputError."""
    found = session.scalar(sa.select(Organisation).where(Organisation.ref == facts.organisation))
    problems = []
    if found is None:
        message = "There is no organisation of this reference."
        problems.append(Problem(message, column="organisation", value=facts.organisation))
    elif found.id == test.organisation_id:
        message = "This is the holder of the test, who records its own consent with the test."
        problems.append(Problem(message, column="organisation", value=facts.organisation))
    if facts.consent not in SAID:
        problems.append(Problem("This cannot be said to another organisation.", column="consent"))
    if facts.on is not None and facts.on > on:
        problems.append(Problem("This day has not come yet.", column="on"))
    if facts.on is not None and facts.until is not None and facts.until < facts.on:
        problems.append(Problem("It would end before it begins.", column="until"))
    if problems or found is None:
        raise InputError(problems)
    return found


def _facts(row: TestConsent) -> ConsentFacts:
    return ConsentFacts(
        row.organisation.ref,
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


def _zones_of(session: Session, organisation_id: int) -> Sequence[int]:
    owned = Building.organisation_id == organisation_id
    return session.scalars(sa.select(Zone.id).join(Building).where(owned)).all()

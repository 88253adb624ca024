"""Writes to which other organisations a test's sponsor gave consent."""

from __future__ import annotations

from collections.abc import Mapping

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import TestConsent
from portfolio.domain.evidence import Consent
from portfolio.services.documents.adding import detach_consents
from portfolio.services.stated_organisations import organisations_meant
from portfolio.services.stored import batches
from portfolio.services.viewer import Viewer


def write_consents(
    session: Session, viewer: Viewer, wanted: Mapping[int, set[str]], reason: str
) -> None:
    """Make consent given to exactly the wanted organisations, by id of the test.

    Organisations are named by references as they were stated. One that was asked, or refused,
    keeps that answer unless it is now among those; a document no longer supports what is gone.
    """
    meant = organisations_meant(session, {ref for refs in wanted.values() for ref in refs})
    kept = _kept(session, wanted)
    new: list[dict[str, object]] = []
    given: list[dict[str, object]] = []
    withdrawn: list[int] = []
    for test_id, refs in wanted.items():
        answers = kept.get(test_id, {})
        for ref in sorted(refs):
            if ref not in answers:
                new.append(_row(test_id, ref, meant.get(ref)))
            elif answers[ref][1] is not Consent.GIVEN:
                row = {"id": answers[ref][0], "consent": Consent.GIVEN}
                given.append(row | {"organisation_id": meant.get(ref)})
        for ref, (row_id, consent) in answers.items():
            if consent is Consent.GIVEN and ref not in refs:
                withdrawn.append(row_id)
    if new:
        session.execute(sa.insert(TestConsent), new)
    if given:
        session.execute(sa.update(TestConsent), given)
    detach_consents(session, viewer, withdrawn, reason)
    for batch in batches(withdrawn):
        session.execute(sa.delete(TestConsent).where(TestConsent.id.in_(batch)))


def _kept(
    session: Session, wanted: Mapping[int, set[str]]
) -> dict[int, dict[str, tuple[int, Consent]]]:
    found: dict[int, dict[str, tuple[int, Consent]]] = {}
    for batch in batches(wanted):
        query = sa.select(
            TestConsent.test_id, TestConsent.organisation_ref, TestConsent.id, TestConsent.consent
        ).where(TestConsent.test_id.in_(batch))
        for test_id, ref, row_id, consent in session.execute(query):
            found.setdefault(test_id, {})[ref] = row_id, consent
    return found


def _row(test_id: int, ref: str, organisation_id: int | None) -> dict[str, object]:
    return {
        "test_id": test_id,
        "organisation_ref": ref,
        "organisation_id": organisation_id,
        "consent": Consent.GIVEN,
        "on": None,
        "until": None,
        "document": "",
    }

"""Writes to which other organisations a test's sponsor gave consent."""

from __future__ import annotations

from collections.abc import Mapping

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import TestConsent
from portfolio.domain.evidence import Consent
from portfolio.services.stored import batches


def write_consents(session: Session, wanted: Mapping[int, set[int]]) -> None:
    """Make consent given to exactly the wanted organisations, by id of the test.

    An organisation that was asked, or refused, keeps that answer unless it is now among those.
    """
    kept = _kept(session, wanted)
    new, given, withdrawn = [], [], []
    for test_id, organisation_ids in wanted.items():
        answers = kept.get(test_id, {})
        for organisation_id in sorted(organisation_ids):
            if organisation_id not in answers:
                new.append(_row(test_id, organisation_id))
            elif answers[organisation_id][1] is not Consent.GIVEN:
                given.append({"id": answers[organisation_id][0], "consent": Consent.GIVEN})
        for organisation_id, (row_id, consent) in answers.items():
            if consent is Consent.GIVEN and organisation_id not in organisation_ids:
                withdrawn.append(row_id)
    if new:
        session.execute(sa.insert(TestConsent), new)
    if given:
        session.execute(sa.update(TestConsent), given)
    for batch in batches(withdrawn):
        session.execute(sa.delete(TestConsent).where(TestConsent.id.in_(batch)))


def _kept(
    session: Session, wanted: Mapping[int, set[int]]
) -> dict[int, dict[int, tuple[int, Consent]]]:
    found: dict[int, dict[int, tuple[int, Consent]]] = {}
    for batch in batches(wanted):
        query = sa.select(
            TestConsent.test_id, TestConsent.organisation_id, TestConsent.id, TestConsent.consent
        ).where(TestConsent.test_id.in_(batch))
        for test_id, organisation_id, row_id, consent in session.execute(query):
            found.setdefault(test_id, {})[organisation_id] = row_id, consent
    return found


def _row(test_id: int, organisation_id: int) -> dict[str, object]:
    return {
        "test_id": test_id,
        "organisation_id": organisation_id,
        "consent": Consent.GIVEN,
        "on": None,
        "until": None,
        "document": "",
    }

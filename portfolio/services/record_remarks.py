"""What whoever saves a test should know at once: where its record is not whole, or contradicts
itself. It is kept all the same, as the papers have it."""

from __future__ import annotations

from datetime import date

from portfolio.db import mapping, models
from portfolio.domain.contradictions import contradictions
from portfolio.domain.evidence import EvidenceKind
from portfolio.reference.loader import load_reference

_BARE = (
    "An assessment names its author and the tests that it leans on: until this one does, nothing "
    "can lean on it."
)


def remarks_on(row: models.TestRecord, on: date) -> tuple[str, ...]:
    """The remarks on a record as it was saved, on that day."""
    reference = load_reference()
    test = mapping.tested_wall_of(row, reference.vocabulary, row.consent)
    bare = test.kind is EvidenceKind.ASSESSMENT and not (test.author and test.leans_on)
    found = contradictions(test, reference.criteria, on)
    told = (
        f"The record contradicts itself, so that no wall is covered by it: {one.reason}."
        for one in found
    )
    return (*((_BARE,) if bare else ()), *told)

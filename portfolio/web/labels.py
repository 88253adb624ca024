"""Stored words as a reader sees them, for the pages of buildings and evidence."""

from __future__ import annotations

from enum import StrEnum

from portfolio.domain.documents import DocumentKind, FactKind, SeenBy
from portfolio.domain.evidence import Answer3, Consent, Holding, Outcome, Standing
from portfolio.domain.routes import Work
from portfolio.reference.loader import EVACUATION, SPRINKLERS, load_reference

UNKNOWN = "unknown"
_KIB = 1024

_WORDS: dict[StrEnum, str] = {
    Answer3.MET: "met",
    Answer3.NOT_MET: "not met",
    Answer3.UNKNOWN: UNKNOWN,
    Outcome.PASSED: "passed",
    Outcome.FAILED: "failed",
    Outcome.NOT_TOLD: "not told",
    Holding.IN_FULL: "held in full",
    Holding.SUMMARY: "summary only",
    Holding.NOT_SEEN: "exists, not seen",
    Consent.OWN: "own test",
    Consent.PUBLISHED: "published",
    Consent.GIVEN: "given",
    Consent.ASKED: "asked",
    Consent.NOT_ASKED: "not asked",
    Consent.REFUSED: "refused",
} | {standing: standing.value for standing in Standing}
_VERDICTS = {
    "covers": "covers this wall",
    "assessable": "differs in what may be judged",
    "open": "leaves things unknown",
    "apart": "of another wall, or may not be used",
    "failed": "failed",
}


def word(value: StrEnum | None) -> str:
    """One stored word; None is a criterion that does not apply."""
    return "does not apply" if value is None else _WORDS[value]


DOCUMENT_KINDS = {kind.value: kind.value for kind in DocumentKind}
FACT_KINDS = {
    FactKind.BUILDING.value: "a building as a whole",
    FactKind.SURVEY.value: "a survey",
    FactKind.DECISION.value: "a decision",
    FactKind.SETTLEMENT.value: "a settled disagreement",
    FactKind.TEST.value: "a test",
    FactKind.CONSENT.value: "a sponsor's consent",
    FactKind.CERTIFICATE.value: "a certificate",
    FactKind.WORKS.value: "works",
    FactKind.COMPLETION.value: "the completion of works",
}
SEEN_BY = {
    SeenBy.OWN.value: "own organisation only",
    SeenBy.WITH_FACT.value: "also whoever may see what it supports",
}


WORKS = {
    Work.EXISTING.value: "existing wall, appraised as it stands",
    Work.NEW.value: "new work",
}


def work(value: str) -> str:
    """The kind of work that a zone is looked at for."""
    return WORKS.get(value) or "nobody has said: taken as an existing wall"


def verdict(value: str) -> str:
    """What a test says of a zone."""
    return _VERDICTS[value]


def use(key: str) -> str:
    """The use of a building."""
    uses = load_reference().uses
    return uses[key].label if key in uses else key or UNKNOWN


def evacuation(key: str) -> str:
    """How people are meant to leave."""
    return EVACUATION.get(key, key) or UNKNOWN


def sprinklers(key: str) -> str:
    """How far sprinklers reach."""
    return SPRINKLERS.get(key, key) or UNKNOWN


def file_size(size: int) -> str:
    """The size of a file.

    >>> file_size(900), file_size(2_500_000)
    ('900 bytes', '2.4 MB')
    """
    if size < _KIB:
        return f"{size} bytes"
    return f"{size / _KIB:.0f} kB" if size < _KIB**2 else f"{size / _KIB**2:.1f} MB"


def storeys(low: int | None, high: int | None) -> str:
    """Where on the building a zone is."""
    if low is None and high is None:
        return UNKNOWN
    if low == high:
        return str(low)
    return f"{'unknown' if low is None else low} to {'unknown' if high is None else high}"

"""The gates before any comparison: may this test stand behind a wall at all?

Each gate answers met, not met or unknown, with a reason. One gate not met and the test cannot
cover; one gate unknown and it cannot cover until somebody finds out.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date
from typing import NamedTuple

from portfolio.domain.contradictions import contradictions
from portfolio.domain.evidence import (
    Answer3,
    Classification,
    Consent,
    EvidenceKind,
    Holding,
    Outcome,
    Standing,
    TestRecord,
    outcome_from_criteria,
    outcome_of,
    ruling_in_force,
)
from portfolio.domain.limits import CriteriaSet
from portfolio.domain.routes import NewWork, Route, applied_route
from portfolio.domain.shelf import Shelf

PAIRS_UP = "edition and classification pair up"
FOLLOWS = "the outcome follows from the criteria"
BASIS_STANDS = "what it leans on stands"
AGREES = "the record agrees with itself"
IDENTIFIED = "anybody can find the test again"
LATEST = "its report stands as it is"
SEEN = "the report was seen"
CONSENTS = "the sponsor consents"
ROUTE = "this route is accepted here"
OF_A_WALL = "the zone is a part of the wall"
HOUSE = "house default of this project"
OF_THE_REPORT = frozenset({PAIRS_UP, AGREES, IDENTIFIED, FOLLOWS, BASIS_STANDS, LATEST})
"""Gates whose reasons tell more of a report than its reference, outcome, standing and consent."""


@dataclass(frozen=True, slots=True)
class Gate:
    """One gate's answer for one test."""

    name: str
    answer: Answer3
    reason: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class Pairing:
    """Which classification document may classify which edition of which test standard."""

    standard: str
    part: str
    edition: str
    document: str
    document_edition: str
    annex: str
    may: bool
    source: str


class Setting(NamedTuple):
    """What the gates ask of a zone: whose law applies to its building, whether it is only attached
    to the wall, as a balcony is, and whether it is new work; without it, an existing wall."""

    jurisdiction: str
    is_attachment: bool = False
    new_work: NewWork | None = None


@dataclass(frozen=True, slots=True)
class GateFacts:
    """What the gates ask of the reference data."""

    pairings: Collection[Pairing]
    routes: Collection[Route]
    criteria: Collection[CriteriaSet]


def gates(
    test: TestRecord, facts: GateFacts, setting: Setting, shelf: Shelf, on: date
) -> tuple[Gate, ...]:
    """Every gate of `test`, beside the evidence of `shelf`, for a zone in `setting` on a day."""
    of_evidence = evidence_gates(test, facts, shelf, on)
    return with_setting(of_evidence, setting_gates(facts, setting, on))


def evidence_gates(test: TestRecord, facts: GateFacts, shelf: Shelf, on: date) -> tuple[Gate, ...]:
    """The gates that are alike for zones in every setting."""
    return (
        *_report_gates(test, facts, shelf, on),
        _standing_gate(test, on),
        _basis_gate(test, facts, shelf, on),
        _holding_gate(test),
        _consent_gate(test),
    )


def setting_gates(facts: GateFacts, setting: Setting, on: date) -> tuple[Gate, ...]:
    """The gates that are alike for every test."""
    return route_gate(facts.routes, setting, on), _wall_gate(setting)


def with_setting(of_evidence: tuple[Gate, ...], of_setting: tuple[Gate, ...]) -> tuple[Gate, ...]:
    """All gates, in the order in which they are told: who may lean on the test comes last."""
    return (*of_evidence[:-2], *of_setting, *of_evidence[-2:])


def _report_gates(test: TestRecord, facts: GateFacts, shelf: Shelf, on: date) -> tuple[Gate, ...]:
    """The gates of the report itself, wherever its test is leaned on."""
    return (
        pairing_gate(test, facts.pairings),
        _identity_gate(test),
        _agreeing_gate(test, facts.criteria, on),
        _outcome_gate(test),
        _issue_gate(test, shelf),
    )


def by_reference(gate: Gate, test: TestRecord) -> Gate:
    """The gate as it may be told where only reference and outcome of its test may be.

    `test` is what may be shown of it: the names of holder and sponsor are not.
    """
    if gate.name == SEEN:
        return _holding_gate(test)
    if gate.name == CONSENTS:
        return _consent_gate(test)
    if gate.name in OF_THE_REPORT:
        return replace(gate, reason="the reason is in the report, which is not shown", source="")
    return gate


def together(found: Collection[Gate]) -> Answer3:
    """The gates as one answer: the worst of them."""
    answers = {gate.answer for gate in found}
    if Answer3.NOT_MET in answers:
        return Answer3.NOT_MET
    return Answer3.UNKNOWN if Answer3.UNKNOWN in answers else Answer3.MET


def pairing_gate(test: TestRecord, pairings: Collection[Pairing]) -> Gate:
    """Whether the document that classifies `test` may classify tests of its edition."""
    name = PAIRS_UP
    paper = test.classification
    if paper is None:
        return _without_paper(test)
    if not (test.standard and test.part and test.edition and paper.document and paper.edition):
        return Gate(name, Answer3.UNKNOWN, "an edition or a document is not recorded")
    for pairing in pairings:
        if _is_of(pairing, test, paper):
            if pairing.may and paper.annex and pairing.annex != paper.annex:
                reason = f"part {test.part} is classified to annex {pairing.annex}"
                return Gate(name, Answer3.NOT_MET, reason, pairing.source)
            if pairing.may and not paper.annex:
                return Gate(name, Answer3.UNKNOWN, "the annex is not recorded", pairing.source)
            answer = Answer3.MET if pairing.may else Answer3.NOT_MET
            verb = "classifies" if pairing.may else "cannot classify"
            reason = f"{paper.document} {paper.edition} {verb} edition {test.edition}"
            return Gate(name, answer, reason, pairing.source)
    return Gate(name, Answer3.UNKNOWN, "nothing is recorded about this pair of editions")


def _is_of(pairing: Pairing, test: TestRecord, paper: Classification) -> bool:
    return (
        pairing.edition == test.edition
        and pairing.document_edition == paper.edition
        and pairing.part == test.part
        and pairing.standard == test.standard
        and pairing.document == paper.document
    )


def _without_paper(test: TestRecord) -> Gate:
    if test.kind is EvidenceKind.ASSESSMENT:
        return Gate(PAIRS_UP, Answer3.MET, "an assessment: the classifications of its tests count")
    return Gate(PAIRS_UP, Answer3.NOT_MET, "the test has no classification")


def _agreeing_gate(test: TestRecord, criteria: Collection[CriteriaSet], on: date) -> Gate:
    """A record that contradicts itself says less than one that is silent."""
    found = contradictions(test, criteria, on)
    if not found:
        return Gate(AGREES, Answer3.MET, "nothing recorded speaks against anything else")
    reasons = "; ".join(contradiction.reason for contradiction in found)
    sources = dict.fromkeys(c.source for c in found if c.source)
    return Gate(AGREES, Answer3.UNKNOWN, reasons, "; ".join(sources))


def _identity_gate(test: TestRecord) -> Gate:
    """Whoever leans on a test must be able to ask for it: by a number of its report, and by a day,
    without which no edition can be checked."""
    paper = test.classification
    missing = []
    if not (test.report_ref.strip() or (paper is not None and paper.report_ref.strip())):
        missing.append("no number of a report")
    if test.tested_on is None:
        missing.append("no day")
    if missing:
        reason = f"{' and '.join(missing)} is recorded of it"
        return Gate(IDENTIFIED, Answer3.UNKNOWN, reason, HOUSE)
    return Gate(IDENTIFIED, Answer3.MET, "its report has a number, and the test a day", HOUSE)


def _issue_gate(test: TestRecord, shelf: Shelf) -> Gate:
    """A later issue of a report takes the earlier one's place, whatever became of it; what fell of
    a report leaves all of it in doubt."""
    if later := shelf.replaced.get(test.ref):
        return Gate(LATEST, Answer3.NOT_MET, f"a later issue of its report is recorded as {later}")
    if why := shelf.doubted.get(test.ref):
        return Gate(LATEST, Answer3.UNKNOWN, why)
    return Gate(LATEST, Answer3.MET, "nothing else of it is recorded that speaks against it")


def _wall_gate(setting: Setting) -> Gate:
    """The test is of a wall: it has shown nothing of what somebody hangs on one."""
    if setting.is_attachment:
        reason = "the test was of a wall, the zone is attached to one"
        return Gate(OF_A_WALL, Answer3.NOT_MET, reason, HOUSE)
    return Gate(OF_A_WALL, Answer3.MET, "it is", HOUSE)


def _outcome_gate(test: TestRecord) -> Gate:
    name = FOLLOWS
    outcome, from_criteria = outcome_of(test), outcome_from_criteria(test.criteria)
    if outcome is Outcome.FAILED:
        return Gate(name, Answer3.NOT_MET, "the test did not meet its criteria")
    if (ruling := ruling_in_force(test)) is not None:
        return Gate(name, Answer3.MET, f"settled by {ruling.by}, {ruling.on}")
    if test.kind is EvidenceKind.ASSESSMENT and outcome is Outcome.PASSED:
        return Gate(name, Answer3.MET, "its author concludes that the wall would pass")
    if from_criteria is Outcome.PASSED:
        return Gate(name, Answer3.MET, "every criterion is recorded as met")
    if outcome is Outcome.PASSED:
        return Gate(name, Answer3.UNKNOWN, "a pass is printed, the criteria are not recorded")
    return Gate(name, Answer3.UNKNOWN, "no outcome can be told: a report is no pass")


def _standing_gate(test: TestRecord, on: date) -> Gate:
    name = "the evidence stands"
    if test.tested_on is not None and test.tested_on > on:
        return Gate(name, Answer3.NOT_MET, f"it is dated {test.tested_on}, after {on}")
    answer = Answer3.MET if test.standing is Standing.LIVE else Answer3.NOT_MET
    return Gate(name, answer, f"its standing is {test.standing.value}")


def _basis_gate(test: TestRecord, facts: GateFacts, shelf: Shelf, on: date) -> Gate:
    name = BASIS_STANDS
    if test.kind is EvidenceKind.ASSESSMENT and not (test.author and test.leans_on):
        return Gate(name, Answer3.UNKNOWN, "an assessment names its author and its tests")
    for ref in test.leans_on:
        if ref not in shelf.known:
            return Gate(name, Answer3.UNKNOWN, f"{ref} is not in the library")
        if shelf.known[ref] != (Standing.LIVE, Outcome.PASSED):
            return Gate(name, Answer3.NOT_MET, f"{_whose(ref, shelf)} does not stand as a pass")
    if not test.leans_on:
        return Gate(name, Answer3.MET, "it stands by itself")
    for basis in shelf.leaned_on(test):
        asked = (*_report_gates(basis, facts, shelf, on), _holding_gate(basis))
        if closed := [gate.name for gate in asked if gate.answer is not Answer3.MET]:
            # the gate's own reason may tell more of the basis than may be shown of it
            reason = (
                f"of {_whose(basis.ref, shelf)} it is not sure that {' and that '.join(closed)}"
            )
            return Gate(name, Answer3.UNKNOWN, reason)
    stand = ", ".join(_whose(ref, shelf) for ref in test.leans_on)
    return Gate(name, Answer3.MET, f"these stand as passes: {stand}")


def _whose(ref: str, shelf: Shelf) -> str:
    """The reference with its holder: several may have a record of one reference."""
    holder = shelf.holders.get(ref)
    return f"{ref}, held by {holder}," if holder else ref


def route_gate(routes: Collection[Route], setting: Setting, on: date) -> Gate:
    """Whether the law where the zone stands lets a test speak for this kind of work."""
    found = applied_route(routes, setting.jurisdiction, setting.new_work, on)
    return Gate(ROUTE, found.answer, found.reason, found.source)


def _holding_gate(test: TestRecord) -> Gate:
    reasons = {
        Holding.IN_FULL: "the full report is held",
        Holding.SUMMARY: "only a summary is held",
        Holding.NOT_SEEN: "the report exists, nobody here has seen it",
    }
    answer = Answer3.MET if test.holding is Holding.IN_FULL else Answer3.UNKNOWN
    by = f", says {test.holder}" if test.holder else ""
    return Gate(SEEN, answer, reasons[test.holding] + by)


def _consent_gate(test: TestRecord) -> Gate:
    name = CONSENTS
    if test.consent is Consent.PUBLISHED and not test.source.strip():
        by = f", says {test.holder}" if test.holder else ""
        return Gate(name, Answer3.UNKNOWN, f"published{by}; where it was is not recorded")
    if test.consent in (Consent.OWN, Consent.PUBLISHED, Consent.GIVEN):
        of = f", sponsor {test.sponsor}" if test.sponsor else ""
        return Gate(name, Answer3.MET, f"consent: {test.consent.value}{of}")
    if test.consent is Consent.REFUSED:
        return Gate(name, Answer3.NOT_MET, "the sponsor refused")
    return Gate(name, Answer3.UNKNOWN, f"consent: {test.consent.value.replace('-', ' ')}")

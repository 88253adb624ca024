"""The gates before any comparison: may this test stand behind a wall at all?

Each gate answers met, not met or unknown, with a reason. One gate not met and the test cannot
cover; one gate unknown and it cannot cover until somebody finds out.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import date

from portfolio.domain.evidence import (
    SUBSTRATE_OF_PART,
    Answer3,
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
from portfolio.domain.values import UNKNOWN, OneOf

PAIRS_UP = "edition and classification pair up"
FOLLOWS = "the outcome follows from the criteria"
BASIS_STANDS = "what it leans on stands"
STOOD_ON = "what it stood on agrees with its part"
OF_THE_REPORT = frozenset({PAIRS_UP, STOOD_ON, FOLLOWS, BASIS_STANDS})
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


@dataclass(frozen=True, slots=True)
class Route:
    """Whether large-scale tests count for a kind of work in a jurisdiction, from a date on."""

    jurisdiction: str
    work: str
    accepts: Answer3
    effective_from: date
    effective_to: date | None
    reason: str
    source: str


def gates(
    test: TestRecord,
    *,
    pairings: Collection[Pairing],
    routes: Collection[Route],
    jurisdiction: str,
    on: date,
    standing_outcomes: Mapping[str, tuple[Standing, Outcome]],
    work: str = "existing",
) -> tuple[Gate, ...]:
    """Every gate of `test` for a wall in `jurisdiction` on the day `on`.

    `standing_outcomes` gives standing and outcome of the tests that others lean on, as
    `what_stands` finds them.
    """
    return (
        pairing_gate(test, pairings),
        _part_gate(test),
        _outcome_gate(test),
        _standing_gate(test, on),
        _basis_gate(test, standing_outcomes),
        _route_gate(routes, jurisdiction, on, work),
        _holding_gate(test),
        _consent_gate(test),
    )


def by_reference(gate: Gate) -> Gate:
    """The gate as it may be told where only reference and outcome of its test may be."""
    if gate.name not in OF_THE_REPORT:
        return gate
    return replace(gate, reason="the reason is in the report, which is not shown", source="")


def what_stands(tests: Collection[TestRecord]) -> dict[str, tuple[Standing, Outcome]]:
    """Standing and outcome of each test, for the gate of those that lean on it.

    What leans on something fallen, missing, on a pass that is only printed or, in the end, on
    itself is no pass to lean on.
    """
    stands: set[str] = set()
    before = -1
    while before < len(stands):
        before = len(stands)
        stands |= {
            test.ref
            for test in tests
            if test.standing is Standing.LIVE
            and outcome_of(test) is Outcome.PASSED
            and _outcome_gate(test).answer is Answer3.MET
            and stands.issuperset(test.leans_on)
        }
    found = {}
    for test in tests:
        outcome = outcome_of(test)
        falls = outcome is Outcome.PASSED and test.ref not in stands
        found[test.ref] = (test.standing, Outcome.NOT_TOLD if falls else outcome)
    return found


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
    wanted = (test.standard, test.part, test.edition, paper.document, paper.edition)
    for pairing in pairings:
        offered = (
            pairing.standard,
            pairing.part,
            pairing.edition,
            pairing.document,
            pairing.document_edition,
        )
        if offered == wanted:
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


def _without_paper(test: TestRecord) -> Gate:
    if test.kind is EvidenceKind.ASSESSMENT:
        return Gate(PAIRS_UP, Answer3.MET, "an assessment: the classifications of its tests count")
    return Gate(PAIRS_UP, Answer3.NOT_MET, "the test has no classification")


def _part_gate(test: TestRecord) -> Gate:
    """A record that contradicts itself says less than one that is silent."""
    implied = SUBSTRATE_OF_PART.get((test.standard, test.part))
    told = test.build_up.substrate
    if implied is None or told is UNKNOWN:
        return Gate(STOOD_ON, Answer3.MET, "nothing recorded speaks against it")
    source = "BSI notice, 8 May 2019"
    part = f"part {test.part} stands on {implied.replace('-', ' ')}"
    if isinstance(told, OneOf) and told.keys == {implied}:
        return Gate(STOOD_ON, Answer3.MET, part, source)
    return Gate(STOOD_ON, Answer3.UNKNOWN, f"{part}, the record says something else", source)


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


def _basis_gate(test: TestRecord, known: Mapping[str, tuple[Standing, Outcome]]) -> Gate:
    name = BASIS_STANDS
    if test.kind is EvidenceKind.ASSESSMENT and not (test.author and test.leans_on):
        return Gate(name, Answer3.UNKNOWN, "an assessment names its author and its tests")
    for ref in test.leans_on:
        if ref not in known:
            return Gate(name, Answer3.UNKNOWN, f"{ref} is not in the library")
        if known[ref] != (Standing.LIVE, Outcome.PASSED):
            return Gate(name, Answer3.NOT_MET, f"{ref} does not stand as a pass")
    return Gate(name, Answer3.MET, "it stands by itself" if not test.leans_on else "it does")


def _route_gate(routes: Collection[Route], jurisdiction: str, on: date, work: str) -> Gate:
    name = "this route is accepted here"
    valid = [
        route
        for route in routes
        if (route.jurisdiction, route.work) == (jurisdiction, work)
        and route.effective_from <= on
        and (route.effective_to is None or on < route.effective_to)
    ]
    if not valid:
        where = jurisdiction or "a building whose jurisdiction is not recorded"
        return Gate(name, Answer3.UNKNOWN, f"nothing is recorded about this route in {where}")
    route = max(valid, key=lambda r: r.effective_from)
    return Gate(name, route.accepts, route.reason, route.source)


def _holding_gate(test: TestRecord) -> Gate:
    reasons = {
        Holding.IN_FULL: "the full report is held",
        Holding.SUMMARY: "only a summary is held",
        Holding.NOT_SEEN: "the report exists, nobody here has seen it",
    }
    answer = Answer3.MET if test.holding is Holding.IN_FULL else Answer3.UNKNOWN
    return Gate("the report was seen", answer, reasons[test.holding])


def _consent_gate(test: TestRecord) -> Gate:
    name = "the sponsor consents"
    if test.consent in (Consent.OWN, Consent.PUBLISHED, Consent.GIVEN):
        return Gate(name, Answer3.MET, f"consent: {test.consent.value}")
    if test.consent is Consent.REFUSED:
        return Gate(name, Answer3.NOT_MET, "the sponsor refused")
    return Gate(name, Answer3.UNKNOWN, f"consent: {test.consent.value.replace('-', ' ')}")

"""Large-scale tests, what their outcome is, and whether an organisation may lean on them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date
from enum import StrEnum
from functools import lru_cache
from typing import Protocol

from portfolio.domain.values import UNKNOWN, known
from portfolio.domain.walls import BuildUp

LONGEST_RUN_S = 86_400
"""Ours: no test runs longer than a day; a log that says so has a clock that failed."""


class Answer3(StrEnum):
    """Three answers, never two."""

    MET = "met"
    NOT_MET = "not-met"
    UNKNOWN = "unknown"


class Outcome(StrEnum):
    """What a test showed against its classification document's criteria."""

    PASSED = "passed"
    FAILED = "failed"
    NOT_TOLD = "not-told"


class Standing(StrEnum):
    """Whether the evidence still stands."""

    LIVE = "live"
    DISPUTED = "disputed"
    SUPERSEDED = "superseded"
    WITHDRAWN = "withdrawn"


class EvidenceKind(StrEnum):
    """A test of a wall, or an assessment by somebody competent that leans on tests."""

    TEST = "test"
    ASSESSMENT = "assessment"


class Holding(StrEnum):
    """How the report is held."""

    IN_FULL = "in-full"
    SUMMARY = "summary"
    NOT_SEEN = "not-seen"


class Consent(StrEnum):
    """Whether the sponsor lets the organisation lean on the report."""

    OWN = "own"
    PUBLISHED = "published"
    GIVEN = "given"
    ASKED = "asked"
    NOT_ASKED = "not-asked"
    REFUSED = "refused"


class Shows(StrEnum):
    """What of a report may be shown to those who lean on it."""

    EVERYTHING = "everything"
    REFERENCE = "reference-and-outcome"


@dataclass(frozen=True, slots=True)
class Criteria:
    """What was found, criterion by criterion; burn-through does not apply to part 1."""

    external_spread: Answer3 = Answer3.UNKNOWN
    internal_spread: Answer3 = Answer3.UNKNOWN
    burn_through: Answer3 | None = Answer3.UNKNOWN
    no_flames_above_rig: Answer3 = Answer3.UNKNOWN
    no_early_end: Answer3 = Answer3.UNKNOWN

    def answers(self) -> dict[str, Answer3]:
        """The criteria that apply, by name."""
        found = {
            "external spread": self.external_spread,
            "internal spread": self.internal_spread,
            "burn-through": self.burn_through,
            "no flames above the rig": self.no_flames_above_rig,
            "not ended early": self.no_early_end,
        }
        return {name: answer for name, answer in found.items() if answer is not None}


@dataclass(frozen=True, slots=True)
class Classification:
    """The document that turns a test into an outcome; None where there is none."""

    document: str
    edition: str
    annex: str = ""
    report_ref: str = ""


WITHOUT_WALL_BEHIND = frozenset({("BS 8414", "2")})
"""Parts that mount the wall on a frame (published: BSI notice, 8 May 2019)."""

SUBSTRATE_OF_PART: dict[tuple[str, str], str] = {
    ("BS 8414", "1"): "masonry",
    ("BS 8414", "2"): "steel-frame",
}
"""What a part of the test standard mounts the wall on: part 1 masonry, part 2 a structural steel
frame (published: BSI notice, 8 May 2019)."""


@dataclass(frozen=True, slots=True)
class OutcomeRuling:
    """A named engineer's word on which outcome counts where report and criteria contradict each
    other; it holds only for the two that the engineer had before them."""

    outcome: Outcome
    by: str
    on: date
    printed_then: Outcome
    criteria_then: Outcome


@dataclass(frozen=True, slots=True)
class TestRecord:
    """One large-scale test of one build-up, with everything that decides who may lean on it."""

    __test__ = False  # not a test case, whatever pytest thinks of the name

    ref: str
    title: str
    standard: str
    part: str
    edition: str
    tested_on: date | None
    build_up: BuildUp
    criteria: Criteria = field(default_factory=Criteria)
    printed_outcome: Outcome = Outcome.NOT_TOLD
    classification: Classification | None = None
    standing: Standing = Standing.LIVE
    holding: Holding = Holding.NOT_SEEN
    consent: Consent = Consent.NOT_ASKED
    leans_on: tuple[str, ...] = ()
    source: str = ""
    kind: EvidenceKind = EvidenceKind.TEST
    author: str = ""
    ruling: OutcomeRuling | None = None
    holder: str = ""
    sponsor: str = ""
    laboratory: str = ""
    report_ref: str = ""
    report_issue: str = ""
    report_on: date | None = None
    run_seconds: int | None = None
    substrate_from_part: bool = False
    """Nobody recorded what the wall stood on: it is taken from the part of the standard."""
    wall_is_shown: bool = True
    """False where whoever leans on it is shown its reference and outcome only."""

    def __post_init__(self) -> None:
        """The part of the standard says what the wall stood on, unless the record does. On a frame
        there is no wall behind to stop the fire: burn-through is never beside the point, so a
        record that says it does not apply has not told it."""
        if (self.standard, self.part) in WITHOUT_WALL_BEHIND and self.criteria.burn_through is None:
            told = replace(self.criteria, burn_through=Answer3.UNKNOWN)
            object.__setattr__(self, "criteria", told)
        implied = SUBSTRATE_OF_PART.get((self.standard, self.part))
        recorded = UNKNOWN if self.substrate_from_part else self.build_up.substrate
        if implied is not None and recorded is UNKNOWN:
            stood = replace(self.build_up, substrate=known(implied))
            object.__setattr__(self, "build_up", stood)
            object.__setattr__(self, "substrate_from_part", True)


@lru_cache(maxsize=10_000)
def outcome_from_criteria(criteria: Criteria) -> Outcome:
    """What the criteria add up to; nothing unknown ever adds up to a pass."""
    answers = criteria.answers().values()
    if Answer3.NOT_MET in answers:
        return Outcome.FAILED
    return Outcome.NOT_TOLD if Answer3.UNKNOWN in answers else Outcome.PASSED


def outcome_of(test: TestRecord) -> Outcome:
    """The outcome that counts: the stricter of the printed one and the one from the criteria,
    until a named engineer has settled which of the two it is."""
    if (ruling := ruling_in_force(test)) is not None:
        return ruling.outcome
    return stricter(outcome_from_criteria(test.criteria), test.printed_outcome)


def stricter(*told: Outcome) -> Outcome:
    """The outcome that counts where several are told."""
    if Outcome.FAILED in told:
        return Outcome.FAILED
    return Outcome.PASSED if Outcome.PASSED in told else Outcome.NOT_TOLD


class Told(Protocol):
    """Whatever tells of a test what decides its outcome: a form, a row of a sheet."""

    @property
    def external_spread(self) -> Answer3: ...
    @property
    def internal_spread(self) -> Answer3: ...
    @property
    def burn_through(self) -> Answer3 | None: ...
    @property
    def no_flames_above_rig(self) -> Answer3: ...
    @property
    def no_early_end(self) -> Answer3: ...
    @property
    def printed_outcome(self) -> Outcome: ...


def takes_failure_back(before: Told, after: Told) -> bool:
    """Whether a test that was recorded as failed is recorded as anything else."""
    return _outcome_told(before) is Outcome.FAILED and _outcome_told(after) is not Outcome.FAILED


def _outcome_told(told: Told) -> Outcome:
    criteria = Criteria(
        told.external_spread,
        told.internal_spread,
        told.burn_through,
        told.no_flames_above_rig,
        told.no_early_end,
    )
    return stricter(outcome_from_criteria(criteria), told.printed_outcome)


def outcome_follows(test: TestRecord) -> bool:
    """Whether the pass that counts rests on more than a word printed in a report."""
    if ruling_in_force(test) is not None or test.kind is EvidenceKind.ASSESSMENT:
        return outcome_of(test) is Outcome.PASSED
    return outcome_from_criteria(test.criteria) is Outcome.PASSED


def outcomes_disagree(test: TestRecord) -> bool:
    """Whether the printed outcome and the criteria contradict each other outright."""
    found = {outcome_from_criteria(test.criteria), test.printed_outcome}
    return found == {Outcome.PASSED, Outcome.FAILED}


def ruling_in_force(test: TestRecord) -> OutcomeRuling | None:
    """The engineer's ruling, while the contradiction is the one that was ruled on."""
    ruling = test.ruling
    if ruling is None or not outcomes_disagree(test):
        return None
    now = test.printed_outcome, outcome_from_criteria(test.criteria)
    return ruling if now == (ruling.printed_then, ruling.criteria_then) else None


def reference_only(test: TestRecord) -> TestRecord:
    """The test as it may be shown where only its reference and outcome may be."""
    return TestRecord(
        test.ref,
        "(reference and outcome only)",
        "",
        "",
        "",
        None,
        BuildUp(),
        printed_outcome=outcome_of(test),
        standing=test.standing,
        holding=test.holding,
        consent=test.consent,
        kind=test.kind,
    )

"""Coverage: what the comparisons add up to for a zone, and for a building.

Contradicted outranks covered; both are said. Covered needs one passing test that every gate lets
through, every parameter same or allowed, and no conflict. Too little known means that nothing
known rules out a test that could yet cover, that the decisive layers are not known well enough to
say what would be relevant, or that a failing test could have been of this wall.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from functools import cached_property

from portfolio.domain.adverse import Judge
from portfolio.domain.evidence import Outcome, Standing, TestRecord, outcome_of
from portfolio.domain.gates import Gate, Setting
from portfolio.domain.matching import Tests
from portfolio.domain.nearest import Verdict
from portfolio.domain.parameters import folded
from portfolio.domain.rules import RuleSet
from portfolio.domain.surveys import Wall
from portfolio.domain.values import OneOf
from portfolio.domain.walls import parameters_of


class Coverage(StrEnum):
    """The coverage of a zone."""

    COVERED = "covered"
    CONTRADICTED = "contradicted"
    TO_ASSESS = "to-assess"
    TOO_LITTLE_KNOWN = "too-little-known"
    NO_MATCHING_EVIDENCE = "no-matching-evidence"

    @property
    def is_gap(self) -> bool:
        return self is not Coverage.COVERED


WORST_FIRST: tuple[tuple[Coverage, bool], ...] = (
    (Coverage.CONTRADICTED, False),
    (Coverage.CONTRADICTED, True),
    (Coverage.TOO_LITTLE_KNOWN, False),
    (Coverage.NO_MATCHING_EVIDENCE, False),
    (Coverage.TO_ASSESS, False),
    (Coverage.COVERED, False),
)
"""Coverage with "by inference", worst first: what is unknown before a known milder state (ours)."""


@dataclass(frozen=True, slots=True)
class ZoneCase:
    """One zone to judge: its wall, and the setting that its gates depend on."""

    wall: Wall
    setting: Setting


@dataclass(frozen=True)
class Library:
    """Everything that walls are judged by. `gates` has, by setting, the gates of each test ref."""

    compiled: Tests
    gates: Mapping[Setting, Mapping[str, tuple[Gate, ...]]]
    rules: RuleSet
    judge: Judge

    @property
    def tests(self) -> tuple[TestRecord, ...]:
        """The tests, in the order of their references."""
        return self.compiled.records

    @cached_property
    def passing(self) -> Tests:
        """The tests that have not failed: some of them may stand behind a wall."""
        places = [i for i, t in enumerate(self.tests) if outcome_of(t) is not Outcome.FAILED]
        return self.compiled.of(places)

    @cached_property
    def failing(self) -> tuple[TestRecord, ...]:
        """The tests that speak against walls."""
        return tuple(test for test in self.tests if speaks_against(test))

    @cached_property
    def undone(self) -> tuple[TestRecord, ...]:
        """The tests that leave in doubt walls like their own."""
        return tuple(test for test in self.tests if leaves_in_doubt(test, self.rules.on))


@dataclass(frozen=True, slots=True)
class TestVerdict:
    """One passing test's word on a zone, with the parameters behind it."""

    __test__ = False

    test: str
    verdict: Verdict
    differs: tuple[str, ...]
    unknown: tuple[str, ...]
    allowed: tuple[tuple[str, str], ...]
    open_gates: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ZoneCoverage:
    """The coverage of a zone with everything it rests on; equal walls share one and the same."""

    coverage: Coverage
    by_inference: bool
    covered_too: bool
    nearest: tuple[TestVerdict, ...]
    against: tuple[str, ...]
    conflicts: tuple[str, ...]
    unknown_decisive: tuple[str, ...]
    doubts: tuple[str, ...] = ()
    """Tests that alone keep the zone from a better coverage: they failed, or nobody tells what came
    of them, and they could be of its wall."""

    @property
    def tests(self) -> tuple[str, ...]:
        """The tests that the coverage rests on: the failing ones where contradicted."""
        if self.coverage is Coverage.CONTRADICTED:
            return self.against
        if self.doubts:
            return self.doubts
        covering = [v.test for v in self.nearest if v.verdict is Verdict.COVERS]
        return tuple(covering or [v.test for v in self.nearest])

    @property
    def differences(self) -> tuple[str, ...]:
        return self.nearest[0].differs if self.nearest else ()

    @property
    def unknowns(self) -> tuple[str, ...]:
        """What nobody knows: of the nearest test's parameters, and of the decisive layers.

        Where nobody knows whether a layer is there, its thickness is not asked for yet.
        """
        nearest = self.nearest[0].unknown if self.nearest else ()
        return folded({*nearest, *self.unknown_decisive})


def worst(found: Collection[tuple[Coverage, bool]]) -> tuple[Coverage, bool]:
    """The worst of several zones' coverage: the building's. An empty building is unknown."""
    return min(found, key=WORST_FIRST.index, default=(Coverage.TOO_LITTLE_KNOWN, False))


def speaks_against(test: TestRecord) -> bool:
    """A failing test counts unless it was withdrawn: neither doubt nor a later paper acquits."""
    return outcome_of(test) is Outcome.FAILED and test.standing is not Standing.WITHDRAWN


def leaves_in_doubt(test: TestRecord, on: date) -> bool:
    """Whether a wall burnt, and nobody tells or stands by what came of it (ours).

    A withdrawn failure contradicts nothing for certain, and nobody has shown either that the wall
    would not burn so. Nor does an outcome that nobody tells acquit: else not to tell that a wall
    failed would. A test to come, or one of a facing that nobody recorded, says nothing of any wall.
    """
    outcome = outcome_of(test)
    if outcome is Outcome.FAILED:
        return test.standing is Standing.WITHDRAWN
    if outcome is Outcome.PASSED or (test.tested_on is not None and test.tested_on > on):
        return False
    return isinstance(parameters_of(test.build_up).get("facing.1.material"), OneOf)

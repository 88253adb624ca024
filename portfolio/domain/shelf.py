"""What the evidence on one shelf says of each other: what stands, and what a later issue replaced.

A shelf is all the evidence that an organisation may see.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from enum import Enum

from portfolio.domain.evidence import (
    Outcome,
    Standing,
    TestRecord,
    outcome_follows,
    outcome_of,
)


@dataclass(frozen=True, slots=True)
class Shelf:
    """What the gates of a test ask of the evidence beside it, by reference.

    `known` has standing and outcome of each, `holders` whose record it is. `replaced` names for a
    test the record of a later issue of its report, `doubted` one of the same report that leaves in
    doubt whether it still stands, with the reason. `bases` has the records that others lean on.
    """

    known: Mapping[str, tuple[Standing, Outcome]] = field(default_factory=dict)
    holders: Mapping[str, str] = field(default_factory=dict)
    replaced: Mapping[str, str] = field(default_factory=dict)
    doubted: Mapping[str, str] = field(default_factory=dict)
    bases: Mapping[str, TestRecord] = field(default_factory=dict)

    def leaned_on(self, test: TestRecord) -> Iterator[TestRecord]:
        """What the test leans on, and what that leans on, each once and as far as it is here."""
        seen: set[str] = set()
        waiting = list(test.leans_on)
        while waiting:
            ref = waiting.pop(0)
            if ref not in seen and ref in self.bases:
                seen.add(ref)
                yield self.bases[ref]
                waiting += self.bases[ref].leans_on


def shelf_of(tests: Collection[TestRecord]) -> Shelf:
    """The shelf that holds these tests and no others."""
    replaced, doubted = _of_one_report(tests)
    holders = {test.ref: test.holder for test in tests}
    leaned_on = frozenset[str]().union(*(test.leans_on for test in tests))
    bases = {test.ref: test for test in tests if test.ref in leaned_on}
    return Shelf(_what_stands(tests, replaced), holders, replaced, doubted, bases)


def folded(text: str) -> str:
    """A reference without the differences of writing: case, spaces, dashes and other marks."""
    return "".join(letter for letter in text.casefold() if letter.isalnum())


def _what_stands(
    tests: Collection[TestRecord], replaced: Collection[str]
) -> dict[str, tuple[Standing, Outcome]]:
    """What leans on something fallen, replaced, missing, on a pass that is only printed or, in the
    end, on itself is no pass to lean on."""
    stands: set[str] = set()
    before = -1
    while before < len(stands):
        before = len(stands)
        stands |= {
            test.ref
            for test in tests
            if test.standing is Standing.LIVE
            and test.ref not in replaced
            and outcome_of(test) is Outcome.PASSED
            and outcome_follows(test)
            and stands.issuperset(test.leans_on)
        }
    found = {}
    for test in tests:
        outcome = outcome_of(test)
        falls = outcome is Outcome.PASSED and test.ref not in stands
        found[test.ref] = (test.standing, Outcome.NOT_TOLD if falls else outcome)
    return found


def _of_one_report(tests: Collection[TestRecord]) -> tuple[dict[str, str], dict[str, str]]:
    """For each test the record of a later issue of its report, and what of the same report casts
    doubt on it.

    One report may tell of several tests; what became of a report became of them all. What became
    of a later issue does not matter: it does not bring the earlier one back.
    """
    by_report: dict[str, list[TestRecord]] = {}
    for test in sorted(tests, key=lambda record: record.ref):
        if test.report_ref:
            by_report.setdefault(folded(test.report_ref), []).append(test)
    replaced: dict[str, str] = {}
    doubted: dict[str, str] = {}
    for together in by_report.values():
        for test in together if len(together) > 1 else ():
            for other in together:
                if other is test or not _may_be_one_laboratory(test, other):
                    continue
                order = _order(test, other)
                if order is _Order.LATER:
                    replaced.setdefault(test.ref, other.ref)
                elif order is _Order.UNKNOWN:
                    why = f"{other.ref} is of another issue of it, and not said which is the later"
                    doubted.setdefault(test.ref, why)
                elif order is _Order.SAME and other.standing is not Standing.LIVE:
                    why = f"{other.ref} is of the same report, and {other.standing.value}"
                    doubted.setdefault(test.ref, why)
    return replaced, doubted


class _Order(Enum):
    """How the issue that another record is of stands to a test's own."""

    SAME = "same"
    LATER = "later"
    EARLIER = "earlier"
    UNKNOWN = "unknown"


def _order(test: TestRecord, other: TestRecord) -> _Order:
    """By the days that the issues bear. Without numbers of both issues a later day only makes one
    doubt; with neither numbers nor days it is one and the same."""
    mine, theirs = folded(test.report_issue), folded(other.report_issue)
    if mine == theirs and (mine or test.report_on == other.report_on):
        return _Order.SAME
    if test.report_on is None or other.report_on is None:
        return _Order.SAME if mine == theirs else _Order.UNKNOWN
    if other.report_on < test.report_on:
        return _Order.EARLIER
    is_numbered = bool(mine and theirs)
    return _Order.LATER if is_numbered and other.report_on > test.report_on else _Order.UNKNOWN


def _may_be_one_laboratory(test: TestRecord, other: TestRecord) -> bool:
    """Names are written in many ways: one may be short for the other, or missing."""
    mine, theirs = folded(test.laboratory), folded(other.laboratory)
    return mine.startswith(theirs) or theirs.startswith(mine)

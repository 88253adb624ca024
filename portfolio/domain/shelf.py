"""What the evidence on one shelf says of each other: what stands, and what a later issue replaced.

A shelf is all the evidence that an organisation may see.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

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
    test the record of a later issue of its report, `unordered` one of another issue where nobody
    can tell which is the later.
    """

    known: Mapping[str, tuple[Standing, Outcome]] = field(default_factory=dict)
    holders: Mapping[str, str] = field(default_factory=dict)
    replaced: Mapping[str, str] = field(default_factory=dict)
    unordered: Mapping[str, str] = field(default_factory=dict)


def shelf_of(tests: Collection[TestRecord]) -> Shelf:
    """The shelf that holds these tests and no others."""
    replaced, unordered = _issues(tests)
    holders = {test.ref: test.holder for test in tests}
    return Shelf(_what_stands(tests), holders, replaced, unordered)


def _what_stands(tests: Collection[TestRecord]) -> dict[str, tuple[Standing, Outcome]]:
    """What leans on something fallen, missing, on a pass that is only printed or, in the end, on
    itself is no pass to lean on."""
    stands: set[str] = set()
    before = -1
    while before < len(stands):
        before = len(stands)
        stands |= {
            test.ref
            for test in tests
            if test.standing is Standing.LIVE
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


def _issues(tests: Collection[TestRecord]) -> tuple[dict[str, str], dict[str, str]]:
    """For each test the record of a later issue of its report, and one of an issue that may be.

    One report may tell of several tests; only two different issues of it are compared, by the
    days they bear. What became of the later issue does not matter: it does not bring the earlier
    one back.
    """
    by_report: dict[tuple[str, str], list[TestRecord]] = {}
    for test in tests:
        if test.report_ref and test.report_issue:
            report = test.laboratory.casefold(), test.report_ref.casefold()
            by_report.setdefault(report, []).append(test)
    replaced: dict[str, str] = {}
    unordered: dict[str, str] = {}
    for issues in by_report.values():
        for test in issues:
            for other in sorted(issues, key=lambda record: record.ref):
                if other.report_issue.casefold() == test.report_issue.casefold():
                    continue
                if (
                    test.report_on is None
                    or other.report_on is None
                    or other.report_on == test.report_on
                ):
                    unordered.setdefault(test.ref, other.ref)
                elif other.report_on > test.report_on:
                    replaced.setdefault(test.ref, other.ref)
    return replaced, unordered

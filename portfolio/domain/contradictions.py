"""Where a test record contradicts itself: whatever it says, one of two statements is wrong.

A record is kept as it was printed, contradictions and all; it only does not cover anything until
somebody has found out which of the two is right.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from datetime import date
from typing import NamedTuple

from portfolio.domain.evidence import SUBSTRATE_OF_PART, Answer3, TestRecord
from portfolio.domain.limits import CriteriaSet
from portfolio.domain.values import UNKNOWN, OneOf

_YEAR = re.compile(r"(?<!\d)(?:19|20)\d\d(?!\d)")
_PART_SOURCE = "BSI notice, 8 May 2019"


class Contradiction(NamedTuple):
    """Two statements of one record that cannot both be true, and the source that says so."""

    reason: str
    source: str = ""


def contradictions(
    test: TestRecord, criteria: Collection[CriteriaSet], on: date
) -> tuple[Contradiction, ...]:
    """Everything in which the record contradicts itself, or the calendar, on the day `on`."""
    return (
        *_of_its_part(test),
        *_of_its_run(test, criteria),
        *_of_its_report(test, on),
        *_of_its_edition(test),
    )


def _of_its_part(test: TestRecord) -> Iterator[Contradiction]:
    implied = SUBSTRATE_OF_PART.get((test.standard, test.part))
    told = test.build_up.substrate
    if implied is None or told is UNKNOWN or (isinstance(told, OneOf) and told.keys == {implied}):
        return
    part = f"part {test.part} stands on {implied.replace('-', ' ')}"
    yield Contradiction(f"{part}, the record says something else", _PART_SOURCE)


def _of_its_run(test: TestRecord, criteria: Collection[CriteriaSet]) -> Iterator[Contradiction]:
    """A test that ended before its fire was put out has been ended early."""
    paper = test.classification
    if paper is None or test.run_seconds is None:
        return
    if test.criteria.no_early_end is not Answer3.MET:
        return
    for found in criteria:
        named = (found.document, found.edition, found.part)
        if named != (paper.document, paper.edition, test.part):
            continue
        if test.run_seconds < found.crib_s:
            yield Contradiction(
                f"it ran for {test.run_seconds} s and is not said to have ended early; the fire "
                f"alone takes {found.crib_s:.0f} s",
                found.basis.source,
            )
            return


def _of_its_report(test: TestRecord, on: date) -> Iterator[Contradiction]:
    if test.report_on is None:
        return
    if test.report_on > on:
        yield Contradiction(f"its report is dated {test.report_on}, after {on}")
    if test.tested_on is not None and test.report_on < test.tested_on:
        yield Contradiction(
            f"its report is dated {test.report_on}, before the test of {test.tested_on}"
        )


def _of_its_edition(test: TestRecord) -> Iterator[Contradiction]:
    """An edition named by its year, and the year of its amendment, was not there before."""
    years = [int(year) for year in _YEAR.findall(test.edition)]
    if test.tested_on is not None and years and test.tested_on.year < max(years):
        yield Contradiction(
            f"it was tested on {test.tested_on}, before there was an edition {test.edition}"
        )

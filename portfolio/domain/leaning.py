"""How a zone's coverage names a test: what covers it, speaks against it, or could do so."""

from __future__ import annotations

from enum import StrEnum

from portfolio.domain.coverage import Coverage, ZoneCoverage
from portfolio.domain.nearest import Verdict


class Way(StrEnum):
    """How a zone's coverage names a test."""

    COVERS = "covers"
    AGAINST = "against"
    IN_DOUBT = "in-doubt"
    NEAREST = "nearest"


def tests_named(found: ZoneCoverage) -> list[tuple[str, Way]]:
    """The tests that bear on a zone, each once. One that stands apart bears on nothing.

    What a conflict keeps from covering merely comes nearest.
    """
    covered = found.coverage is Coverage.COVERED or found.covered_too
    near = [
        (v.test, Way.COVERS if covered and v.verdict is Verdict.COVERS else Way.NEAREST)
        for v in found.nearest
        if v.verdict is not Verdict.APART and v.test not in found.doubts
    ]
    against = [(test, Way.AGAINST) for test in found.against]
    return [*against, *((test, Way.IN_DOUBT) for test in found.doubts), *near]

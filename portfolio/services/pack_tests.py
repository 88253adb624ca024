"""Which tests stand in an evidence pack: the nearest, and whatever its zones' coverage rests on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from portfolio.domain.leaning import tests_named
from portfolio.domain.shelf import folded
from portfolio.services.explaining import Explanation, TestComparison

_NEAREST = 3


def comparisons_in_pack(zone: Explanation) -> tuple[TestComparison, ...]:
    """A zone's comparisons as a pack holds them, nearest first.

    The nearest few, every test that the coverage names, however far off it stands, and what those
    lean on or share a report with, as far as the viewer may see that.
    """
    named = {ref for ref, _ in tests_named(zone.coverage)}
    wanted = {*zone.coverage.tests, *named, *(c.test.ref for c in zone.comparisons[:_NEAREST])}
    grows = True
    while grows:
        held = [c for c in zone.comparisons if c.test.ref in wanted]
        more = {ref for comparison in held for ref in comparison.test.leans_on}
        reports = {folded(c.test.report_ref) for c in held} - {""}
        more |= {c.test.ref for c in zone.comparisons if folded(c.test.report_ref) in reports}
        grows = not more <= wanted
        wanted |= more
    return tuple(c for c in zone.comparisons if c.test.ref in wanted)


def tests_in_pack(explained: Sequence[Explanation]) -> frozenset[int]:
    """The ids of the tests that a pack of these zones holds."""
    return frozenset(comparison.test_id for comparison in every_comparison(explained))


def every_comparison(explained: Iterable[Explanation]) -> Iterable[TestComparison]:
    """The comparisons of all the zones that a pack of them holds."""
    return (comparison for zone in explained for comparison in comparisons_in_pack(zone))

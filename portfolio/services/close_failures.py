"""The failing tests that are close to a zone, in words, as far as the viewer may be shown them."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date

from sqlalchemy.orm import Session

from portfolio.domain.closeness import Apart, CloseFailure, close_failures
from portfolio.domain.evidence import TestRecord
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.values import UNKNOWN
from portfolio.domain.walls import parameters_of
from portfolio.reference.loader import load_reference
from portfolio.services.explaining import Explanation, provenance, value_text
from portfolio.services.failed_tests import failed_by_id
from portfolio.services.reliance import shown_in_full
from portfolio.services.viewer import Viewer

MOST_TOLD = 3
"""How many a page tells before it counts the rest."""

_NOT_SHOWN = "not shown"
_WHY = {
    Apart.MILDER.value: "which is milder here",
    Apart.OTHER.value: "which is another here, and nothing orders the two",
    Apart.UNKNOWN.value: "which is not known well enough here and could be as bad",
}


@dataclass(frozen=True, slots=True)
class CloseTest:
    """A failing test from which one thing alone keeps the zone; values and source in words."""

    test: str
    parameter: str
    title: str
    apart: str
    zone_value: str
    provenance: str
    test_value: str

    @property
    def sentence(self) -> str:
        """What is close, what keeps it apart, and who says so; which thing it is tells of the
        tested wall, so it is not told where that may not be shown."""
        if self.apart == _NOT_SHOWN:
            return (
                f"Test {self.test} failed, and one thing alone keeps this wall from it: not shown."
            )
        thing = self.title.replace(": ", " ")
        return (
            f"Test {self.test} failed, and one thing alone keeps this wall from it: the {thing}, "
            f"{_WHY[self.apart]} (this zone: {self.zone_value}; {self.provenance}. "
            f"The test: {self.test_value})."
        )


def close_to(
    session: Session, viewer: Viewer, explained: Explanation, on: date
) -> tuple[CloseTest, ...]:
    """The failing tests close to a zone, of those that its owner sees.

    Worked out when asked. It never changes a coverage, and is nothing in favour of any wall.
    """
    failed = failed_by_id(session, explained.gathered.organisation_id, on)
    ids = {record.ref: test_id for test_id, record in failed.items()}
    found = _close(explained, failed.values())
    shown = shown_in_full(session, viewer, on, [ids[one.test] for one in found]) if found else ()
    return close_in_words(explained, failed.values(), {r for r, i in ids.items() if i in shown})


def close_in_words(
    explained: Explanation, failed: Collection[TestRecord], shown: Collection[str]
) -> tuple[CloseTest, ...]:
    """Those of `failed` that are close to a zone; of a test not in `shown`, that it is."""
    records = {record.ref: record for record in failed}
    found = _close(explained, failed)
    told = [_in_words(one, explained, records[one.test]) for one in found if one.test in shown]
    hidden = sorted(one.test for one in found if one.test not in shown)
    return (*told, *(CloseTest(test, "", "", _NOT_SHOWN, "", "", "") for test in hidden))


def _close(explained: Explanation, failed: Iterable[TestRecord]) -> tuple[CloseFailure, ...]:
    return close_failures(explained.wall, explained.coverage, failed, load_reference().judge)


def _in_words(found: CloseFailure, explained: Explanation, test: TestRecord) -> CloseTest:
    key = found.parameter
    tested = parameters_of(test.build_up).get(key, UNKNOWN)
    return CloseTest(
        found.test,
        key,
        PARAMETERS[key].title,
        found.apart.value,
        value_text(key, explained.wall.as_resolved(key)),
        provenance(explained.wall.facts.get(key)),
        value_text(key, tested),
    )

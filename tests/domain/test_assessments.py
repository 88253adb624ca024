"""Assessments in place of a test, and an engineer's word on outcomes that contradict each other.

An assessment ranks below a test: it needs sufficient relevant test evidence and somebody with the
expertise (England's planning guidance as restated by secondary sources; not read here).
"""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.coverage import Coverage
from portfolio.domain.evidence import (
    Answer3,
    Criteria,
    EvidenceKind,
    Holding,
    Outcome,
    OutcomeRuling,
    Standing,
    TestRecord,
    outcome_from_criteria,
    outcome_of,
)
from portfolio.domain.gates import BASIS_STANDS
from portfolio.domain.shelf import shelf_of
from tests.domain.factories import (
    ALL_MET,
    BR_135,
    ENGLAND,
    FLAMES_ABOVE_RIG,
    judge,
    make_library,
    make_test,
    make_wall,
)

THICK = {"insulation.1.thickness": "200"}


def assessment(**more: object) -> TestRecord:
    """An assessment of the complete wall that leans on a test of a thicker one."""
    written = make_test(ref="A-1", leans_on=("BASIS",), criteria=Criteria(), classification=None)
    about = {"author": "E. Example", "report_ref": f"report of {more.get('ref', 'A-1')}"}
    told = {"kind": EvidenceKind.ASSESSMENT} | about | more
    return replace(written, printed_outcome=Outcome.PASSED, **told)  # type: ignore[arg-type]


def basis(**more: object) -> TestRecord:
    return make_test(THICK, ref="BASIS", **more)  # type: ignore[arg-type]


def test_an_assessment_leaves_its_wall_to_be_assessed() -> None:
    found = judge(make_wall(), assessment(), basis())
    assert found.coverage is Coverage.TO_ASSESS
    assert found.nearest[0].test == "A-1"


def test_a_test_of_the_same_wall_covers_all_the_same() -> None:
    assert judge(make_wall(), assessment(), basis(), make_test()).coverage is Coverage.COVERED


@pytest.mark.parametrize("less", [{"author": ""}, {"leans_on": ()}])
def test_an_assessment_without_author_or_tests_is_not_sure(less: dict[str, object]) -> None:
    [verdict] = judge(make_wall(), assessment(**less)).nearest
    assert verdict.open_gates == ("what it leans on stands",)


@pytest.mark.parametrize(
    "fallen",
    [
        {"standing": Standing.WITHDRAWN},
        {"standing": Standing.DISPUTED},
        # flames above the rig at 43 minutes: a report is no pass, and what leans on it falls too
        {"criteria": FLAMES_ABOVE_RIG},
    ],
)
def test_an_assessment_falls_with_its_tests(fallen: dict[str, object]) -> None:
    found = judge(make_wall(), assessment(), basis(**fallen))
    assert "A-1" not in found.tests
    assert found.coverage is not Coverage.TO_ASSESS


@pytest.mark.parametrize(
    ("unsure", "gate"),
    [
        ({"classification": None}, "edition and classification pair up"),
        ({"edition": "2020"}, "edition and classification pair up"),
        ({"tested_on": None}, "anybody can find the test again"),
        ({"classification": replace(BR_135, report_ref="")}, "anybody can find the test again"),
        ({"report_on": date(1999, 1, 1)}, "the record agrees with itself"),
        ({"holding": Holding.SUMMARY}, "the report was seen"),
        ({"holding": Holding.NOT_SEEN}, "the report was seen"),
    ],
)
def test_what_a_test_may_not_be_leaned_on_for_nothing_may_that_leans_on_it(
    unsure: dict[str, object], gate: str
) -> None:
    """Also where something stands between: whoever leans on what leans on it."""
    between = assessment()
    last = replace(assessment(ref="A-2"), leans_on=("A-1",))
    library = make_library(basis(**unsure), between, last)
    for ref in ("A-1", "A-2"):
        [found] = [g for g in library.gates[ENGLAND][ref] if g.name == BASIS_STANDS]
        assert found.answer is Answer3.UNKNOWN
        assert gate in found.reason
        assert "BASIS" in found.reason


def test_an_assessment_may_lean_on_an_assessment_that_stands() -> None:
    second = replace(assessment(), ref="A-2", leans_on=("A-1",))
    found = shelf_of([basis(), assessment(), second]).known
    assert found["A-2"] == (Standing.LIVE, Outcome.PASSED)
    found = shelf_of([basis(standing=Standing.WITHDRAWN), assessment(), second]).known
    assert found["A-2"] == (Standing.LIVE, Outcome.NOT_TOLD)


# --- Outcomes that contradict each other ----------------------------------------------------------


def contradictory(**more: object) -> TestRecord:
    """The report prints a pass; flames rose above the rig."""
    record = make_test(criteria=FLAMES_ABOVE_RIG, printed_outcome=Outcome.PASSED)
    return replace(record, **more)  # type: ignore[arg-type]


def ruling(outcome: Outcome) -> OutcomeRuling:
    return OutcomeRuling(outcome, "E. Example", date(2026, 2, 1), Outcome.PASSED, Outcome.FAILED)


def test_the_stricter_outcome_counts_until_an_engineer_settles_it() -> None:
    assert outcome_of(contradictory()) is Outcome.FAILED
    settled = contradictory(ruling=ruling(Outcome.PASSED))
    assert outcome_of(settled) is Outcome.PASSED
    assert judge(make_wall(), contradictory()).coverage is Coverage.CONTRADICTED
    assert judge(make_wall(), settled).coverage is Coverage.COVERED


@given(
    st.sampled_from(Outcome),
    st.sampled_from([ALL_MET, FLAMES_ABOVE_RIG, Criteria()]),
    st.sampled_from([Outcome.PASSED, Outcome.FAILED]),
)
def test_a_ruling_holds_only_for_what_was_ruled_on(
    printed: Outcome, criteria: Criteria, ruled: Outcome
) -> None:
    record = contradictory(printed_outcome=printed, criteria=criteria)
    told = replace(record, ruling=ruling(ruled))
    same = (printed, outcome_from_criteria(criteria)) == (Outcome.PASSED, Outcome.FAILED)
    assert outcome_of(told) is (ruled if same else outcome_of(record))


def test_an_engineer_who_settles_on_the_failure_changes_nothing() -> None:
    settled = contradictory(ruling=ruling(Outcome.FAILED))
    assert judge(make_wall(), settled).coverage is Coverage.CONTRADICTED
    assert settled.criteria.no_flames_above_rig is Answer3.NOT_MET

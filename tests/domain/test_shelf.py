"""Several issues of one report: the later one takes the earlier one's place."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.coverage import Coverage
from portfolio.domain.evidence import Answer3, Standing, TestRecord
from portfolio.domain.gates import gates
from portfolio.domain.shelf import shelf_of
from portfolio.reference.loader import load_reference
from tests.domain.factories import ENGLAND, ON, judge, make_test, make_wall

LATEST = "its report stands as it is"
FIRST, SECOND = date(2025, 1, 1), date(2026, 1, 1)


def issue(number: str, on: date | None, **more: object) -> TestRecord:
    told = {"ref": f"issue {number}", "report_ref": "R-12", "report_issue": number, "report_on": on}
    return make_test(**{"laboratory": "the rig hall", **told, **more})


def answer(test: TestRecord, *others: TestRecord) -> Answer3:
    found = gates(test, load_reference().gate_facts, ENGLAND, shelf_of([test, *others]), ON)
    return next(gate.answer for gate in found if gate.name == LATEST)


@pytest.mark.parametrize("standing", list(Standing))
def test_an_earlier_issue_covers_nothing_whatever_became_of_the_later(standing: Standing) -> None:
    early, late = issue("1", FIRST), issue("2", SECOND, standing=standing)
    assert answer(early, late) is Answer3.NOT_MET
    assert answer(late, early) is Answer3.MET
    covers = standing is Standing.LIVE
    found = judge(make_wall(), early, late)
    assert (found.coverage is Coverage.COVERED) is covers
    assert "issue 1" not in found.tests


def test_a_later_issue_that_failed_contradicts_and_the_earlier_pass_covers_no_more() -> None:
    found = judge(make_wall(), issue("1", FIRST), issue("2", SECOND, fails=True))
    assert found.coverage is Coverage.CONTRADICTED
    assert not found.covered_too


@pytest.mark.parametrize(
    ("other", "expected"),
    [
        (issue("2", None), Answer3.UNKNOWN),
        (issue("2", FIRST), Answer3.UNKNOWN),
        # one report may tell of several tests
        (issue("1", SECOND), Answer3.MET),
        (issue("2", SECOND, report_ref="R-13"), Answer3.MET),
        (issue("2", SECOND, laboratory="another hall"), Answer3.MET),
        (issue("0", SECOND, report_issue=""), Answer3.UNKNOWN),
        (issue("0", FIRST, report_issue=""), Answer3.UNKNOWN),
        (issue("0", date(2024, 12, 1), report_issue=""), Answer3.MET),
        # one report written in several ways
        (issue("2", SECOND, report_ref="r-12", laboratory="The Rig Hall"), Answer3.NOT_MET),
        (issue("2", SECOND, report_ref="R 12", laboratory="the rig hall, north"), Answer3.NOT_MET),
        (issue("2", SECOND, report_ref="R–12", laboratory=""), Answer3.NOT_MET),
    ],
)
def test_which_records_are_of_one_report(other: TestRecord, expected: Answer3) -> None:
    assert answer(issue("1", FIRST), other) is expected


@pytest.mark.parametrize("standing", [s for s in Standing if s is not Standing.LIVE])
@pytest.mark.parametrize("number", ["1", ""])
def test_what_became_of_a_report_became_of_every_record_of_it(
    standing: Standing, number: str
) -> None:
    """Two holders may each have a record of one report: a laboratory withdraws its own."""
    own, theirs = issue("1", FIRST), issue(number, FIRST, ref="L-7", standing=standing)
    assert answer(own, theirs) is (Answer3.UNKNOWN)
    found = judge(make_wall(), own, theirs)
    assert found.coverage is Coverage.TOO_LITTLE_KNOWN
    assert judge(make_wall(), own, issue("1", FIRST, ref="L-7")).coverage is Coverage.COVERED


def test_what_leans_on_a_replaced_issue_leans_on_nothing() -> None:
    early, late = issue("1", FIRST), issue("2", SECOND)
    leaning = make_test(ref="T9", leans_on=("issue 1",))
    assert judge(make_wall(), early, leaning).tests == ("T9", "issue 1")
    assert judge(make_wall(), early, late, leaning).tests == ("issue 2",)


@given(st.lists(st.sampled_from([date(2025, 1, day) for day in range(1, 6)]), min_size=2))
def test_of_several_issues_the_last_alone_may_count_in_whatever_order_they_come(
    days: list[date],
) -> None:
    issues = [issue(str(number), day) for number, day in enumerate(days)]
    shelf = shelf_of(issues)
    assert shelf_of(issues[::-1]) == shelf
    for test in issues:
        is_last = test.report_on == max(days)
        assert (test.ref in shelf.replaced) is not is_last
        alone = days.count(max(days)) == 1
        assert (test.ref not in shelf.doubted and test.ref not in shelf.replaced) is (
            is_last and alone
        )

"""Records that contradict themselves: kept as printed, and sure of nothing."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from portfolio.domain.contradictions import contradictions
from portfolio.domain.coverage import Coverage
from portfolio.domain.evidence import Answer3, TestRecord
from portfolio.reference.loader import load_reference
from tests.domain.factories import ALL_MET, ON, judge, make_test, make_wall

CRITERIA = load_reference().criteria
# Secondary: trade press and test descriptions say that the fire is put out 30 min after ignition.
FIRE_SECONDS = 30 * 60
DAY = timedelta(days=1)


def told(test: TestRecord) -> list[str]:
    return [found.reason for found in contradictions(test, CRITERIA, ON)]


def test_a_sound_record_contradicts_nothing() -> None:
    test = make_test(run_seconds=3600, report_on=ON)
    assert test.tested_on is not None
    assert told(test) == []


@pytest.mark.parametrize(
    ("seconds", "early", "contradicts"),
    [
        (None, Answer3.MET, False),
        (FIRE_SECONDS, Answer3.MET, False),
        (FIRE_SECONDS - 1, Answer3.MET, True),
        (465, Answer3.MET, True),
        # it says that it ended early: then a short run is what it says
        (465, Answer3.NOT_MET, False),
        (465, Answer3.UNKNOWN, False),
    ],
)
def test_a_test_that_ran_for_less_than_its_fire_ended_early(
    seconds: int | None, early: Answer3, contradicts: bool
) -> None:
    test = make_test(run_seconds=seconds, criteria=replace(ALL_MET, no_early_end=early))
    assert bool(told(test)) is contradicts


@pytest.mark.parametrize(
    ("tested_on", "report_on", "contradicts"),
    [
        (date(2018, 5, 2), date(2018, 5, 1), True),
        (date(2018, 5, 2), date(2018, 5, 2), False),
        (date(2018, 5, 2), ON, False),
        (date(2018, 5, 2), ON + DAY, True),
        (None, ON, False),
        (None, ON + DAY, True),
    ],
)
def test_a_report_is_written_after_its_test_and_not_in_the_future(
    tested_on: date | None, report_on: date, contradicts: bool
) -> None:
    assert bool(told(make_test(tested_on=tested_on, report_on=report_on))) is contradicts


@pytest.mark.parametrize(
    ("edition", "year", "contradicts"),
    [
        ("2015", 2014, True),
        ("2015", 2015, False),
        # the edition that was tested to is the amended one
        ("2015+A1:2017", 2016, True),
        ("2015+A1:2017", 2017, False),
        ("2005", 2018, False),
        ("", 1990, False),
        ("first", 1990, False),
    ],
)
def test_nothing_was_tested_to_an_edition_before_there_was_one(
    edition: str, year: int, contradicts: bool
) -> None:
    test = make_test(edition=edition, tested_on=date(year, 6, 1))
    assert any("edition" in reason for reason in told(test)) is contradicts


@pytest.mark.parametrize(
    "changed",
    [
        {"run_seconds": FIRE_SECONDS - 1},
        {"report_on": date(1999, 1, 1)},
        {"tested_on": date(2016, 1, 1)},
    ],
    ids=["run", "report", "edition"],
)
def test_a_record_that_contradicts_itself_covers_nothing_and_names_what_is_wrong(
    changed: dict[str, object],
) -> None:
    assert judge(make_wall(), make_test()).coverage is Coverage.COVERED
    found = judge(make_wall(), make_test(**changed))
    assert found.coverage is Coverage.TOO_LITTLE_KNOWN
    assert "the record agrees with itself" in found.nearest[0].open_gates

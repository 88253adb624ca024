"""Statuses of works, what each needs, days that they are held to, and the figures of a release."""

from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.heights import HeightClaim
from portfolio.domain.works import Decided, Standing, Step, WorksStatus, objections
from portfolio.domain.works_due import (
    Applies,
    Deadline,
    DeadlineKind,
    Lateness,
    applies,
    lateness,
)
from portfolio.domain.works_figures import CountedWorks, release
from portfolio.domain.works_money import (
    Interim,
    cost_so_far,
    money_text,
    months_between,
    read_money,
)

TODAY = date(2026, 3, 1)
BUILT = date(2026, 2, 20)
DONE = Standing(Decided.REPLACEMENT, "", BUILT, 1, {"N": [BUILT]})


def said(status: WorksStatus, known: Standing, *, on: date = TODAY, reason: str = "") -> list[str]:
    """What keeps a status from being recorded after “started”."""
    last = Step(WorksStatus.STARTED, date(2026, 1, 5))
    return [one.message for one in objections(last, Step(status, on), known, reason, TODAY)]


def test_complete_with_paper_and_survey_of_what_was_built() -> None:
    assert said(WorksStatus.COMPLETE, DONE) == []


@pytest.mark.parametrize(
    ("known", "told"),
    [
        (Standing(Decided.REPLACEMENT, "", BUILT, 0, DONE.surveyed), "No document supports"),
        # a survey of the old build-up shows nothing of the new one
        (
            Standing(Decided.REPLACEMENT, "", BUILT, 1, {"N": [BUILT - timedelta(days=1)]}),
            "No survey of the new build-up is recorded of N.",
        ),
        # one zone surveyed does not speak for another
        (
            Standing(Decided.REPLACEMENT, "", BUILT, 1, {"N": [BUILT], "S": []}),
            "No survey of the new build-up is recorded of S.",
        ),
        (Standing(Decided.REPLACEMENT, "", BUILT, 1, {}), "no zone of which a survey could speak"),
        (Standing(Decided.REPLACEMENT, "", None, 1, DONE.surveyed), "needs the day of the new"),
        (Standing(Decided.ASSESSMENT, "", BUILT, 1, DONE.surveyed), "is said of building work"),
    ],
)
def test_complete_lacks_something(known: Standing, told: str) -> None:
    assert any(told in message for message in said(WorksStatus.COMPLETE, known))


def test_awaiting_sign_off_needs_the_day_but_no_paper_yet() -> None:
    known = Standing(Decided.REPLACEMENT, "", BUILT, 0, {"N": []})
    assert said(WorksStatus.AWAITING_SIGN_OFF, known) == []
    assert said(WorksStatus.AWAITING_SIGN_OFF, known, on=BUILT - timedelta(days=1)) == [
        "The new build-up would be complete only on 2026-02-20."
    ]


def test_going_back_asks_for_a_reason_and_days_only_go_on() -> None:
    known = Standing(Decided.REPLACEMENT)
    assert said(WorksStatus.PLANNED, known) == ["This goes back from “started”."]
    assert said(WorksStatus.PLANNED, known, reason="the contractor left") == []
    assert said(WorksStatus.STARTED, known, on=date(2026, 1, 4)) == [
        "“Started” was reached on 2026-01-05."
    ]
    assert said(WorksStatus.STARTED, known, on=date(2026, 3, 2)) == ["This day has not come yet."]


def test_none_needed_asks_why() -> None:
    new = Step(WorksStatus.APPRAISED, TODAY)
    [found] = objections(None, new, Standing(Decided.NONE_NEEDED), "", TODAY)
    assert found.about == "decided_reason"
    told = Standing(Decided.NONE_NEEDED, "appraised as low, note 7")
    assert objections(None, new, told, "", TODAY) == ()


days = st.dates(date(2025, 1, 1), date(2027, 1, 1))


@given(st.sampled_from(WorksStatus), st.sampled_from(Decided), days, st.integers(0, 2), days)
def test_whatever_is_complete_has_paper_and_a_later_survey(
    status: WorksStatus, decided: Decided, built: date, papers: int, surveyed: date
) -> None:
    known = Standing(decided, "why", built, papers, {"N": [surveyed]})
    if not objections(None, Step(status, TODAY), known, "", TODAY):
        if status is WorksStatus.COMPLETE:
            assert papers
            assert surveyed >= built
        if status.is_built:
            assert built <= TODAY
            assert decided is Decided.REPLACEMENT


# --- money ---------------------------------------------------------------------------------------


@given(st.integers(0, 10**13))
def test_money_is_read_as_it_is_written(minor: int) -> None:
    assert read_money(money_text(minor)) == minor


@pytest.mark.parametrize("text", ["", "-5", "1.234", "1,23", "about 5", "5k", "99999999999999"])
def test_what_is_no_amount_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="an amount"):
        read_money(text)


def test_a_tenth_of_a_penny_is_not_lost_on_the_way() -> None:
    """3 × 0.10 is 0.30 exactly; binary fractions would make it 0.30000000000000004."""
    cost = cost_so_far(Interim(date(2026, 1, 1), None, read_money("0.10")), date(2026, 3, 31))
    assert cost == 30


def test_a_part_of_a_month_costs_its_share_of_that_month() -> None:
    # 14 of February's 28 days: half of 10,000
    measure = Interim(date(2026, 2, 1), date(2026, 2, 14), 1_000_000)
    assert cost_so_far(measure, TODAY) == 500_000
    assert cost_so_far(Interim(date(2026, 4, 1), None, 1_000_000), TODAY) == 0
    assert cost_so_far(Interim(date(2026, 1, 1)), TODAY) is None


@given(days, st.integers(0, 800), st.integers(1, 800))
def test_months_of_two_stretches_are_those_of_the_whole(first: date, one: int, two: int) -> None:
    middle, last = first + timedelta(days=one), first + timedelta(days=one + two)
    whole = months_between(first, middle) + months_between(middle + timedelta(days=1), last)
    assert months_between(first, last) == whole


def test_a_year_is_twelve_months() -> None:
    assert months_between(date(2027, 6, 17), date(2028, 6, 16)) == Fraction(12)


# --- deadlines -----------------------------------------------------------------------------------


def deadline(from_m: float, below_m: float | None) -> Deadline:
    on = date(2029, 12, 31)
    kind = DeadlineKind.POLICY
    return Deadline("k", "t", kind, "England", on, from_m, below_m, TODAY, "a source", "secondary")


@pytest.mark.parametrize(
    ("metres", "tolerance", "tall", "middling"),
    [
        (18.0, 0.0, Applies.YES, Applies.NO),
        (17.9, 0.0, Applies.NO, Applies.YES),
        (17.77, 0.5, Applies.COULD, Applies.COULD),
        (11.0, 0.0, Applies.NO, Applies.YES),
        (10.9, 0.0, Applies.NO, Applies.NO),
        (10.85, 0.5, Applies.NO, Applies.COULD),
    ],
)
def test_a_policy_date_goes_by_height_with_its_tolerance(
    metres: float, tolerance: float, tall: Applies, middling: Applies
) -> None:
    """18 m and over, and 11 m to 18 m: government policy, England, as told on 2 July 2026
    (secondary)."""
    claims = [HeightClaim(metres, "measured", tolerance)]
    assert applies(deadline(18, None), "England", claims) is tall
    assert applies(deadline(11, 18), "England", claims) is middling


def test_what_nobody_knows_could_apply_and_another_country_has_its_own_law() -> None:
    tall = [HeightClaim(30, "measured", 0.0)]
    assert applies(deadline(18, None), "England", []) is Applies.COULD
    assert applies(deadline(18, None), "", tall) is Applies.COULD
    assert applies(deadline(18, None), "Wales", tall) is Applies.NO


def test_overdue_begins_the_day_after_and_soon_thirty_days_before() -> None:
    at = {days: lateness(TODAY + timedelta(days=days), TODAY) for days in (-1, 0, 30, 31)}
    assert list(at.values()) == [
        Lateness.OVERDUE,
        Lateness.SOON,
        Lateness.SOON,
        Lateness.LATER,
    ]


# --- figures -------------------------------------------------------------------------------------


def one(building: object, status: WorksStatus, programme: str = "A") -> CountedWorks:
    return CountedWorks(building, programme, Decided.REPLACEMENT, status)


@pytest.mark.parametrize(
    ("completed", "started", "not_started", "total"),
    [
        # Building Safety Remediation, monthly data release, England: June, October, December 2024
        (1_332, 969, 2_312, 4_613),
        (1_436, 983, 2_415, 4_834),
        (1_472, 931, 2_608, 5_011),
    ],
)
def test_the_sums_of_the_published_release(
    completed: int, started: int, not_started: int, total: int
) -> None:
    """Of the completed some await sign-off; how many is of no matter to the sum."""
    statuses = [
        *(
            WorksStatus.COMPLETE if n % 3 else WorksStatus.AWAITING_SIGN_OFF
            for n in range(completed)
        ),
        *([WorksStatus.STARTED] * started),
        *(list(WorksStatus)[n % 3] for n in range(not_started)),
    ]
    found = release(one(number, status) for number, status in enumerate(statuses)).all
    assert (found.completed, found.started, found.not_started) == (completed, started, not_started)
    assert found.total == total
    assert found.awaiting == len(range(0, completed, 3))


def test_a_building_in_several_programmes_counts_once() -> None:
    """As the release counts; that the works furthest behind count is ours."""
    found = release(
        [
            one("B", WorksStatus.COMPLETE, "A"),
            one("B", WorksStatus.STARTED, "C"),
            one("D", WorksStatus.COMPLETE, "A"),
        ]
    )
    assert (found.all.completed, found.all.started, found.all.total) == (1, 1, 2)
    assert [(row.title, row.total) for row in found.programmes] == [("A", 2), ("C", 1)]
    assert found.counted_twice == 1


def test_where_none_is_needed_a_building_is_in_no_programme() -> None:
    none = CountedWorks("B", "", Decided.NONE_NEEDED, WorksStatus.APPRAISED)
    assert (release([none]).all.total, release([none]).all.none_needed) == (0, 1)
    with_works = release([none, one("B", WorksStatus.COMPLETE)]).all
    assert (with_works.completed, with_works.none_needed) == (1, 0)


counted = st.builds(
    CountedWorks,
    st.integers(0, 5),
    st.sampled_from(["", "A", "B"]),
    st.sampled_from(Decided),
    st.sampled_from(WorksStatus),
)


@given(st.lists(counted, max_size=20))
def test_every_building_is_counted_exactly_once(works: list[CountedWorks]) -> None:
    found = release(works)
    assert found.all.total + found.all.none_needed == len({one.building for one in works})
    assert found.counted_twice >= 0

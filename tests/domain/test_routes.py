"""Whether the law lets a test speak for a wall, by place, day, kind of work, height and use.

Outside the project: regulation 7(2) of the Building Regulations 2010 (England) has applied to new
work since 21 December 2018, at 18 m or more, and was widened on 1 December 2022; the Scottish
Technical Handbooks end the BS 8414 route for new work on dwellings at 11 m or more since 1 June
2022; neither is retrospective. Which uses are reached in England is from memory.
"""

from collections.abc import Collection
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.assessing import assess
from portfolio.domain.coverage import Coverage, ZoneCase
from portfolio.domain.evidence import Answer3
from portfolio.domain.gates import Setting, gates
from portfolio.domain.heights import HeightClaim, estimate_from_storeys, exact
from portfolio.domain.routes import AppliedRoute, NewWork, Work, applied_route
from portfolio.domain.shelf import shelf_of
from portfolio.reference.loader import load_reference
from portfolio.services.coverage import library_of
from tests.domain.factories import (
    ENGLAND,
    ON,
    make_library,
    make_test,
    make_wall,
    shipped_rules,
)

MET, NOT_MET, UNKNOWN = Answer3.MET, Answer3.NOT_MET, Answer3.UNKNOWN
BEGAN, WIDENED, SCOTLAND = date(2018, 12, 21), date(2022, 12, 1), date(2022, 6, 1)


def applied(jurisdiction: str, work: NewWork | None, on: date = ON) -> AppliedRoute:
    return applied_route(load_reference().routes, jurisdiction, work, on)


def at(metres: float | None, tolerance: float = 0.0) -> tuple[HeightClaim, ...]:
    return () if metres is None else (HeightClaim(metres, "measured", tolerance),)


@pytest.mark.parametrize(
    ("place", "work", "answer", "why"),
    [
        ("England", (BEGAN, 18.0, "flats"), NOT_MET, "at 18 m or more, on the first day"),
        ("England", (BEGAN, 17.9, "flats"), MET, "below 18 m the rule does not reach"),
        ("England", (date(2018, 12, 20), 30.0, "flats"), UNKNOWN, "nothing is recorded before"),
        ("England", (date(2022, 11, 30), 30.0, "flats"), NOT_MET, "the day before it was widened"),
        ("England", (WIDENED, 30.0, "flats"), NOT_MET, "the day on which it was widened"),
        ("England", (BEGAN, 30.0, "office"), UNKNOWN, "which other uses are reached is not known"),
        ("England", (WIDENED, 30.0, "hotel"), UNKNOWN, "to what it was widened is not recorded"),
        ("England", (BEGAN, 30.0, ""), UNKNOWN, "nobody says what the building is used for"),
        ("England", (BEGAN, None, "flats"), UNKNOWN, "nobody says how high it is"),
        ("England", (BEGAN, 10.0, ""), MET, "below the height no use matters"),
        ("England", (None, 10.0, "flats"), UNKNOWN, "nobody says when the work counted"),
        ("Scotland", (SCOTLAND, 11.0, "flats"), NOT_MET, "at 11 m or more, on the first day"),
        ("Scotland", (SCOTLAND, 10.9, "flats"), MET, "below 11 m"),
        ("Scotland", (date(2022, 5, 31), 11.0, "flats"), UNKNOWN, "nothing is recorded before"),
        ("Scotland", (SCOTLAND, 12.2, "flats"), NOT_MET, "four storeys, top floor at 12.2 m"),
        ("Wales", (WIDENED, 30.0, "flats"), UNKNOWN, "nothing is recorded of new work there"),
        ("", (WIDENED, 30.0, "flats"), UNKNOWN, "nobody says where the building stands"),
    ],
)
def test_new_work_goes_by_the_day_on_which_it_counted_by_height_and_by_use(
    place: str, work: tuple[date | None, float | None, str], answer: Answer3, why: str
) -> None:
    counted, metres, use = work
    assert applied(place, NewWork(counted, use, at(metres))).answer is answer, why


@pytest.mark.parametrize(
    ("work", "settles"),
    [
        (NewWork(None, "flats", at(30)), "the day on which the application or notice"),
        (NewWork(BEGAN, "flats", ()), "the height of the top storey"),
        (NewWork(BEGAN, "flats", at(18, 0.5)), "closely enough to tell whether it is at least 18"),
        (NewWork(BEGAN, "", at(30)), "the use of the building"),
        (NewWork(BEGAN, "office", at(30)), "whether the rule reaches a building of this use"),
    ],
)
def test_an_unknown_route_names_the_fact_that_would_settle_it(work: NewWork, settles: str) -> None:
    found = applied("England", work)
    assert found.answer is UNKNOWN
    assert settles in found.settles


def test_a_height_that_could_lie_on_either_side_of_the_rule_acquits_nothing() -> None:
    found = applied("England", NewWork(BEGAN, "flats", at(17.8, 0.5)))
    assert (found.answer, "either side" in found.reason) == (UNKNOWN, True)


@pytest.mark.parametrize(
    ("claimed", "storeys", "answer", "why"),
    [
        (None, 4, UNKNOWN, "storeys suggest a height below the rule, and open no route"),
        (None, 30, NOT_MET, "thirty storeys reach 18 m whatever they are"),
        (12.0, 4, MET, "a claim that the storeys do not contradict"),
        (12.0, 30, UNKNOWN, "a claim of 12 m for thirty storeys"),
        (0.0, 30, UNKNOWN, "nor does a claim of nothing open a route"),
        (30.0, 4, NOT_MET, "what is claimed to be tall is not made low by its storeys"),
    ],
)
def test_what_storeys_suggest_speaks_against_new_work_and_never_for_it(
    claimed: float | None, storeys: int, answer: Answer3, why: str
) -> None:
    work = NewWork(BEGAN, "flats", at(claimed), estimate_from_storeys(storeys))
    assert applied("England", work).answer is answer, why


@pytest.mark.parametrize("place", ["England", "Scotland"])
@pytest.mark.parametrize("metres", [9.0, 11.0, 18.0, 40.0])
def test_neither_rule_on_new_work_is_retrospective(place: str, metres: float) -> None:
    """Regulation 7(2) and the Scottish handbooks say so of themselves."""
    assert applied(place, None).answer is MET
    assert applied(place, None).work is Work.EXISTING


def test_the_rule_since_when_and_its_source_are_told() -> None:
    found = applied("England", NewWork(BEGAN, "flats", at(30)))
    assert (found.since, found.status) == (BEGAN, "published")
    assert "regulation 7(2)" in found.source
    assert "from memory" in found.source


@given(
    st.sampled_from(["England", "Scotland", "Wales", ""]),
    st.dates(date(2017, 1, 1), date(2030, 1, 1)),
    st.floats(0, 60),
    st.sampled_from(["", "flats", "office", "hotel"]),
)
def test_less_known_never_opens_a_route(place: str, counted: date, metres: float, use: str) -> None:
    whole = applied(place, NewWork(counted, use, (exact(metres),))).answer
    for less in (
        NewWork(None, use, (exact(metres),)),
        NewWork(counted, "", (exact(metres),)),
        NewWork(counted, use, ()),
    ):
        assert applied(place, less).answer in (whole, UNKNOWN)


@given(st.floats(0, 60), st.floats(0, 60))
def test_a_taller_building_is_never_let_through_where_a_lower_one_is_not(
    one: float, other: float
) -> None:
    low, high = sorted((one, other))
    answers = [applied("England", NewWork(BEGAN, "flats", (exact(m),))).answer for m in (low, high)]
    assert answers != [NOT_MET, MET]


def test_no_test_covers_new_work_that_the_rule_reaches() -> None:
    reached = Setting("England", new_work=NewWork(BEGAN, "flats", at(30)))
    below = Setting("England", new_work=NewWork(BEGAN, "flats", at(12)))
    unsaid = Setting("England", new_work=NewWork(None, "flats", at(12)))
    settings = [ENGLAND, reached, below, unsaid]
    found = _coverages(settings)
    assert found == [
        Coverage.COVERED,
        Coverage.NO_MATCHING_EVIDENCE,
        Coverage.COVERED,
        Coverage.TOO_LITTLE_KNOWN,
    ]


def _coverages(settings: Collection[Setting]) -> list[Coverage]:
    library = make_library(make_test(), settings=settings)
    cases = [ZoneCase(make_wall(), setting) for setting in settings]
    return [found.coverage for found in assess(cases, library)]


def test_a_failing_test_speaks_against_new_work_as_against_any_wall() -> None:
    reached = Setting("England", new_work=NewWork(BEGAN, "flats", at(30)))
    library = make_library(make_test(fails=True), settings=[reached])
    [found] = assess([ZoneCase(make_wall(), reached)], library)
    assert found.coverage is Coverage.CONTRADICTED


def test_a_library_of_many_settings_has_the_gates_of_each() -> None:
    settings = [ENGLAND, Setting("Scotland", True), Setting("England", new_work=NewWork(BEGAN))]
    facts, test = load_reference().gate_facts, make_test()
    found = library_of([test], settings, shipped_rules()).gates
    shelf = shelf_of([test])
    assert found == {one: {test.ref: gates(test, facts, one, shelf, ON)} for one in settings}

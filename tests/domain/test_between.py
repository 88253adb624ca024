"""Walls between two tests that differ in one number only."""

import pytest

from portfolio.domain.between import Between, OneApart, between, differ_in
from portfolio.domain.values import exactly
from portfolio.domain.walls import parameters_of
from tests.domain.factories import complete, make_build_up, make_wall

DEPTH = "cavity.1.depth"


def one_apart(name: str, differs: str = DEPTH, **changed: str) -> OneApart:
    told = complete({key.replace("__", "."): text for key, text in changed.items()})
    return OneApart(name, differs, parameters_of(make_build_up(told)))


def found(depth: str, *tests: OneApart) -> tuple[Between, ...]:
    wall = make_wall({DEPTH: depth})
    return between({key: fact.value for key, fact in wall.facts.items()}, tests)


LOW, HIGH = one_apart("T-LOW", cavity__1__depth="40"), one_apart("T-HIGH", cavity__1__depth="80")


def test_a_wall_between_two_tests_is_named_with_both() -> None:
    expected = Between(DEPTH, "T-LOW", "T-HIGH", exactly(40), exactly(60), exactly(80))
    assert found("60", LOW, HIGH) == found("60", HIGH, LOW) == (expected,)


@pytest.mark.parametrize("depth", ["40", "80", "30", "90", "35-60", "60-85", ""])
def test_a_wall_that_is_not_known_to_lie_between_is_not_named(depth: str) -> None:
    assert found(depth, LOW, HIGH) == ()


def test_a_range_that_lies_between_as_a_whole_is_named() -> None:
    assert len(found("50-60", LOW, HIGH)) == 1


def test_two_tests_that_differ_in_anything_else_are_not_named() -> None:
    other = one_apart("T-OTHER", cavity__1__depth="80", insulation__1__thickness="101")
    assert found("60", LOW, other) == ()


def test_two_tests_that_leave_something_else_unknown_are_not_named() -> None:
    other = one_apart("T-OTHER", cavity__1__depth="80", facing__1__product="")
    assert found("60", LOW, other) == ()


def test_two_tests_that_leave_the_number_open_are_not_named() -> None:
    other = one_apart("T-OTHER", cavity__1__depth="55-80")
    assert found("60", LOW, other) == ()


def test_the_closest_two_come_first() -> None:
    nearer = one_apart("T-NEARER", cavity__1__depth="70")
    assert [(b.lower, b.upper) for b in found("60", LOW, HIGH, nearer)] == [
        ("T-LOW", "T-NEARER"),
        ("T-LOW", "T-HIGH"),
    ]


def test_differing_words_are_no_number_to_lie_between() -> None:
    one = one_apart("T1", "frame.1.material")
    other = one_apart("T2", "frame.1.material", frame__1__material="timber studs")
    assert differ_in(one.tested, other.tested) == ("frame.1.material",)
    assert found("60", one, other) == ()

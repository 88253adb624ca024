"""Any two walls beside each other."""

from datetime import date

from hypothesis import given

from portfolio.domain.columns import Answer
from portfolio.domain.comparing import (
    Likeness,
    compare_walls,
    likeness,
    means_something,
    wall_as_tested,
)
from portfolio.domain.matching import Compared, compile_tests, compile_walls, explain_pair
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.readings import read_walls
from portfolio.domain.surveys import Basis, Wall
from portfolio.domain.values import UNKNOWN
from tests.domain.factories import (
    PIR,
    complete,
    make_partial,
    make_survey,
    make_test,
    make_wall,
    plans_of_tests,
    plans_of_walls,
    shipped_rules,
    wall_of,
)
from tests.domain.factories import TestPlan as PlanOfTest
from tests.domain.factories import WallPlan as PlanOfWall

ORDER = [Answer.DIFFERS, Answer.UNKNOWN, Answer.ALLOWED, Answer.SAME]


def _compare(left: Wall, right: Wall) -> dict[str, Compared]:
    return {row.parameter: row for row in compare_walls(left, right, shipped_rules())}


def test_two_zones_built_alike_and_opened_up_are_the_same_in_everything() -> None:
    found = compare_walls(make_wall(), make_wall(), shipped_rules())
    assert {row.answer for row in found} == {Answer.SAME}
    assert likeness(found) == Likeness(len(found), 0, 0, 0, 0)


def test_other_insulation_is_a_decisive_difference() -> None:
    found = compare_walls(make_wall(), make_wall(PIR), shipped_rules())
    assert (found[0].parameter, found[0].answer) == ("insulation.1.material", Answer.DIFFERS)
    assert (likeness(found).differs, likeness(found).decisive) == (1, 1)


def test_a_cavity_within_the_measuring_tolerance_is_allowed_and_its_rule_named() -> None:
    row = _compare(make_wall(), make_wall({"cavity.1.depth": "52"}))["cavity.1.depth"]
    assert row.answer is Answer.ALLOWED
    assert row.rule is not None
    assert row.rule.authority


def test_a_drawing_leaves_the_insulation_open_on_whichever_side_it_is() -> None:
    drawn, opened = make_wall(basis=Basis.DRAWING), make_wall()
    for left, right in ((drawn, opened), (opened, drawn)):
        row = _compare(left, right)["insulation.1.material"]
        assert (row.answer, row.too_weak) == (Answer.UNKNOWN, True)


def test_what_is_only_assumed_of_either_zone_is_unknown_and_its_value_still_told() -> None:
    sure = make_wall()
    assumed = wall_of(make_survey(complete(PIR), basis=Basis.ASSUMPTION))
    for left, right in ((assumed, sure), (sure, assumed)):
        row = _compare(left, right)["insulation.1.material"]
        assert row.answer is Answer.UNKNOWN
        assert UNKNOWN not in (row.zone_value, row.test_value)


def test_two_tests_are_compared_as_their_records_have_them() -> None:
    left, right = make_test(), make_test(PIR, ref="T2", tested_on=None)
    found = compare_walls(wall_as_tested(left), wall_as_tested(right), shipped_rules())
    assert [r.parameter for r in found if r.answer is Answer.DIFFERS] == ["insulation.1.material"]


def test_what_neither_record_says_is_unknown() -> None:
    told = make_partial({"insulation.1.material": "stone-wool"}, on=date(2026, 1, 1))
    row = _compare(wall_of(told), wall_of(told))["cavity.1.depth"]
    assert row.answer is Answer.UNKNOWN


def test_the_sentence_never_says_covered_and_counts_everything() -> None:
    assert Likeness(1, 2, 0, 0, 0).in_words == (
        "The same in 1 thing, within a rule in 2, differing in nothing that is known; "
        "nothing unknown."
    )
    assert Likeness(4, 0, 3, 0, 1).in_words == (
        "The same in 4 things, differing in 3, of which none decisive; 1 unknown."
    )


@given(plans_of_walls(), plans_of_walls())
def test_the_answers_are_the_same_whichever_wall_is_left(
    one: PlanOfWall, other: PlanOfWall
) -> None:
    there, back = _compare(one.wall, other.wall), _compare(other.wall, one.wall)
    assert {key: (r.answer, r.rule, r.too_weak) for key, r in there.items()} == {
        key: (r.answer, r.rule, r.too_weak) for key, r in back.items()
    }
    assert {key: r.zone_value for key, r in there.items()} == {
        key: r.test_value for key, r in back.items()
    }


@given(plans_of_walls(), plans_of_tests())
def test_a_test_beside_a_zone_answers_as_the_matching_engine_does(
    zone: PlanOfWall, test: PlanOfTest
) -> None:
    tests = compile_tests([test.record])
    compiled = compile_walls(read_walls([zone.wall]), tests, shipped_rules())
    engine = explain_pair(compiled, zone.wall, 0, 0)
    assert _compare(zone.wall, wall_as_tested(test.record)) == {
        row.parameter: row for row in engine if means_something(row)
    }


@given(plans_of_walls(), plans_of_walls())
def test_differences_come_first_and_decisive_ones_before_others(
    one: PlanOfWall, other: PlanOfWall
) -> None:
    found = compare_walls(one.wall, other.wall, shipped_rules())
    places = [(ORDER.index(r.answer), not PARAMETERS[r.parameter].is_decisive) for r in found]
    assert places == sorted(places)
    counts = likeness(found)
    assert counts.same + counts.allowed + counts.differs + counts.unknown == len(found)

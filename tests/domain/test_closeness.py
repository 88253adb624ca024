"""Failing tests from which one thing alone keeps a wall: which, and that they only warn."""

import pytest
from hypothesis import given

from portfolio.domain.closeness import Apart, CloseFailure, close_failures
from portfolio.domain.coverage import Coverage
from portfolio.domain.evidence import Standing, TestRecord
from portfolio.domain.settling import with_found
from portfolio.domain.surveys import Basis, Wall
from portfolio.domain.values import UNKNOWN, OneOf
from portfolio.domain.walls import parameters_of
from portfolio.reference.loader import load_reference
from tests.domain.factories import (
    PIR,
    STONE_WOOL,
    Description,
    TestPlan,
    WallPlan,
    complete,
    core,
    judge,
    libraries,
    make_partial,
    make_test,
    make_wall,
    plans_of_walls,
    solid,
    wall_of,
)

JUDGE = load_reference().judge
LAMINATE = solid("high-pressure-laminate", "B-s2,d0")
BARE = {
    "barrier-horizontal.1.type": "none",
    "barrier-horizontal.1.spacing": "",
    "barrier-horizontal.1.product": "",
}
MATERIAL, INSULATION = "facing.1.material", "insulation.1.material"
CORE, CLASS, CALORIFIC = "facing.1.core_category", "facing.1.class", "facing.1.calorific_value"
BARRIERS = "barrier-horizontal.1.type"


def failed(*changes: Description, ref: str = "failed", **more: object) -> TestRecord:
    return make_test(*changes, ref=ref, fails=True, **more)  # type: ignore[arg-type]


def close(wall: Wall, *tests: TestRecord) -> tuple[CloseFailure, ...]:
    return close_failures(wall, judge(wall, *tests), tests, JUDGE)


@pytest.mark.parametrize(
    ("wall", "test", "expected", "why"),
    [
        ((core("2"), PIR), (core("3"), PIR), (CORE, Apart.MILDER), "a milder core, less heat"),
        ((core("3"), STONE_WOOL), (core("3"), PIR), (INSULATION, Apart.MILDER), "milder wool"),
        (
            (core("2"), {INSULATION: "phenolic foam"}),
            (core("2"), PIR),
            (INSULATION, Apart.OTHER),
            "two foams that nothing orders",
        ),
        ((core("2"), {INSULATION: ""}), (core("2"), PIR), (INSULATION, Apart.UNKNOWN), "nobody"),
        ((PIR,), (PIR, BARE), (BARRIERS, Apart.MILDER), "barriers seen, and the test had none"),
        (
            (PIR, {CALORIFIC: "5"}),
            (PIR,),
            (CALORIFIC, Apart.MILDER),
            "the same category, less heat in the core",
        ),
        (
            (LAMINATE, PIR, {CLASS: "A2-s1,d0"}),
            (LAMINATE, PIR),
            (CLASS, Apart.MILDER),
            "a milder class in every part",
        ),
        (
            (LAMINATE, PIR, {CLASS: "E"}),
            (LAMINATE, PIR, {CLASS: "A2-s1,d1"}),
            (CLASS, Apart.UNKNOWN),
            "a worse main class is not another that nothing orders",
        ),
        (
            (LAMINATE, PIR, {CLASS: "A2"}),
            (LAMINATE, PIR),
            (CLASS, Apart.OTHER),
            "its droplets could be worse",
        ),
        ((LAMINATE, PIR, {CLASS: ""}), (LAMINATE, PIR), (CLASS, Apart.UNKNOWN), "class unknown"),
        (
            (solid("solid-steel", "A1"), PIR),
            (solid("solid-aluminium", "A1"), PIR),
            (MATERIAL, Apart.OTHER),
            "another facing of the same class",
        ),
        ((core("2"), STONE_WOOL), (core("3"), PIR), None, "core and insulation"),
        ((core("2"), PIR), (core("3"), PIR, BARE), None, "core and barriers"),
        ((core("3"), PIR), (core("3"), PIR), None, "contradicted: it is the case, not close to it"),
        ((core("2"), PIR), (core("2"), {INSULATION: ""}), None, "the record leaves it open: doubt"),
        ((core("2"), PIR), ({MATERIAL: ""}, PIR), None, "nobody knows what failed"),
    ],
)
def test_a_failing_test_is_close_where_one_thing_alone_keeps_it_away(
    wall: tuple[Description, ...],
    test: tuple[Description, ...],
    expected: tuple[str, Apart] | None,
    why: str,
) -> None:
    found = [(one.parameter, one.apart) for one in close(make_wall(*wall), failed(*test))]
    assert found == ([] if expected is None else [expected]), why


def test_differences_without_a_milder_side_keep_nothing_apart() -> None:
    """Only the core does, however much else differs that acquits nothing."""
    others = {"facing.1.joint": "closed", "cavity.1.depth": "5", "insulation.1.thickness": "10"}
    wall = make_wall(core("2"), PIR, others)
    assert [one.parameter for one in close(wall, failed(core("3"), PIR))] == [CORE]


def test_a_withdrawn_failing_test_is_close_to_nothing_and_a_disputed_one_is() -> None:
    wall = make_wall(core("2"), PIR)
    assert close(wall, failed(core("3"), PIR, standing=Standing.WITHDRAWN)) == ()
    assert close(wall, failed(core("3"), PIR, standing=Standing.DISPUTED)) != ()


def test_a_passing_test_is_close_to_nothing() -> None:
    assert close(make_wall(core("2"), PIR), make_test(core("3"), PIR)) == ()


def test_what_is_unknown_comes_first_since_it_could_be_as_bad() -> None:
    wall = make_wall(core("2"), {INSULATION: ""})
    found = close(
        wall,
        failed(core("3"), STONE_WOOL, ref="milder"),
        failed(core("2"), PIR, ref="unknown"),
    )
    assert [(one.test, one.apart) for one in found] == [
        ("unknown", Apart.UNKNOWN),
        ("milder", Apart.MILDER),
    ]


def test_barriers_on_a_drawing_keep_nothing_away() -> None:
    """Nobody has seen them: the test contradicts, and is not merely close."""
    keys = [f"barrier-horizontal.1.{name}" for name in ("type", "spacing", "product")]
    opened = make_partial(complete(PIR, without=keys))
    drawn = make_partial({BARRIERS: "steel"}, basis=Basis.DRAWING, ref="S2")
    wall = wall_of(opened, drawn)
    assert judge(wall, failed(PIR, BARE)).coverage is Coverage.CONTRADICTED
    assert close(wall, failed(PIR, BARE)) == ()


# --- Against the engine --------------------------------------------------------------------------


def replaced(wall: Wall, test: TestRecord, parameter: str) -> Wall:
    """The wall with one thing found as in the test; a core comes with its calorific value."""
    tested = parameters_of(test.build_up)
    keys = [parameter, CALORIFIC] if parameter == CORE else [parameter]
    return with_found(wall, {key: tested.get(key, UNKNOWN) for key in keys})


@given(plans_of_walls(), libraries())
def test_the_one_thing_found_as_in_the_test_would_contradict_the_wall(
    wall: WallPlan, plans: list[TestPlan]
) -> None:
    tests = {plan.ref: plan.record for plan in plans}
    for one in close(wall.wall, *tests.values()):
        test = tests[one.test]
        assert judge(wall.wall, test).coverage is not Coverage.CONTRADICTED
        then = judge(replaced(wall.wall, test, one.parameter), test)
        assert then.coverage is Coverage.CONTRADICTED


@given(plans_of_walls(), libraries())
def test_every_failing_test_that_one_thing_would_let_speak_is_named(
    wall: WallPlan, plans: list[TestPlan]
) -> None:
    mine, tests = wall.wall, [plan.record for plan in plans]
    if judge(mine, *tests).coverage is Coverage.CONTRADICTED:
        return
    named = {one.test for one in close(mine, *tests)}
    for test in tests:
        tested = parameters_of(test.build_up)
        for key in (MATERIAL, CORE, CLASS, INSULATION, BARRIERS, CALORIFIC):
            value = tested.get(key)
            if isinstance(value, OneOf) and not value.is_known and key != BARRIERS:
                continue  # the record of the test is loose: that is a doubt, and told as one
            if judge(replaced(mine, test, key), test).coverage is Coverage.CONTRADICTED:
                assert test.ref in named, key


@given(plans_of_walls(), libraries())
def test_coverage_is_the_same_whether_or_not_anything_is_close(
    wall: WallPlan, plans: list[TestPlan]
) -> None:
    tests = [plan.record for plan in plans]
    before = judge(wall.wall, *tests)
    close_failures(wall.wall, before, tests, JUDGE)
    assert judge(wall.wall, *tests) == before

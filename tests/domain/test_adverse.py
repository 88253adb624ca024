"""Failing tests: which walls they contradict, as tested or by inference, and what acquits."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.coverage import Coverage, ZoneCoverage
from portfolio.domain.evidence import TestRecord
from portfolio.domain.surveys import Basis
from tests.domain.factories import (
    PIR,
    STONE_WOOL,
    Description,
    complete,
    core,
    judge,
    make_partial,
    make_survey,
    make_test,
    make_wall,
    solid,
    wall_of,
)

TESTED = (Coverage.CONTRADICTED, False)
INFERRED = (Coverage.CONTRADICTED, True)
PHENOLIC = {"insulation.1.material": "phenolic foam"}
EPS = {"insulation.1.material": "eps"}
NO_INSULATION = {
    "insulation.1.material": "none",
    "insulation.1.class": "",
    "insulation.1.thickness": "",
    "insulation.1.product": "",
}
LAMINATE = solid("high-pressure-laminate", "B-s2,d0")
BARE = {
    "barrier-horizontal.1.type": "none",
    "barrier-horizontal.1.spacing": "",
    "barrier-horizontal.1.product": "",
}


def second(material: str) -> Description:
    return {
        "insulation.2.material": material,
        "insulation.2.class": "A1",
        "insulation.2.thickness": "30",
        "insulation.2.product": "second",
    }


def a_class(fire_class: str) -> Description:
    return {"facing.1.class": fire_class}


def failed(*changes: Description, ref: str = "failed", **more: object) -> TestRecord:
    return make_test(*changes, ref=ref, fails=True, **more)  # type: ignore[arg-type]


def pair(found: ZoneCoverage) -> tuple[Coverage, bool]:
    return found.coverage, found.by_inference


NEITHER = "neither"


@pytest.mark.parametrize(
    ("wall", "test", "expected", "why"),
    [
        ((core("3"), PIR), (core("3"), PIR), TESTED, "the same materials"),
        ((core("2"), PIR), (core("3"), PIR), NEITHER, "a milder core than the one that failed"),
        ((core("3"), PIR), (core("2"), PIR), INFERRED, "a worse core than the one that failed"),
        ((core("3"), EPS), (core("3"), PIR), INFERRED, "a worse insulation"),
        ((core("3"), STONE_WOOL), (core("3"), PIR), NEITHER, "a milder insulation"),
        ((core("3"), PHENOLIC), (core("3"), PIR), NEITHER, "two foams that are not ordered"),
        (
            (core("3"), {"insulation.1.material": "glass wool"}),
            (core("3"), STONE_WOOL),
            TESTED,
            "one family",
        ),
        (
            (core("3"), {"insulation.1.material": "mineral wool"}),
            (core("3"), STONE_WOOL),
            TESTED,
            "one family, kind not known",
        ),
        (
            (core("3"), {"insulation.1.material": "foam"}),
            (core("3"), STONE_WOOL),
            INFERRED,
            "every foam is worse than what failed",
        ),
        (
            (core("2"), {"insulation.1.material": "thermoset foam"}),
            (core("2"), PIR),
            NEITHER,
            "it could be phenolic, which is not ordered",
        ),
        ((core("3"), NO_INSULATION), (core("3"), STONE_WOOL), INFERRED, "equal places (ours)"),
        ((core("3"), NO_INSULATION), (core("3"), NO_INSULATION), TESTED, "no insulation in either"),
        (
            ({"facing.1.material": "zinc composite panel"}, core("3"), PIR)[:1] + (PIR,),
            (core("2"), PIR),
            NEITHER,
            "another facing, though of the same core category",
        ),
        ((LAMINATE, PIR), (LAMINATE, PIR), TESTED, "facing and class"),
        ((LAMINATE, a_class("D-s2,d0"), PIR), (LAMINATE, PIR), INFERRED, "a worse class"),
        ((LAMINATE, a_class("B-s1,d0"), PIR), (LAMINATE, PIR), NEITHER, "a milder class"),
        ((LAMINATE, a_class("A2"), PIR), (LAMINATE, PIR), NEITHER, "a milder class, s and d open"),
        ((LAMINATE, a_class("E"), PIR), (LAMINATE, a_class("E"), PIR), TESTED, "E is whole"),
        ((LAMINATE, a_class(""), PIR), (LAMINATE, PIR), NEITHER, "the class could be A1"),
        ((LAMINATE, a_class(""), PIR), (LAMINATE, a_class("A1"), PIR), INFERRED, "any class"),
        ((LAMINATE, PIR), (LAMINATE, a_class(""), PIR), NEITHER, "the tested class is not told"),
    ],
)
def test_the_materials_of_a_failing_test_speak(
    wall: tuple[Description, ...],
    test: tuple[Description, ...],
    expected: tuple[Coverage, bool] | str,
    why: str,
) -> None:
    found = judge(make_wall(*wall), failed(*test))
    got = pair(found) if found.coverage is Coverage.CONTRADICTED else NEITHER
    assert got == expected, why


@pytest.mark.parametrize(
    ("wall", "expected", "why"),
    [
        (["facing.1.material"], NEITHER, "it could be brick"),
        (["insulation.1.material"], INFERRED, "every insulation is as bad with that core"),
        (["facing.1.core_category", "facing.1.calorific_value"], NEITHER, "it could be mineral"),
        (["facing.1.core_category"], TESTED, "the calorific value tells the category"),
    ],
)
def test_an_unknown_material_is_contradicted_only_when_every_possibility_is(
    wall: list[str], expected: tuple[Coverage, bool] | str, why: str
) -> None:
    found = judge(make_wall(core("3"), without=wall), failed(core("3"), STONE_WOOL))
    got = pair(found) if found.coverage is Coverage.CONTRADICTED else NEITHER
    assert got == expected, why


def test_a_facing_of_two_possible_kinds_is_contradicted_when_both_are() -> None:
    either = core("3") | {"facing.1.material": "metal composite panel | zinc composite panel"}
    one = failed(core("3"), STONE_WOOL)
    zinc = core("3") | {"facing.1.material": "zinc composite panel"}
    other = failed(zinc, STONE_WOOL, ref="zinc")
    assert judge(make_wall(either), one).coverage is not Coverage.CONTRADICTED
    assert pair(judge(make_wall(either), one, other)) == INFERRED


def test_an_inferred_contradiction_names_the_tests_it_leans_on_and_no_others() -> None:
    wall = make_wall(core("3"), without=["insulation.1.material"])
    found = judge(
        wall,
        failed(core("3"), STONE_WOOL, ref="wool"),
        failed(core("3"), PIR, ref="foam"),
        failed(LAMINATE, PIR, ref="laminate"),
    )
    assert found.against == ("foam", "wool")


def test_a_tested_contradiction_names_only_tests_of_the_same_materials() -> None:
    found = judge(
        make_wall(core("3"), PIR),
        failed(core("3"), STONE_WOOL, ref="wool"),
        failed(core("3"), PIR, ref="foam"),
    )
    assert (found.against, found.by_inference) == (("foam",), False)


# --- Two layers of insulation --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wall", "test", "expected", "why"),
    [
        (
            (STONE_WOOL, second("pir")),
            (PIR,),
            TESTED,
            "the tested foam is there, as a second layer",
        ),
        ((STONE_WOOL, second("eps")), (PIR,), INFERRED, "a worse foam, as a second layer"),
        ((STONE_WOOL, second("stone wool")), (PIR,), NEITHER, "no foam in either layer"),
        ((PIR,), (STONE_WOOL, second("pir")), INFERRED, "foam throughout is worse than half"),
        ((STONE_WOOL,), (STONE_WOOL, second("pir")), NEITHER, "the tested foam is not there"),
        (
            (core("3"), PHENOLIC, second("pir")),
            (core("2"), PHENOLIC, second("pir")),
            INFERRED,
            "both foams of the test, neither milder than the other, behind a worse core",
        ),
        (
            (core("3"), second("phenolic foam"), PIR),
            (core("2"), PHENOLIC, second("pir")),
            INFERRED,
            "the same foams in the other order",
        ),
        (
            (LAMINATE, STONE_WOOL),
            (LAMINATE, STONE_WOOL, second("eps | xps")),
            NEITHER,
            "a foam was tested, whichever, and none is there",
        ),
        (
            (LAMINATE, STONE_WOOL, second("eps")),
            (LAMINATE, STONE_WOOL, second("eps | xps")),
            TESTED,
            "the foam that is there could be the one that was tested",
        ),
        (
            (core("3"), PIR, second("eps")),
            (core("2"), PHENOLIC, second("pir")),
            NEITHER,
            "of the two foams that failed together only one is there",
        ),
        (
            (STONE_WOOL, second("pir")),
            (STONE_WOOL, second("pir")),
            TESTED,
            "both layers of the test",
        ),
        (
            (STONE_WOOL, second("pir | none")),
            (PIR,),
            NEITHER,
            "nobody knows whether there is a second layer",
        ),
    ],
)
def test_each_layer_of_insulation_can_speak(
    wall: tuple[Description, ...],
    test: tuple[Description, ...],
    expected: tuple[Coverage, bool] | str,
    why: str,
) -> None:
    found = judge(make_wall(core("2"), *wall), failed(core("2"), *test))
    got = pair(found) if found.coverage is Coverage.CONTRADICTED else NEITHER
    assert got == expected, why


def test_a_second_layer_that_may_be_there_leaves_in_doubt_what_it_could_be() -> None:
    """Found by the oracle: it was left out as if nobody had said that it could be foam."""
    wall = make_wall(LAMINATE, STONE_WOOL, second("pir | none"))
    found = judge(wall, failed(LAMINATE, PIR))
    assert (found.coverage, found.doubts) == (Coverage.TOO_LITTLE_KNOWN, ("failed",))
    without = judge(make_wall(LAMINATE, STONE_WOOL), failed(LAMINATE, PIR))
    assert without.coverage is Coverage.NO_MATCHING_EVIDENCE


def test_two_layers_of_which_each_is_spoken_against_in_another_class_are_contradicted() -> None:
    """Whichever class the facing has, one of the layers is as bad as one that failed."""
    wall = make_wall(LAMINATE, a_class("A2-s1,d1 | B-s1,d0"), PHENOLIC, second("pir"))
    tests = [
        failed(LAMINATE, a_class("A2-s1,d1"), PHENOLIC, ref="phenolic"),
        failed(LAMINATE, a_class("B-s1,d0"), PIR, ref="pir"),
    ]
    found = judge(wall, *tests)
    assert pair(found) == INFERRED
    assert found.against == ("phenolic", "pir")
    assert judge(wall, tests[0]).coverage is not Coverage.CONTRADICTED


# --- What acquits --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wall", "test", "is_acquitted", "why"),
    [
        ({}, BARE, True, "barriers seen where the test had none"),
        (BARE, BARE, False, "no barriers in either"),
        (BARE, {}, False, "worse than the test"),
        ({"barrier-horizontal.1.type": "steel"}, {}, False, "kinds of barrier are not ordered"),
        ({"barrier-horizontal.1.type": ""}, BARE, False, "nobody has looked"),
        ({"barrier-horizontal.1.type": "fitted"}, BARE, True, "fitted, of whatever kind"),
        ({"facing.1.calorific_value": "10"}, {}, True, "less heat in the core"),
        ({"facing.1.calorific_value": "20"}, {}, False, "more heat in the core"),
        ({"facing.1.calorific_value": "10-15"}, {}, False, "it could be as much"),
        ({"facing.1.calorific_value": ""}, {}, False, "unknown never acquits"),
        ({"cavity.1.depth": "5"}, {}, False, "a difference without a milder side"),
        ({"insulation.1.thickness": "10"}, {}, False, "a difference without a milder side"),
        ({"facing.1.thickness": "3"}, {}, False, "a difference without a milder side"),
        ({"wall.substrate": "masonry"}, {}, False, "a difference without a milder side"),
    ],
)
def test_only_something_known_to_be_milder_acquits(
    wall: Description, test: Description, is_acquitted: bool, why: str
) -> None:
    found = judge(make_wall(PIR, wall), failed(PIR, test))
    assert (found.coverage is not Coverage.CONTRADICTED) is is_acquitted, why


def test_the_same_acquits_from_an_inference() -> None:
    wall = [core("3"), EPS]
    assert pair(judge(make_wall(*wall, BARE), failed(core("3"), PIR, BARE))) == INFERRED
    found = judge(make_wall(*wall), failed(core("3"), PIR, BARE))
    assert found.coverage is not Coverage.CONTRADICTED


@pytest.mark.parametrize(
    ("basis", "is_acquitted"),
    [
        (Basis.OPENING_UP, True),
        (Basis.LABORATORY, True),
        (Basis.DRAWING, False),
        (Basis.CERTIFICATE, False),
        (Basis.OUTSIDE, False),
        (Basis.ASSUMPTION, False),
    ],
)
def test_barriers_acquit_only_when_they_were_seen(basis: Basis, is_acquitted: bool) -> None:
    keys = [f"barrier-horizontal.1.{name}" for name in ("type", "spacing", "product")]
    opened = make_partial(complete(PIR, without=keys))
    told = make_partial({"barrier-horizontal.1.type": "steel"}, basis=basis, ref="S2")
    found = judge(wall_of(opened, told), failed(PIR, BARE))
    assert (found.coverage is not Coverage.CONTRADICTED) is is_acquitted


@pytest.mark.parametrize("basis", list(Basis))
def test_materials_accuse_from_any_source(basis: Basis) -> None:
    """A wall assumed to be what failed is contradicted until somebody looks."""
    wall = wall_of(make_survey(complete(core("3"), PIR), basis=basis))
    assert pair(judge(wall, failed(core("3"), PIR))) == TESTED


# --- A failing test recorded so loosely that it could have been of this wall ---------------------

CORE_UNSAID = {"facing.1.core_category": "", "facing.1.calorific_value": ""}
LOOSELY: list[tuple[Description, Description]] = [
    (core("2"), CORE_UNSAID),
    (LAMINATE, {"facing.1.class": ""}),
    (PIR, {"insulation.1.material": ""}),
    (PIR, {"insulation.1.material": "thermoset foam"}),
]


@pytest.mark.parametrize(("wall", "loose"), LOOSELY)
@pytest.mark.parametrize("also_passed", [True, False])
def test_a_failing_test_that_could_have_been_of_this_wall_keeps_it_from_better(
    wall: Description, loose: Description, also_passed: bool
) -> None:
    others = [make_test(wall)] if also_passed else []
    found = judge(make_wall(wall), failed(wall, loose), *others)
    assert (found.coverage, found.doubts) == (Coverage.TOO_LITTLE_KNOWN, ("failed",))
    assert found.tests == ("failed",)


def test_a_failing_test_without_any_known_facing_could_have_been_of_any() -> None:
    blank = failed(without=["facing.1.material"])
    found = judge(make_wall(), blank)
    assert (found.coverage, found.doubts) == (Coverage.TOO_LITTLE_KNOWN, ("failed",))


def test_what_is_surely_milder_than_a_loosely_recorded_failure_is_not_in_doubt() -> None:
    loose = failed(core("3"), {"insulation.1.material": "thermoset foam"})
    wall = core("3"), STONE_WOOL
    assert judge(make_wall(*wall), loose, make_test(*wall)).coverage is Coverage.COVERED


@given(st.sampled_from(LOOSELY), st.booleans())
def test_forgetting_what_failed_never_makes_a_wall_covered(
    case: tuple[Description, Description], as_well_of_the_wall: bool
) -> None:
    wall, loose = case
    mine = make_wall(wall, loose if as_well_of_the_wall else {})
    assert judge(mine, failed(wall, loose), make_test(wall)).coverage is not Coverage.COVERED


@given(st.data())
def test_a_fact_less_of_a_failing_test_never_makes_any_wall_better(data: st.DataObject) -> None:
    wall = data.draw(st.sampled_from([core("2"), LAMINATE, solid()])) | data.draw(
        st.sampled_from([PIR, STONE_WOOL, EPS])
    )
    theirs = data.draw(st.sampled_from([core("2"), core("3"), LAMINATE, solid()])) | data.draw(
        st.sampled_from([PIR, STONE_WOOL, PHENOLIC])
    )
    told = complete(theirs)
    drawn = data.draw(st.sets(st.sampled_from(sorted(told))))
    # a record that lists every layer says, of one without a word, that it was not there
    kept = {key.rpartition(".")[0] for key in told if key not in drawn}
    left_out = {key for key in drawn if key.rpartition(".")[0] in kept}
    better = {Coverage.COVERED, Coverage.TO_ASSESS, Coverage.NO_MATCHING_EVIDENCE}
    mine, passing = make_wall(wall), make_test(wall, ref="passed")
    if judge(mine, failed(theirs), passing).coverage not in better:
        assert judge(mine, failed(theirs, without=left_out), passing).coverage not in better


# --- Both at once --------------------------------------------------------------------------------


def test_contradicted_outranks_covered_and_both_are_said() -> None:
    found = judge(make_wall(), make_test(), failed())
    assert (pair(found), found.covered_too) == (TESTED, True)
    assert found.tests == ("failed",)

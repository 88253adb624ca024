"""What a coverage rests on: the nearest tests, what differs, what nobody knows."""

import pytest

from portfolio.domain import nearest as nearest_module
from portfolio.domain.assessing import assess
from portfolio.domain.columns import Answer
from portfolio.domain.coverage import Coverage
from portfolio.domain.evidence import Consent, Holding, Standing
from portfolio.domain.matching import (
    DECISIVE,
    Compared,
    compile_tests,
    compile_walls,
    explain_pair,
)
from portfolio.domain.nearest import NEAREST, Verdict
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.readings import read_walls
from portfolio.domain.rules import RuleSet
from portfolio.domain.surveys import Basis, Wall
from portfolio.domain.values import UNKNOWN
from tests.domain.factories import (
    PIR,
    complete,
    core,
    judge,
    judge_all,
    make_library,
    make_partial,
    make_survey,
    make_test,
    make_wall,
    shipped_rules,
    solid,
    wall_of,
)


@pytest.mark.parametrize("coverage", list(Coverage))
def test_everything_but_covered_is_a_gap(coverage: Coverage) -> None:
    assert coverage.is_gap == (coverage is not Coverage.COVERED)


def test_without_any_test_a_known_wall_has_no_matching_evidence() -> None:
    found = judge(make_wall())
    assert (found.coverage, found.nearest, found.tests, found.differences) == (
        Coverage.NO_MATCHING_EVIDENCE,
        (),
        (),
        (),
    )


def test_without_any_test_a_wall_not_opened_up_is_too_little_known() -> None:
    found = judge(make_wall(basis=Basis.DRAWING))
    assert found.coverage is Coverage.TOO_LITTLE_KNOWN
    assert found.unknowns == (
        "insulation.1.material",
        "facing.1.material",
    )


def test_a_zone_without_surveys_is_too_little_known() -> None:
    assert judge(Wall()).coverage is Coverage.TOO_LITTLE_KNOWN
    assert judge(Wall(), make_test()).coverage is Coverage.TOO_LITTLE_KNOWN


@pytest.mark.parametrize(
    ("told", "unknown"),
    [
        (complete(), ()),
        (complete(solid()), ()),
        (
            complete(without=["facing.1.core_category", "facing.1.calorific_value"]),
            ("facing.1.core_category",),
        ),
        (complete({"insulation.1.material": "foam"}), ("insulation.1.material",)),
        (
            complete({"facing.1.material": "composite panel, metal not known"}),
            ("facing.1.material",),
        ),
        (complete(without=["facing.1.material"]), ("facing.1.material",)),
    ],
)
def test_the_decisive_layers_are_facing_core_and_insulation(
    told: dict[str, str], unknown: tuple[str, ...]
) -> None:
    assert judge(wall_of(make_survey(told))).unknown_decisive == unknown


def test_a_core_seen_only_on_a_drawing_is_not_known_well_enough() -> None:
    cores = ["facing.1.core_category", "facing.1.calorific_value"]
    drawn = make_partial(core("2"), basis=Basis.DRAWING, ref="S2")
    wall = wall_of(make_survey(complete(without=cores)), drawn)
    assert judge(wall).unknown_decisive == ("facing.1.core_category",)


# --- The nearest tests ---------------------------------------------------------------------------


def test_the_nearest_tests_come_best_first_and_only_a_few() -> None:
    tests = [
        make_test({"cavity.1.depth": "60", "frame.1.thickness": "200"}, ref="two differ"),
        make_test({"cavity.1.depth": "60"}, ref="one differs"),
        make_test({"cavity.1.depth": ""}, ref="one unknown"),
        make_test(ref="covers"),
        make_test({"cavity.1.depth": "90"}, ref="another that differs"),
    ]
    found = judge(make_wall(), *tests)
    assert [v.test for v in found.nearest] == ["covers", "another that differs", "one differs"]
    assert len(found.nearest) == NEAREST
    assert [v.verdict for v in found.nearest] == [
        Verdict.COVERS,
        Verdict.ASSESSABLE,
        Verdict.ASSESSABLE,
    ]


def test_a_covered_wall_rests_on_the_covering_tests_only() -> None:
    found = judge(make_wall(), make_test({"cavity.1.depth": "60"}, ref="A"), make_test(ref="B"))
    assert found.tests == ("B",)


def test_a_wall_to_assess_rests_on_its_nearest_tests() -> None:
    found = judge(make_wall(), make_test({"cavity.1.depth": "60"}))
    assert (found.coverage, found.tests) == (Coverage.TO_ASSESS, ("T1",))
    assert (found.differences, found.unknowns) == (("cavity.1.depth",), ())


def test_a_wall_without_a_match_names_the_test_with_the_fewest_decisive_differences() -> None:
    far = make_test(solid(), PIR, ref="A far")
    near = make_test(PIR, ref="B near")
    found = judge(make_wall(), far, near)
    assert found.coverage is Coverage.NO_MATCHING_EVIDENCE
    assert [(v.test, v.verdict) for v in found.nearest] == [("B near", Verdict.APART)]
    assert found.differences == ("insulation.1.material",)


def test_a_test_behind_a_shut_gate_is_never_the_nearest() -> None:
    shut = make_test(PIR, consent=Consent.REFUSED)
    assert judge(make_wall(), shut).nearest == ()
    assert judge(make_wall(PIR), shut).nearest == ()


def test_an_open_gate_is_named_beside_what_is_unknown() -> None:
    test = make_test({"cavity.1.depth": ""}, holding=Holding.SUMMARY, consent=Consent.ASKED)
    [verdict] = judge(make_wall(), test).nearest
    assert verdict.open_gates == ("the report was seen", "the sponsor consents")
    assert verdict.unknown == ("cavity.1.depth",)


def test_what_is_unknown_is_asked_of_the_layer_before_its_thickness() -> None:
    lining = [key for key in complete() if key.startswith("lining")]
    wall = wall_of(make_partial(complete(without=lining)))
    found = judge(wall, make_test())
    assert "lining.1.material" in found.unknowns
    assert "lining.1.thickness" not in found.unknowns
    assert "lining.1.thickness" in found.nearest[0].unknown


def test_zones_come_back_in_the_order_given_and_those_of_one_kind_are_judged_once() -> None:
    walls = [make_wall(), make_wall(basis=Basis.ASSUMPTION), make_wall()]
    covered, weak, again = judge_all(walls, make_test())
    assert [covered.coverage, weak.coverage] == [Coverage.COVERED, Coverage.TOO_LITTLE_KNOWN]
    assert again is covered


@pytest.mark.parametrize("pairs_at_once", [1, 1000])
@pytest.mark.parametrize("reverse", [False, True])
def test_walls_that_differ_only_in_how_they_are_known_are_not_one_kind(
    pairs_at_once: int, reverse: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(nearest_module, "_CHUNK_PAIRS", pairs_at_once)
    walls = [make_wall(), make_wall(basis=Basis.DRAWING), make_wall(basis=Basis.ASSUMPTION)]
    expected = [Coverage.COVERED, Coverage.TOO_LITTLE_KNOWN, Coverage.TOO_LITTLE_KNOWN]
    step = -1 if reverse else 1
    found = [zone.coverage for zone in judge_all(walls[::step], make_test())]
    assert found == expected[::step]


@pytest.mark.parametrize("reverse", [False, True])
def test_a_wall_in_conflict_and_one_known_as_vaguely_are_not_one_kind(reverse: bool) -> None:
    key = "sheathing.1.material"
    vague = make_wall({key: "osb | plywood"})
    disputed = wall_of(
        make_survey(complete({key: "osb"})), make_partial({key: "plywood"}, ref="S2")
    )
    assert vague.as_resolved(key) == disputed.as_resolved(key)
    step = -1 if reverse else 1
    found = [zone.conflicts for zone in judge_all([vague, disputed][::step], make_test())]
    assert found == [(), (key,)][::step]


def test_a_difference_that_a_rule_allows_needs_as_good_a_source_as_none_at_all() -> None:
    seen = make_partial({"cavity.1.depth": "51"}, basis=Basis.OUTSIDE, ref="S2")
    wall = wall_of(make_survey(complete(without=["cavity.1.depth"])), seen)
    found = judge(wall, make_test())
    assert (found.coverage, found.unknowns) == (Coverage.TOO_LITTLE_KNOWN, ("cavity.1.depth",))


def test_no_zones_have_no_coverage() -> None:
    assert assess([], make_library(make_test())) == []


def test_superseded_evidence_covers_no_more() -> None:
    found = judge(make_wall(), make_test(standing=Standing.SUPERSEDED))
    assert found.coverage is Coverage.NO_MATCHING_EVIDENCE


# --- Explaining one pair -------------------------------------------------------------------------


def explained(
    wall: Wall, *changes: dict[str, str], rules: RuleSet | None = None
) -> dict[str, Compared]:
    tests = compile_tests([make_test(*changes)])
    compiled = compile_walls(read_walls([Wall(), wall]), tests, rules or shipped_rules())
    return {found.parameter: found for found in explain_pair(compiled, wall, 1, 0)}


def test_every_parameter_of_a_pair_is_explained() -> None:
    assert explained(make_wall()).keys() == PARAMETERS.keys()
    assert {c.answer for c in explained(make_wall()).values()} == {Answer.SAME}


def test_an_allowed_difference_names_its_rule_and_source() -> None:
    found = explained(make_wall({"cavity.1.depth": "51"}))["cavity.1.depth"]
    assert (found.answer, found.rule and found.rule.id) == (
        Answer.ALLOWED,
        "as-tested-cavity-depth",
    )
    assert found.rule is not None
    assert "measuring tolerance" in found.rule.source


def test_a_difference_names_no_rule() -> None:
    found = explained(make_wall({"cavity.1.depth": "60"}))["cavity.1.depth"]
    assert (found.answer, found.rule) == (Answer.DIFFERS, None)


def test_an_answer_from_too_weak_a_source_is_unknown_and_says_why() -> None:
    drawn = make_wall(basis=Basis.DRAWING)
    found = explained(drawn)
    assert found["insulation.1.material"].answer is Answer.UNKNOWN
    assert found["insulation.1.material"].too_weak
    assert found["cavity.1.depth"].answer is Answer.SAME


def test_a_difference_from_a_weak_source_is_still_a_difference() -> None:
    found = explained(make_wall(PIR, basis=Basis.OUTSIDE))["insulation.1.material"]
    assert (found.answer, found.too_weak) == (Answer.DIFFERS, False)


def test_an_assumption_is_no_knowledge() -> None:
    found = explained(make_wall({"cavity.1.depth": "60"}, basis=Basis.ASSUMPTION))["cavity.1.depth"]
    assert (found.answer, found.too_weak) == (Answer.UNKNOWN, False)
    assert found.zone_value is not UNKNOWN


def test_what_rules_a_test_out_is_its_family_and_what_burns() -> None:
    assert {list(PARAMETERS)[place] for place in DECISIVE} == {
        "wall.system_family",
        "insulation.1.material",
        "insulation.2.material",
        "facing.1.material",
        "facing.1.core_category",
    }


@pytest.mark.parametrize("parameter", ["wall.system_family", "wall.substrate"])
def test_two_things_of_which_only_other_is_known_need_not_be_alike(parameter: str) -> None:
    described = {parameter: "other"}
    test = make_test(described, part="")
    found = judge(make_wall(described), test)
    assert found.coverage is not Coverage.COVERED
    assert parameter in found.nearest[0].unknown

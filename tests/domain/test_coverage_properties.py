"""Laws that coverage keeps whatever the walls and tests are.

The vocabulary is small (factories.SMALL), so that walls and tests meet often; most walls are near
the complete wall of the factories, and so are most tests.
"""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from random import Random

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from portfolio.domain import leaning
from portfolio.domain import nearest as nearest_module
from portfolio.domain.assessing import assess
from portfolio.domain.coverage import WORST_FIRST, Coverage, ZoneCase, ZoneCoverage, worst
from portfolio.domain.evidence import (
    Answer3,
    Consent,
    Criteria,
    Holding,
    Outcome,
    Standing,
    TestRecord,
)
from portfolio.domain.gates import Setting, together
from portfolio.domain.parameters import PARAMETERS, Kind
from portfolio.domain.rules import RuleSet
from portfolio.domain.surveys import Wall
from portfolio.domain.values import UNKNOWN
from portfolio.domain.walls import BuildUp, Layer, parameters_of
from tests.domain.factories import (
    COMPLETE,
    ENGLAND,
    ON,
    PAPERS,
    TestPlan,
    WallPlan,
    changes,
    complete,
    core,
    judge,
    judge_all,
    libraries,
    make_build_up,
    make_library,
    make_rule,
    make_survey,
    make_test,
    make_wall,
    plans_of_tests,
    plans_of_walls,
    shipped_rules,
    solid,
    wall_of,
)

COVERED = Coverage.COVERED
KEYS = tuple(COMPLETE)
# A calorific value still tells the core category, and the other way round it does not.
FOLLOWS = {"facing.1.core_category": ("facing.1.calorific_value",)}


def is_covered(found: ZoneCoverage) -> bool:
    """Covered, or covered besides a failing test that contradicts it."""
    return found.coverage is COVERED or found.covered_too


def records_of(plans: list[TestPlan]) -> list[TestRecord]:
    return [plan.record for plan in plans]


# --- (a) Taking a fact away ----------------------------------------------------------------------


def without_each_fact(wall: Wall) -> Iterator[tuple[str, Wall]]:
    for key in wall.facts:
        yield key, Wall({k: fact for k, fact in wall.facts.items() if k != key})


def without_each_fact_of(test: TestRecord) -> Iterator[tuple[str, TestRecord]]:
    """The test with one thing not recorded: of its wall, its criteria, its papers."""
    wall = test.build_up
    for i, layer in enumerate(wall.layers):
        for key in layer.values:
            kept = Layer(layer.role, {k: v for k, v in layer.values.items() if k != key})
            layers = (*wall.layers[:i], kept, *wall.layers[i + 1 :])
            yield f"{layer.role} {key}", replace(test, build_up=replace(wall, layers=layers))
    for change in (
        {"lists_all_layers": False},
        {"substrate": UNKNOWN},
        {"system_family": UNKNOWN},
    ):
        yield next(iter(change)), replace(test, build_up=replace(wall, **change))  # type: ignore[arg-type]
    for name in Criteria.__dataclass_fields__:
        criteria = replace(test.criteria, **{name: Answer3.UNKNOWN})
        yield name, replace(test, criteria=criteria)
    for change in (
        {"classification": None},
        {"edition": ""},
        {"part": ""},
        {"standard": ""},
        {"holding": Holding.NOT_SEEN},
        {"consent": Consent.NOT_ASKED},
        {"leans_on": ("not in the library",)},
    ):
        yield next(iter(change)), replace(test, **change)  # type: ignore[arg-type]


def test_a_covered_wall_is_covered_by_no_less_than_every_fact_of_it() -> None:
    names, fewer = zip(*without_each_fact(make_wall()), strict=True)
    assert len(names) == len(PARAMETERS)
    found = judge_all(fewer, make_test())
    assert [n for n, zone in zip(names, found, strict=True) if is_covered(zone)] == []


def test_a_covering_test_covers_by_no_less_than_every_fact_of_it() -> None:
    wall = make_wall()
    covering = [n for n, t in without_each_fact_of(make_test()) if is_covered(judge(wall, t))]
    # the calorific value still tells the one, the part of the standard the other
    assert covering == ["facing core_category", "substrate"]


@pytest.mark.parametrize("facing", [solid(), {"facing.1.joint": "closed"}], ids=str)
def test_other_covered_walls_lose_cover_with_any_fact_too(facing: dict[str, str]) -> None:
    if "facing.1.joint" in facing:
        facing = {**facing, "facing.1.joint_width": ""}
    assert is_covered(judge(make_wall(facing), make_test(facing)))
    _, fewer = zip(*without_each_fact(make_wall(facing)), strict=True)
    assert not any(is_covered(zone) for zone in judge_all(fewer, make_test(facing)))


@given(plans_of_walls(), libraries())
def test_taking_any_fact_from_a_wall_never_turns_it_covered(
    plan: WallPlan, tests: list[TestPlan]
) -> None:
    fewer = [wall for _, wall in without_each_fact(plan.wall)]
    before, *after = judge_all([plan.wall, *fewer], *records_of(tests))
    assert is_covered(before) or not any(is_covered(zone) for zone in after)


@given(plans_of_walls(), plans_of_tests(), st.randoms(use_true_random=False))
def test_taking_any_fact_from_a_test_never_turns_a_wall_covered(
    plan: WallPlan, test: TestPlan, rng: Random
) -> None:
    _, less_known = rng.choice(list(without_each_fact_of(test.record)))
    assert is_covered(judge(plan.wall, less_known)) <= is_covered(judge(plan.wall, test.record))


@given(plans_of_walls(), libraries(), st.randoms(use_true_random=False))
def test_to_be_silent_on_what_came_of_a_test_never_turns_a_wall_covered(
    plan: WallPlan, tests: list[TestPlan], rng: Random
) -> None:
    records = list(records_of(tests))
    told = [i for i, r in enumerate(records) if "facing.1.material" in parameters_of(r.build_up)]
    assume(told)
    place = rng.choice(told)
    silent = replace(
        records[place], criteria=Criteria(), printed_outcome=Outcome.NOT_TOLD, ruling=None
    )
    after = judge(plan.wall, *records[:place], silent, *records[place + 1 :])
    before = judge(plan.wall, *records)
    assert after.coverage is not COVERED or before.coverage is COVERED


@given(changes(), st.sampled_from(KEYS))
def test_a_survey_that_leaves_something_out_never_covers(changed: dict[str, str], key: str) -> None:
    told = complete(changed, without=[key, *FOLLOWS.get(key, ())])
    layer = key.rpartition(".")[0]
    if layer != "wall" and not any(other.startswith(layer) for other in told):
        return  # then the layer would not be listed, which says that it is not there
    if key in complete(changed):
        assert not is_covered(judge(wall_of(make_survey(told)), make_test(changed)))


# --- (b) Order of anything -----------------------------------------------------------------------


@given(st.lists(plans_of_walls(), min_size=2, max_size=5), libraries(), st.randoms())
def test_coverage_does_not_depend_on_any_order(
    plans: list[WallPlan], tests: list[TestPlan], rng: Random
) -> None:
    cases = [ZoneCase(plan.wall, ENGLAND) for plan in plans]
    library = make_library(*records_of(tests))
    once = assess(cases, library)
    rules, shuffled = list(shipped_rules().rules), list(tests)
    places = list(range(len(cases)))
    rng.shuffle(places)
    rng.shuffle(shuffled)
    rng.shuffle(rules)
    library = make_library(*records_of(shuffled), rules=RuleSet(tuple(rules), ON))
    found = assess([cases[place] for place in places], library)
    assert found == [once[place] for place in places]


@given(changes())
def test_the_order_of_the_values_of_a_layer_does_not_matter(changed: dict[str, str]) -> None:
    told = complete(changed)
    assert make_build_up(told) == make_build_up(told, reverse=True)
    forwards, backwards = make_survey(told), make_survey(told)
    backwards = replace(backwards, build_up=make_build_up(told, reverse=True))
    test = make_test(changed)
    zones = judge_all([wall_of(forwards), wall_of(backwards)], test)
    assert zones[0] == zones[1]


# --- (c) One difference --------------------------------------------------------------------------

OTHER: dict[str, str] = {
    "board-material": "osb",
    "fire-class": "D-s2,d0",
    "frame-material": "timber studs",
    "membrane-material": "foil",
    "insulation-material": "glass wool",
    "cavity-ventilation": "drained",
    "barrier-type": "steel",
    "support-material": "steel rails and brackets",
    "facing-material": "zinc composite panel",
    "core-category": "1",
    "joint": "baffled",
    "finish-material": "paint",
    "system-family": "sandwich panel",
    "substrate": "timber frame",
}


def changed_text(key: str, by: float) -> str:
    attribute = PARAMETERS[key].attribute
    if attribute.kind is Kind.NUMBER:
        return str(round(float(COMPLETE[key]) + by, 3))
    return OTHER[attribute.category] if attribute.kind is Kind.CATEGORY else "another product"


def reach_of(key: str) -> float:
    return max((rule.amount for _, rule in shipped_rules().for_parameter(key)), default=0.0)


@pytest.mark.parametrize("key", [key for key in KEYS if key != "facing.1.core_category"])
def test_one_difference_that_no_rule_allows_leaves_a_wall_uncovered(key: str) -> None:
    by = reach_of(key) + 0.1
    wall = make_wall({key: changed_text(key, by)})
    assert judge(wall, make_test()).coverage is not COVERED


def test_another_core_category_leaves_a_wall_uncovered() -> None:
    other = {"facing.1.core_category": "1", "facing.1.calorific_value": "2"}
    assert judge(make_wall(other), make_test()).coverage is Coverage.NO_MATCHING_EVIDENCE


@pytest.mark.parametrize("key", [key for key in KEYS if reach_of(key)])
@pytest.mark.parametrize("side", [-1, 1])
def test_one_difference_within_a_rule_is_covered_and_names_the_rule(key: str, side: int) -> None:
    found = judge(make_wall({key: changed_text(key, side * reach_of(key))}), make_test())
    assert found.coverage is COVERED
    [(parameter, rule)] = found.nearest[0].allowed
    assert parameter == key
    assert rule.startswith("as-tested")


def test_a_layer_more_or_another_order_of_layers_leaves_a_wall_uncovered() -> None:
    second = {"membrane.2.material": "foil", "membrane.2.class": "E", "membrane.2.product": "foil"}
    assert judge(make_wall(second), make_test()).coverage is Coverage.TO_ASSESS
    survey = make_survey()
    layers = list(survey.build_up.layers)
    layers[3], layers[4] = layers[4], layers[3]
    swapped = replace(survey, build_up=replace(survey.build_up, layers=tuple(layers)))
    found = judge(wall_of(swapped), make_test())
    assert (found.coverage, found.differences) == (Coverage.TO_ASSESS, ("wall.sequence",))


def test_a_rule_that_an_engineer_adds_allows_no_more_than_it_says() -> None:
    rules = RuleSet((*shipped_rules().rules, make_rule(amount=20.0)), ON)
    within, beyond = (make_wall({"insulation.1.thickness": t}) for t in ("120", "120.1"))
    assert judge(within, make_test(), rules=rules).coverage is COVERED
    assert judge(beyond, make_test(), rules=rules).coverage is Coverage.TO_ASSESS


# --- (d) Adding tests ----------------------------------------------------------------------------


@given(plans_of_walls(), libraries(), plans_of_tests(ref="T0", may_fail=False))
def test_adding_a_test_that_did_not_fail_never_takes_cover_away(
    plan: WallPlan, tests: list[TestPlan], more: TestPlan
) -> None:
    before = judge(plan.wall, *records_of(tests))
    after = judge(plan.wall, *records_of(tests), more.record)
    assert is_covered(before) <= is_covered(after)
    assert (before.coverage is COVERED) <= (after.coverage is COVERED)
    assert before.against == after.against


@given(changes(), libraries(may_fail=False))
def test_more_tests_beside_a_covering_one_leave_the_wall_covered(
    changed: dict[str, str], tests: list[TestPlan]
) -> None:
    wall = wall_of(make_survey(complete(changed)))
    alone = judge(wall, make_test(changed, ref="T0"))
    beside = judge(wall, make_test(changed, ref="T0"), *records_of(tests))
    assert (alone.coverage is COVERED) <= (beside.coverage is COVERED)


@given(plans_of_walls(), libraries(), plans_of_tests(ref="T0"))
def test_adding_a_failing_test_never_helps(
    plan: WallPlan, tests: list[TestPlan], more: TestPlan
) -> None:
    failing = replace(more, fails=True)
    before = judge(plan.wall, *records_of(tests))
    after = judge(plan.wall, *records_of(tests), failing.record)
    assert place(after) <= place(before)


def place(found: ZoneCoverage) -> int:
    """How far from the worst a coverage is."""
    return WORST_FIRST.index((found.coverage, found.by_inference))


# --- (e) Gates -----------------------------------------------------------------------------------


@given(plans_of_walls(), libraries())
def test_a_wall_is_covered_only_by_a_test_that_meets_every_gate(
    plan: WallPlan, tests: list[TestPlan]
) -> None:
    library = make_library(*records_of(tests))
    [found] = assess([ZoneCase(plan.wall, ENGLAND)], library)
    if is_covered(found):
        assert together(library.gates[ENGLAND][found.nearest[0].test]) is Answer3.MET
        assert found.conflicts == ()


@pytest.mark.parametrize("papers", PAPERS, ids=str)
def test_a_wall_like_a_passing_test_is_covered_exactly_when_every_gate_is_met(
    papers: dict[str, object],
) -> None:
    test = make_test(**papers)
    gates_met = together(make_library(test).gates[ENGLAND]["T1"]) is Answer3.MET
    assert is_covered(judge(make_wall(), test)) == gates_met == (papers == {})


def test_a_building_in_another_place_is_not_covered_by_this_place_s_gates() -> None:
    library = make_library(make_test(), settings=[ENGLAND, Setting("Elsewhere")])
    cases = [ZoneCase(make_wall(), place) for place in (ENGLAND, Setting("Elsewhere"))]
    assert [zone.coverage for zone in assess(cases, library)] == [
        COVERED,
        Coverage.TOO_LITTLE_KNOWN,
    ]


# --- (f) Many walls at once ----------------------------------------------------------------------


@given(st.lists(plans_of_walls(), min_size=1, max_size=3), libraries(), st.sampled_from([1, 3]))
@settings(max_examples=25)
def test_a_wall_has_the_same_coverage_alone_as_among_others(
    plans: list[WallPlan], tests: list[TestPlan], pairs_at_once: int
) -> None:
    found = [plan.wall for plan in [*plans, plans[0]]]
    records = records_of(tests)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(nearest_module, "_CHUNK_PAIRS", pairs_at_once)
        in_pieces = judge_all(found, *records)
    at_once = judge_all(found, *records)
    alone = [judge(wall, *records) for wall in found]
    assert in_pieces == at_once == alone


# --- Buildings -----------------------------------------------------------------------------------

coverages = st.sampled_from(WORST_FIRST)


@given(st.lists(coverages, min_size=1), coverages)
def test_a_further_zone_never_makes_a_building_better(
    zones: list[tuple[Coverage, bool]], more: tuple[Coverage, bool]
) -> None:
    at = WORST_FIRST.index
    assert at(worst([*zones, more])) <= at(worst(zones))
    assert at(worst(zones)) == min(at(zone) for zone in zones)


def test_a_building_without_zones_is_unknown() -> None:
    assert worst([]) == (Coverage.TOO_LITTLE_KNOWN, False)


def test_a_building_is_covered_only_when_every_zone_is() -> None:
    covered = (COVERED, False)
    assert worst([covered, covered]) == covered
    assert all(worst([covered, other]) == other for other in WORST_FIRST)


def test_neither_doubt_nor_a_later_paper_silences_a_failing_test_and_a_withdrawal_not_wholly() -> (
    None
):
    wall, passing = make_wall(), make_test(ref="T9")
    found = {
        standing: judge(wall, passing, make_test(fails=True, standing=standing)).coverage
        for standing in Standing
    }
    assert found == {
        Standing.LIVE: Coverage.CONTRADICTED,
        Standing.DISPUTED: Coverage.CONTRADICTED,
        Standing.SUPERSEDED: Coverage.CONTRADICTED,
        Standing.WITHDRAWN: Coverage.TOO_LITTLE_KNOWN,
    }


@pytest.mark.parametrize(
    ("facing", "failed"),
    [
        # smoke and droplets say nothing of how fire spreads
        (solid("high-pressure-laminate", "B-s1,d0"), solid("high-pressure-laminate", "B-s2,d0")),
        (solid("high-pressure-laminate", "B-s1,d0"), solid("high-pressure-laminate", "B-s1,d1")),
        # two measurements of one core lie apart
        (core("2"), core("2") | {"facing.1.calorific_value": "13.7"}),
    ],
)
def test_what_is_hardly_milder_than_a_wall_that_failed_is_not_covered(
    facing: dict[str, str], failed: dict[str, str]
) -> None:
    wall, passing = make_wall(facing), make_test(facing, ref="T9")
    assert judge(wall, passing).coverage is COVERED
    found = judge(wall, passing, make_test(failed, fails=True))
    assert found.coverage in (Coverage.CONTRADICTED, Coverage.TOO_LITTLE_KNOWN)
    assert found.tests == ("T1",)


def test_a_withdrawn_failing_test_is_named_as_what_keeps_the_wall_from_being_covered() -> None:
    withdrawn = make_test(fails=True, standing=Standing.WITHDRAWN)
    found = judge(make_wall(), make_test(ref="T9"), withdrawn)
    assert (found.doubts, found.tests) == (("T1",), ("T1",))
    assert judge(make_wall(), make_test(ref="T9")).coverage is COVERED
    milder = make_wall({"facing.1.calorific_value": "2"} | {"facing.1.core_category": "1"})
    assert judge(milder, withdrawn).doubts == ()


@pytest.mark.parametrize("standing", Standing)
def test_a_twin_whose_outcome_nobody_tells_is_named_as_what_keeps_the_wall_from_being_covered(
    standing: Standing,
) -> None:
    untold = make_test(criteria=Criteria(), printed_outcome=Outcome.NOT_TOLD, standing=standing)
    found = judge(make_wall(), make_test(ref="T9"), untold)
    assert (found.coverage, found.doubts) == (Coverage.TOO_LITTLE_KNOWN, ("T1",))
    assert [ref for ref, _ in leaning.tests_named(found)] == ["T1", "T9"]
    milder = make_wall({"facing.1.calorific_value": "2"} | {"facing.1.core_category": "1"})
    assert judge(milder, untold).doubts == ()


@pytest.mark.parametrize("ends", [{"tested_on": ON + timedelta(days=1)}, {"build_up": BuildUp()}])
def test_a_test_to_come_or_of_nobody_knows_what_puts_no_wall_in_doubt(
    ends: dict[str, object],
) -> None:
    untold = make_test(criteria=Criteria(), printed_outcome=Outcome.NOT_TOLD, **ends)
    assert judge(make_wall(), make_test(ref="T9"), untold).coverage is COVERED

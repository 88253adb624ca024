"""Laws that rules of every kind keep: they allow what is known to differ, and nothing else."""

from collections.abc import Mapping
from dataclasses import replace
from itertools import permutations
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from portfolio.domain.assessing import assess
from portfolio.domain.columns import Answer, answer_table
from portfolio.domain.coverage import Coverage, ZoneCase
from portfolio.domain.evidence import Outcome, outcome_of
from portfolio.domain.gates import Setting
from portfolio.domain.matching import compile_tests, compile_walls, explain_pair
from portfolio.domain.parameters import PARAMETERS, PLACE_OF
from portfolio.domain.readings import read_walls
from portfolio.domain.rules import (
    PRESENCES,
    ApplicationRule,
    Condition,
    RuleKind,
    RuleSet,
    can_speak_of,
)
from portfolio.domain.surveys import Basis
from portfolio.domain.values import NOT_APPLICABLE, UNKNOWN, Value, exactly, known
from portfolio.domain.walls import parameters_of
from tests.domain.factories import (
    ENGLAND,
    ON,
    TestPlan,
    WallPlan,
    judge,
    judge_all,
    libraries,
    make_library,
    make_rule,
    make_test,
    make_wall,
    plans_of_tests,
    plans_of_walls,
    shipped_rules,
    value_of,
    values_of,
)
from tests.domain.random_rules import RULED, naive, own_rules, rule_sets
from tests.domain.test_coverage_properties import (
    is_covered,
    place,
    records_of,
    without_each_fact,
    without_each_fact_of,
)

PLACES = ("England", "Scotland", "")


# --- Whatever the rules are ----------------------------------------------------------------------


@given(plans_of_walls(), libraries(), rule_sets())
def test_taking_a_fact_from_a_wall_never_makes_it_covered(
    plan: WallPlan, tests: list[TestPlan], rules: RuleSet
) -> None:
    fewer = [wall for _, wall in without_each_fact(plan.wall)]
    before, *after = judge_all([plan.wall, *fewer], *records_of(tests), rules=rules)
    assert is_covered(before) or not any(is_covered(zone) for zone in after)


@given(plans_of_walls(), plans_of_tests(), rule_sets(), st.randoms(use_true_random=False))
def test_taking_a_fact_from_a_test_never_makes_a_wall_covered(
    plan: WallPlan, test: TestPlan, rules: RuleSet, rng: Random
) -> None:
    _, less_known = rng.choice(list(without_each_fact_of(test.record)))
    before, after = (judge(plan.wall, t, rules=rules) for t in (test.record, less_known))
    assert is_covered(after) <= is_covered(before)


@given(plans_of_walls(), libraries(), plans_of_tests(ref="T0"), rule_sets())
def test_a_test_more_takes_no_cover_away_if_it_passed_and_never_helps_if_it_failed(
    plan: WallPlan, tests: list[TestPlan], more: TestPlan, rules: RuleSet
) -> None:
    added, failing = (replace(more, fails=fails).record for fails in (False, True))
    before, passed, failed = (
        judge(plan.wall, *records_of(tests), *others, rules=rules)
        for others in ([], [added], [failing])
    )
    assert place(failed) <= place(before)
    if outcome_of(added) is Outcome.PASSED:
        assert (before.coverage is Coverage.COVERED) <= (passed.coverage is Coverage.COVERED)


@given(plans_of_walls(), libraries(), rule_sets())
def test_taking_the_jurisdiction_away_never_makes_a_wall_covered(
    plan: WallPlan, tests: list[TestPlan], rules: RuleSet
) -> None:
    nowhere = Setting("")
    library = make_library(*records_of(tests), rules=rules, settings=[ENGLAND, nowhere])
    before, after = assess([ZoneCase(plan.wall, place) for place in (ENGLAND, nowhere)], library)
    assert is_covered(after) <= is_covered(before)


@given(
    st.lists(plans_of_walls(), min_size=1, max_size=3),
    libraries(),
    rule_sets(),
    st.randoms(use_true_random=False),
)
def test_the_order_of_rules_does_not_matter(
    plans: list[WallPlan], tests: list[TestPlan], rules: RuleSet, rng: Random
) -> None:
    shuffled = list(rules.rules)
    rng.shuffle(shuffled)
    walls = [plan.wall for plan in plans]
    found = [
        judge_all(walls, *records_of(tests), rules=RuleSet(tuple(order), ON))
        for order in (rules.rules, shuffled)
    ]
    assert found[0] == found[1]


@given(plans_of_walls(), libraries(), rule_sets())
def test_a_rule_more_takes_no_cover_away_and_silences_no_failing_test(
    plan: WallPlan, tests: list[TestPlan], rules: RuleSet
) -> None:
    without, with_it = (
        judge(plan.wall, *records_of(tests), rules=each) for each in (shipped_rules(), rules)
    )
    assert is_covered(without) <= is_covered(with_it)
    assert without.against == with_it.against


@given(st.data())
def test_no_rule_makes_anything_of_unknown_nor_of_what_is_not_there(data: st.DataObject) -> None:
    rule = replace(data.draw(own_rules()), families=frozenset(), jurisdictions=frozenset())
    rule = replace(rule, conditions=())
    [key] = rule.parameters
    value = data.draw(values_of(PARAMETERS[key].attribute))
    rules = RuleSet((rule,), ON)
    for zone, tested, answer in (
        (UNKNOWN, value, Answer.UNKNOWN),
        (value, UNKNOWN, Answer.UNKNOWN),
        (UNKNOWN, UNKNOWN, Answer.UNKNOWN),
        (NOT_APPLICABLE, value, Answer.DIFFERS),
        (value, NOT_APPLICABLE, Answer.DIFFERS),
    ):
        table = answer_table(PARAMETERS[key], [zone], [tested], rules)
        assert Answer(int(table.answers[0, 0])) is answer


# --- The portfolio, one zone, and a reading without tables ---------------------------------------


@given(
    st.lists(plans_of_walls(), min_size=1, max_size=3),
    libraries(most=3),
    rule_sets(),
    st.lists(st.sampled_from(PLACES), min_size=3, max_size=3),
)
@settings(max_examples=60)
def test_many_walls_one_wall_and_a_reading_without_tables_agree(
    plans: list[WallPlan], tests: list[TestPlan], rules: RuleSet, places: list[str]
) -> None:
    walls, library = [plan.wall for plan in plans], compile_tests(records_of(tests))
    compiled = compile_walls(read_walls(walls), library, rules, places[: len(walls)])
    for i, wall in enumerate(walls):
        alone = compile_walls(read_walls([wall]), library, rules, [places[i]])
        for j, record in enumerate(library.records):
            together, single = (
                explain_pair(made, wall, at, j) for made, at in ((compiled, i), (alone, 0))
            )
            assert together == single
            tested = parameters_of(record.build_up)
            for row in single:
                expected = naive(wall, tested, row.parameter, rules, places[i])
                assert (row.parameter, row.answer) == (row.parameter, expected)
                assert (row.rule is not None) == (row.answer is Answer.ALLOWED)


@given(st.lists(plans_of_walls(), min_size=2, max_size=4), libraries(), rule_sets())
@settings(max_examples=30)
def test_a_wall_has_the_same_coverage_alone_as_among_others_by_any_rules(
    plans: list[WallPlan], tests: list[TestPlan], rules: RuleSet
) -> None:
    walls, records = [plan.wall for plan in plans], records_of(tests)
    alone = [judge(wall, *records, rules=rules) for wall in walls]
    assert judge_all(walls, *records, rules=rules) == alone


# --- One direction -------------------------------------------------------------------------------

DEPTH = PARAMETERS["cavity.1.depth"]
tenths = st.integers(min_value=0, max_value=2000).map(lambda n: n / 10)
amounts = st.none() | tenths


def depth_answer(kind: RuleKind, amount: float | None, zone: float, tested: float) -> Answer:
    rules = RuleSet((make_rule(DEPTH.key, kind=kind, amount=amount),), ON)
    table = answer_table(DEPTH, [exactly(zone)], [exactly(tested)], rules)
    return Answer(int(table.answers[0, 0]))


@pytest.mark.parametrize("kind", [RuleKind.NOT_MORE, RuleKind.NOT_LESS])
@given(amount=amounts, zone=tenths, nearer=tenths, tested=tenths)
def test_what_is_nearer_on_the_allowed_side_is_allowed_too(
    kind: RuleKind, amount: float | None, zone: float, nearer: float, tested: float
) -> None:
    between = min(max(nearer, min(zone, tested)), max(zone, tested))
    far, near = (depth_answer(kind, amount, value, tested) for value in (zone, between))
    assert (far <= Answer.ALLOWED) <= (near <= Answer.ALLOWED)


@pytest.mark.parametrize("kind", [RuleKind.NOT_MORE, RuleKind.NOT_LESS])
@given(one=amounts, other=amounts, zone=tenths, tested=tenths)
def test_a_wider_rule_of_one_direction_allows_no_less(
    kind: RuleKind, one: float | None, other: float | None, zone: float, tested: float
) -> None:
    narrow, wide = sorted((one, other), key=lambda a: float("inf") if a is None else a)
    allowed = [
        depth_answer(kind, amount, zone, tested) <= Answer.ALLOWED for amount in (narrow, wide)
    ]
    assert allowed[0] <= allowed[1]


@given(amount=amounts, zone=tenths, tested=tenths)
def test_nothing_on_the_other_side_is_allowed(
    amount: float | None, zone: float, tested: float
) -> None:
    for kind, is_wrong in (
        (RuleKind.NOT_MORE, zone > tested),
        (RuleKind.NOT_LESS, zone < tested),
    ):
        if is_wrong:
            assert depth_answer(kind, amount, zone, tested) is Answer.DIFFERS


# --- Each kind -----------------------------------------------------------------------------------


def answer(rule: ApplicationRule, zone: Value, tested: Value) -> Answer:
    [key] = rule.parameters
    table = answer_table(PARAMETERS[key], [zone], [tested], RuleSet((rule,), ON))
    return Answer(int(table.answers[0, 0]))


def of_words(parameter: str, kind: RuleKind, *words: str) -> ApplicationRule:
    return make_rule(parameter, kind=kind, amount=None, equals=frozenset(words), unit="")


INSULATION, BARRIER = "insulation.1.material", "barrier-horizontal.1.type"
WOOLS = of_words(INSULATION, RuleKind.EQUALS, "stone-wool", "glass-wool")
BARRIERS = of_words(BARRIER, RuleKind.PRESENT)


@pytest.mark.parametrize(
    ("rule", "zone", "tested", "expected"),
    [
        (WOOLS, "glass-wool", "stone-wool", Answer.ALLOWED),
        (WOOLS, "pir-foam", "stone-wool", Answer.DIFFERS),
        (WOOLS, "stone-wool | glass-wool", "stone-wool", Answer.ALLOWED),
        (WOOLS, "mineral-wool", "stone-wool", Answer.UNKNOWN),
        (BARRIERS, "full-fill-mineral", "open-state-intumescent", Answer.ALLOWED),
        (BARRIERS, "none", "open-state-intumescent", Answer.DIFFERS),
        (of_words("facing.1.core_category", RuleKind.NOT_WORSE), "1", "2", Answer.ALLOWED),
        (of_words("facing.1.core_category", RuleKind.NOT_WORSE), "3", "2", Answer.DIFFERS),
        (of_words("facing.1.class", RuleKind.NOT_WORSE), "A2-s1,d0", "B-s1,d0", Answer.ALLOWED),
        (of_words("facing.1.class", RuleKind.NOT_WORSE), "A2-s2,d0", "B-s1,d0", Answer.DIFFERS),
        (of_words("facing.1.class", RuleKind.NOT_WORSE), "D-s2,d0", "E", Answer.DIFFERS),
    ],
)
def test_a_rule_of_words_allows_what_it_says(
    rule: ApplicationRule, zone: str, tested: str, expected: Answer
) -> None:
    [key] = rule.parameters
    assert answer(rule, value_of(key, zone), value_of(key, tested)) is expected


@given(st.sampled_from(RULED), st.data())
def test_two_other_things_are_never_made_alike(key: str, data: st.DataObject) -> None:
    kinds = [k for k in RuleKind if can_speak_of(k, key) and k is not RuleKind.PRESENT]
    if PARAMETERS[key].attribute.category:
        rule = of_words(key, data.draw(st.sampled_from(kinds)), "other", "stone-wool")
        assert rule.kind in (RuleKind.EQUALS, RuleKind.NOT_WORSE)
        if rule.kind is RuleKind.EQUALS:
            assert answer(rule, known("other"), known("other")) is Answer.UNKNOWN
            assert answer(rule, known("stone-wool"), known("other")) is Answer.DIFFERS


def test_presence_is_only_said_of_layers_by_which_no_test_is_ruled_out() -> None:
    assert not any(PARAMETERS[key].is_decisive for key in PRESENCES)
    assert BARRIER in PRESENCES
    assert not can_speak_of(RuleKind.PRESENT, "insulation.1.material")
    assert not can_speak_of(RuleKind.PRESENT, "facing.1.class")


# --- Conditions ----------------------------------------------------------------------------------

IN_WOOL = Condition(INSULATION, frozenset({"stone-wool"}))
DEEPER = make_rule(DEPTH.key, 40.0, kind=RuleKind.NOT_LESS, conditions=(IN_WOOL,))
DEEP = {"cavity.1.depth": "80"}
BY_DEEPER = RuleSet((*shipped_rules().rules, DEEPER), ON)


def depth_of(rules: RuleSet, *, basis: Basis = Basis.OPENING_UP, **changed: str) -> Answer:
    told = {key.replace("__", "."): text for key, text in changed.items()}
    wall = make_wall(DEEP | told, basis=basis)
    compiled = compile_walls(read_walls([wall]), compile_tests([make_test()]), rules)
    rows: Mapping[str, Answer] = {r.parameter: r.answer for r in explain_pair(compiled, wall, 0, 0)}
    return rows[DEPTH.key]


def test_a_rule_under_a_condition_covers_where_the_condition_is_known_to_be_met() -> None:
    assert judge(make_wall(DEEP), make_test(), rules=BY_DEEPER).coverage is Coverage.COVERED
    assert judge(make_wall(DEEP), make_test()).coverage is Coverage.TO_ASSESS


def test_a_condition_that_is_not_known_leaves_a_difference_unknown() -> None:
    assert depth_of(BY_DEEPER, insulation__1__material="") is Answer.UNKNOWN
    assert depth_of(BY_DEEPER, insulation__1__material="mineral-wool") is Answer.UNKNOWN
    assert depth_of(BY_DEEPER, insulation__1__material="pir-foam") is Answer.DIFFERS


def test_a_condition_seen_on_a_drawing_only_is_not_known() -> None:
    assert depth_of(BY_DEEPER, basis=Basis.DRAWING) is Answer.UNKNOWN


def test_a_decisive_difference_that_a_condition_could_allow_rules_no_test_out() -> None:
    alike = of_words(INSULATION, RuleKind.EQUALS, "pir-foam", "stone-wool")
    substrate = Condition("wall.substrate", frozenset({"steel-frame"}))
    rules = RuleSet((*shipped_rules().rules, replace(alike, conditions=(substrate,))), ON)
    foam = {INSULATION: "pir-foam"}
    unknown = make_wall(foam, without=["wall.substrate"])
    assert judge(unknown, make_test(), rules=rules).coverage is Coverage.TOO_LITTLE_KNOWN
    assert judge(make_wall(foam), make_test(), rules=rules).coverage is Coverage.COVERED
    other = make_wall(foam | {"wall.substrate": "masonry"})
    assert judge(other, make_test(), rules=rules).coverage is Coverage.NO_MATCHING_EVIDENCE


@pytest.mark.parametrize("order", list(permutations(range(3))))
def test_of_several_rules_a_shipped_one_is_told_before_an_engineers(order: tuple[int, ...]) -> None:
    own = [make_rule(DEPTH.key, a, id=f"own-{a:g}", version=1) for a in (2.0, 30.0)]
    shipped = next(rule for rule in shipped_rules().rules if rule.speaks_of(DEPTH.key))
    made = [*own, shipped]
    rules = RuleSet(tuple(made[place] for place in order), ON)
    tests = compile_tests([make_test({DEPTH.key: "50"})])
    walls = [make_wall({DEPTH.key: depth}) for depth in ("51", "70")]
    compiled = compile_walls(read_walls(walls), tests, rules)
    told = [compiled.rule_told(PLACE_OF[DEPTH.key], wall, 0) for wall in (0, 1)]
    assert [rule and rule.id for rule in told] == [shipped.id, "own-30"]


def test_no_own_rule_allows_anything_beside_a_test_whose_wall_is_not_shown() -> None:
    """Nobody can say how far a wall may differ from one that they have not seen."""
    own = make_rule(DEPTH.key, 30.0, id="own", version=1)
    rules = RuleSet((*shipped_rules().rules, own), ON)
    deeper, tested = make_wall({DEPTH.key: "70"}), make_test({DEPTH.key: "50"})
    assert judge(deeper, tested, rules=rules).coverage is Coverage.COVERED
    hidden = replace(tested, wall_is_shown=False)
    assert judge(deeper, hidden, rules=rules).coverage is Coverage.TO_ASSESS
    # a measuring tolerance is one also where it cannot be seen
    measured = make_wall({DEPTH.key: "51"})
    assert judge(measured, hidden, rules=rules).coverage is Coverage.COVERED

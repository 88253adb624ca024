"""What would settle a zone: the smallest sets of facts, judged again by the engine."""

from collections.abc import Sequence
from datetime import date
from random import Random

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from portfolio.domain.assessing import assess
from portfolio.domain.coverage import Coverage, ZoneCase, ZoneCoverage
from portfolio.domain.evidence import Consent, Outcome, Standing, TestRecord, outcome_of
from portfolio.domain.findings import Way
from portfolio.domain.gates import Setting
from portfolio.domain.rules import Condition, RuleKind, RuleSet
from portfolio.domain.settling import (
    Settling,
    SettlingSet,
    found_otherwise,
    smallest_sets,
    with_found,
    with_what_follows,
)
from portfolio.domain.surveys import Basis, Wall
from portfolio.domain.values import UNKNOWN
from portfolio.domain.walls import parameters_of
from tests.domain.factories import (
    ENGLAND,
    ON,
    PIR,
    complete,
    judge,
    libraries,
    make_library,
    make_partial,
    make_rule,
    make_survey,
    make_test,
    make_wall,
    plans_of_walls,
    shipped_rules,
    wall_of,
)
from tests.domain.factories import TestPlan as PlanOfTest
from tests.domain.factories import WallPlan as PlanOfWall
from tests.domain.random_rules import rule_sets

SETTLED = (Coverage.COVERED, Coverage.TO_ASSESS)


def _settling(wall: Wall, *tests: TestRecord, rules: RuleSet | None = None) -> Settling:
    library, case = make_library(*tests, rules=rules), ZoneCase(wall, ENGLAND)
    [found] = coverages = assess([case], library)
    [sets] = smallest_sets([case], coverages, library)
    return Settling(sets, found_otherwise(wall, found, tests, library.judge))


def _asked(found: SettlingSet) -> list[str]:
    return [fact.parameter for fact in found.facts]


def _found_as(
    wall: Wall, test: TestRecord, keys: Sequence[str], *tests: TestRecord
) -> ZoneCoverage:
    """The zone judged once these facts are found as in the test."""
    values = with_what_follows(keys, parameters_of(test.build_up))
    return judge(with_found(wall, values), *tests)


# --- the trade's examples ------------------------------------------------------------------------


def test_a_wall_of_which_only_the_cavity_is_unknown_lacks_just_that() -> None:
    found = _settling(make_wall(without=["cavity.1.depth"]), make_test())
    [one] = found.sets
    assert (one.test, one.outcome, _asked(one)) == ("T1", Coverage.COVERED, ["cavity.1.depth"])
    assert one.facts[0].way is Way.PAPERS
    assert found.otherwise == ()


def test_insulation_seen_on_a_drawing_alone_must_be_opened_up_where_it_is_typical() -> None:
    drawn = make_partial({"insulation.1.material": "stone-wool"}, basis=Basis.DRAWING, ref="S2")
    opened = make_survey(complete(without=["insulation.1.material"]))
    [one] = _settling(wall_of(opened, drawn), make_test()).sets
    [fact] = one.facts
    assert (fact.parameter, fact.way) == ("insulation.1.material", Way.OPENING_UP)
    assert fact.where == "where the zone is typical, and at its edges"


def test_barriers_are_looked_for_at_a_floor_line_and_beside_a_window() -> None:
    [one] = _settling(make_wall(without=["barrier-horizontal.1.type"]), make_test()).sets
    assert [fact.where for fact in one.facts] == ["at a floor line, and beside a window"]


def test_a_core_is_told_by_a_sample_taken_at_the_opening() -> None:
    wall = make_wall(without=["facing.1.core_category", "facing.1.calorific_value"])
    [one] = _settling(wall, make_test()).sets
    assert {(fact.way, fact.where) for fact in one.facts} == {
        (Way.LABORATORY, "a sample taken at the opening")
    }


def test_a_difference_that_an_engineer_may_judge_leaves_the_zone_to_be_assessed() -> None:
    wall = make_wall({"insulation.1.thickness": "200"}, without=["cavity.1.depth"])
    [one] = _settling(wall, make_test()).sets
    assert one.outcome is Coverage.TO_ASSESS


def test_whoever_finds_no_second_board_need_not_look_for_its_thickness() -> None:
    told = make_survey(lists_all_layers=False)
    asked = {key for found in _settling(wall_of(told), make_test()).sets for key in _asked(found)}
    assert "lining.2.material" in asked
    assert not asked & {"lining.2.thickness", "lining.2.class", "lining.2.product"}


def test_a_conflict_is_settled_by_a_person_where_a_survey_has_it_as_tested() -> None:
    thinner = make_partial({"insulation.1.thickness": "60"}, ref="S2", on=date(2026, 2, 2))
    [one] = _settling(wall_of(make_survey(), thinner), make_test()).sets
    [fact] = one.facts
    assert (fact.parameter, fact.way) == ("insulation.1.thickness", Way.SETTLING)
    neither = make_test({"insulation.1.thickness": "80"})
    [other] = _settling(wall_of(make_survey(), thinner), neither).sets
    assert [fact.way for fact in other.facts] == [Way.PAPERS]


def test_cheaper_ways_come_first_then_fewer_facts_then_the_test() -> None:
    wall = make_wall(
        {"barrier-horizontal.1.type": "open-state-intumescent | full-fill-mineral"},
        without=["cavity.1.depth", "support.1.product"],
    )
    # of the same barriers, and of others that leave the zone to be assessed: no opening-up
    same, other = make_test(ref="T1"), make_test({"barrier-horizontal.1.type": "none"}, ref="T2")
    found = _settling(wall, same, make_test(ref="T0"), other)
    assert [(one.test, len(one.facts)) for one in found.sets] == [("T2", 2), ("T0", 3), ("T1", 3)]
    assert [fact.way for fact in found.sets[1].facts] == [Way.PAPERS, Way.PAPERS, Way.OPENING_UP]


def test_a_test_whose_consent_is_still_asked_for_settles_nothing() -> None:
    wall = make_wall(without=["cavity.1.depth"])
    assert _settling(wall, make_test(consent=Consent.ASKED)).sets == ()


def test_what_only_hangs_on_the_wall_is_settled_by_no_test_of_a_wall() -> None:
    wall, setting = make_wall(without=["cavity.1.depth"]), Setting("England", is_attachment=True)
    library, case = make_library(make_test(), settings=[setting]), ZoneCase(wall, setting)
    assert smallest_sets([case], assess([case], library), library) == [()]


def test_what_the_tests_record_leaves_open_nobody_finds_on_the_zone() -> None:
    wall = make_wall(without=["cavity.1.depth"])
    assert _settling(wall, make_test(without=["cavity.1.depth"])).sets == ()


def test_insulation_found_otherwise_rules_the_test_out_and_a_failing_one_could_speak() -> None:
    wall = make_wall(without=["insulation.1.material"])
    burnt = make_test(PIR, ref="F1", fails=True)
    found = _settling(wall, make_test(), burnt)
    [other] = found.otherwise
    assert other.fact.parameter == "insulation.1.material"
    assert (other.rules_out, other.against) == (("T1",), ("F1",))


@pytest.mark.parametrize("key", ["insulation.1.material", "facing.1.material"])
def test_a_fact_that_would_settle_nothing_is_not_told(key: str) -> None:
    """Where no test is near, and no failing one could speak, whatever is found."""
    wall = make_wall({"wall.system_family": "sandwich-panel"}, without=[key])
    assert _settling(wall, make_test()).otherwise == ()


def test_a_test_that_was_withdrawn_speaks_against_nothing() -> None:
    wall = make_wall(without=["insulation.1.material"])
    burnt = make_test(PIR, ref="F1", fails=True, standing=Standing.WITHDRAWN)
    [other] = _settling(wall, make_test(), burnt).otherwise
    assert other.against == ()


def test_a_failing_test_that_nothing_open_could_match_is_not_named() -> None:
    wall = make_wall({"insulation.1.material": "mineral-wool"})
    burnt = make_test(PIR, ref="F1", fails=True)
    [other] = _settling(wall, make_test(), burnt).otherwise
    assert (other.rules_out, other.against) == (("T1",), ())


def test_a_set_that_asks_for_the_same_and_for_more_is_left_out_unless_it_comes_to_more() -> None:
    wall = make_wall(
        {"barrier-horizontal.1.type": "open-state-intumescent | full-fill-mineral"},
        without=["cavity.1.depth"],
    )
    short = make_test({"barrier-horizontal.1.type": "none"}, ref="T1")
    more = make_test({"insulation.1.thickness": "300"}, ref="T2")
    assert [one.test for one in _settling(wall, short, more).sets] == ["T1"]
    better = make_test(ref="T2")
    assert [(one.test, one.outcome) for one in _settling(wall, short, better).sets] == [
        ("T1", Coverage.TO_ASSESS),
        ("T2", Coverage.COVERED),
    ]


def test_what_is_covered_or_contradicted_asks_for_nothing() -> None:
    assert _settling(make_wall(), make_test()) == Settling()
    assert _settling(make_wall(PIR), make_test(PIR, fails=True)) == Settling()


# --- laws ----------------------------------------------------------------------------------------

# each example is judged many times over
MANY = settings(suppress_health_check=[HealthCheck.filter_too_much], deadline=None, max_examples=30)


@st.composite
def _half_known(draw: st.DrawFn) -> Wall:
    """A wall of which some things are unsaid, some only drawn, some in conflict."""
    plan = draw(plans_of_walls())
    gone = draw(st.sets(st.sampled_from(sorted(complete())), max_size=5))
    changed = plan.changed | dict.fromkeys(gone, "")
    return PlanOfWall(changed, plan.basis, plan.others).wall


@MANY
@given(_half_known(), libraries())
def test_what_is_found_as_tested_comes_to_what_was_said(
    wall: Wall, plans: list[PlanOfTest]
) -> None:
    tests = {plan.ref: plan.record for plan in plans}
    found = _settling(wall, *tests.values())
    assume(found.sets)
    for one in found.sets:
        then = _found_as(wall, tests[one.test], _asked(one), *tests.values())
        assert then.coverage is one.outcome
        assert one.outcome in SETTLED


@MANY
@given(_half_known(), libraries())
def test_no_fact_of_a_set_can_be_left_out(wall: Wall, plans: list[PlanOfTest]) -> None:
    tests = {plan.ref: plan.record for plan in plans}
    found = _settling(wall, *tests.values())
    assume(found.sets)
    failing = [test for test in tests.values() if outcome_of(test) is Outcome.FAILED]
    for one in found.sets:
        for left_out in _asked(one):
            rest = [key for key in _asked(one) if key != left_out]
            then = _found_as(wall, tests[one.test], rest, tests[one.test], *failing)
            assert then.coverage not in SETTLED, left_out


DEEPER = make_rule(
    "cavity.1.depth",
    20,
    kind=RuleKind.NOT_LESS,
    conditions=(Condition("sheathing.1.material", frozenset({"cement-particle-board"})),),
    version=1,
)


def test_where_a_rule_asks_for_something_unknown_that_is_asked_and_not_what_is_known() -> None:
    """A depth of 65 mm was measured; only the rule's condition keeps it from being allowed."""
    told = complete({"cavity.1.depth": "65"}, without=["sheathing.1.material"])
    wall = wall_of(make_survey(told))
    rules = RuleSet((*shipped_rules().rules, DEEPER), ON)
    [found] = _settling(wall, make_test(), rules=rules).sets
    assert _asked(found) == ["sheathing.1.material"]
    assert found.outcome is Coverage.COVERED


def test_what_no_rule_reaches_however_its_conditions_are_met_is_not_asked_again() -> None:
    told = complete({"cavity.1.depth": "90"}, without=["sheathing.1.material"])
    rules = RuleSet((*shipped_rules().rules, DEEPER), ON)
    [found] = _settling(wall_of(make_survey(told)), make_test(), rules=rules).sets
    assert _asked(found) == ["sheathing.1.material"]
    assert found.outcome is Coverage.TO_ASSESS


@MANY
@given(_half_known(), libraries(), rule_sets())
def test_by_any_rules_a_set_settles_and_asks_for_nothing_that_is_known_for_certain(
    wall: Wall, plans: list[PlanOfTest], rules: RuleSet
) -> None:
    tests = {plan.ref: plan.record for plan in plans}
    for one in _settling(wall, *tests.values(), rules=rules).sets:
        tested = parameters_of(tests[one.test].build_up)
        values = with_what_follows(_asked(one), tested)
        then = judge(with_found(wall, values), *tests.values(), rules=rules)
        assert then.coverage in SETTLED
        for key in _asked(one):
            fact, value = wall.facts.get(key), wall.as_relied_on(key)
            is_exact = value is not UNKNOWN and getattr(value, "is_known", True)
            assert not is_exact or fact is None or fact.in_conflict, key


@MANY
@given(_half_known(), libraries(), st.randoms(use_true_random=False))
def test_the_order_of_tests_does_not_matter(
    wall: Wall, plans: list[PlanOfTest], chance: Random
) -> None:
    tests = [plan.record for plan in plans]
    before = _settling(wall, *tests)
    chance.shuffle(tests)
    assert _settling(wall, *tests) == before


@MANY
@given(_half_known(), libraries())
def test_only_what_is_unknown_too_weak_or_in_conflict_is_asked_for(
    wall: Wall, plans: list[PlanOfTest]
) -> None:
    tests = [plan.record for plan in plans]
    now = judge(wall, *tests)
    unknown = {v.test: {*v.unknown, *now.conflicts} for v in now.nearest}
    for one in _settling(wall, *tests).sets:
        assert {*_asked(one)} <= unknown[one.test]
        assert one.facts

"""Walls judged as columns come out as they do when each is explained by itself."""

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from portfolio.domain.assessing import assess, walls_of
from portfolio.domain.columns import Answer
from portfolio.domain.coverage import Library, ZoneCase
from portfolio.domain.evidence import Answer3, EvidenceKind
from portfolio.domain.gates import Setting, together
from portfolio.domain.judging import COVERAGES, Walls, compile_kinds, judge_all, judge_kinds
from portfolio.domain.matching import explain_pair
from portfolio.domain.nearest import NEAREST, NOBODY, Verdict
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.rules import RuleSet
from portfolio.domain.touching import borne_on
from tests.domain.factories import (
    ENGLAND,
    TestPlan,
    WallPlan,
    libraries,
    make_library,
    plans_of_tests,
    plans_of_walls,
)
from tests.domain.random_rules import rule_sets

NOWHERE = Setting("Elsewhere")
PLACES = (ENGLAND, NOWHERE)
WALLS = st.lists(st.tuples(plans_of_walls(), st.sampled_from(PLACES)), min_size=1, max_size=4)


def cases_of(plans: list[tuple[WallPlan, Setting]]) -> list[ZoneCase]:
    return [ZoneCase(plan.wall, setting) for plan, setting in plans]


def library_of(plans: list[TestPlan], rules: RuleSet) -> Library:
    records = [plan.record for plan in plans]
    return make_library(*records, rules=rules, settings=list(PLACES))


@given(WALLS, libraries(), rule_sets())
@settings(max_examples=60)
def test_columns_and_the_coverage_spelled_out_are_the_same(
    plans: list[tuple[WallPlan, Setting]], tests: list[TestPlan], rules: RuleSet
) -> None:
    cases, library = cases_of(plans), library_of(tests, rules)
    judged = judge_all(walls_of(cases), library)
    for i, told in enumerate(assess(cases, library)):
        assert COVERAGES[judged.coverage[i]] is told.coverage
        assert bool(judged.by_inference[i]) is told.by_inference
        assert bool(judged.covered_too[i]) is told.covered_too
        assert bool(judged.in_doubt[i]) is bool(told.doubts)
        places = [place for place in judged.ranked.tests[i].tolist() if place != NOBODY]
        assert [library.passing.records[p].ref for p in places] == [v.test for v in told.nearest]


@given(WALLS, libraries(most=6, may_fail=False), rule_sets())
@settings(max_examples=60)
def test_the_nearest_tests_are_those_that_the_explanations_put_first(
    plans: list[tuple[WallPlan, Setting]], tests: list[TestPlan], rules: RuleSet
) -> None:
    cases, library = cases_of(plans), library_of(tests, rules)
    walls = walls_of(cases)
    compiled, judged = compile_kinds(walls, library), judge_kinds(walls, library)
    for i, case in enumerate(cases):
        ranked = []
        for j, record in enumerate(library.passing.records):
            rows = explain_pair(compiled, case.wall, i, j)
            differs = [row.parameter for row in rows if row.answer is Answer.DIFFERS]
            unknown = sum(row.answer is Answer.UNKNOWN for row in rows)
            gates = together(library.gates[case.setting][record.ref])
            if gates is Answer3.NOT_MET or any(PARAMETERS[key].is_decisive for key in differs):
                continue
            verdict = Verdict.COVERS
            if differs or record.kind is EvidenceKind.ASSESSMENT:
                verdict = Verdict.ASSESSABLE
            if unknown or gates is Answer3.UNKNOWN:
                verdict = Verdict.OPEN
            ranked.append((verdict, len(differs), unknown, j))
        found = judged.ranked.tests[i].tolist()
        if ranked:
            best = [j for *_, j in sorted(ranked)[:NEAREST]]
            assert found == best + [NOBODY] * (NEAREST - len(best))
            assert judged.ranked.verdicts[i, 0] == min(ranked)[0]
        else:
            assert judged.ranked.is_apart[i]


@given(WALLS, libraries())
@settings(max_examples=40)
def test_what_failing_tests_say_of_many_walls_is_what_they_say_of_each(
    plans: list[tuple[WallPlan, Setting]], tests: list[TestPlan]
) -> None:
    walls = [plan.wall for plan, _ in plans]
    library = library_of(tests, RuleSet((), make_library().rules.on))
    spoken = library.judge.spoken(walls_of(cases_of(plans)).readings, library.failing)
    told = library.judge.against(walls, library.failing)
    assert spoken.tested.tolist() == [bool(one.tested) for one in told]
    assert spoken.inferred.tolist() == [bool(one.inferred) for one in told]
    assert spoken.possible.tolist() == [bool(one.possible) for one in told]


@given(WALLS, libraries(), plans_of_tests(ref="T1"), rule_sets())
@settings(max_examples=100)
def test_a_changed_test_changes_nothing_where_it_could_not_bear_on_anything(
    plans: list[tuple[WallPlan, Setting]], tests: list[TestPlan], new: TestPlan, rules: RuleSet
) -> None:
    cases = cases_of(plans)
    walls: Walls = walls_of(cases)
    before, after = library_of(tests, rules), library_of([new, *tests[1:]], rules)
    changed = [tests[0].record, replace(new.record)]
    borne = borne_on(walls, changed, rules, before.judge)
    borne |= judge_all(walls, before).ranked.is_apart
    was, now = assess(cases, before), assess(cases, after)
    for i in np.flatnonzero(~borne).tolist():
        assert was[i] == now[i]


def test_a_test_of_another_wall_bears_on_none() -> None:
    wall = WallPlan({"insulation.1.material": "stone-wool"})
    other = TestPlan({"insulation.1.material": "pir-foam"}, {}, fails=False)
    library = make_library()
    walls = walls_of([ZoneCase(wall.wall, ENGLAND)])
    assert borne_on(walls, [other.record], library.rules, library.judge).tolist() == [False]

"""Application rules: dates, versions, and every example that the rule files carry."""

from datetime import date
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.columns import Answer, answer_table
from portfolio.domain.parameters import PARAMETERS, Kind
from portfolio.domain.rules import RuleSet, rules_in_force
from portfolio.domain.values import exactly
from portfolio.reference.loader import load_reference
from portfolio.reference.schema import RuleExample
from tests.domain.factories import ON, make_rule, shipped_rules

REFERENCE = load_reference()


@pytest.mark.parametrize(
    ("rule_id", "example"),
    REFERENCE.rule_examples,
    ids=[f"{rule_id}-{e.zone}-{e.tested}" for rule_id, e in REFERENCE.rule_examples],
)
def test_every_example_of_a_rule_file_is_so(rule_id: str, example: RuleExample) -> None:
    rules = rules_in_force(REFERENCE.rules, example.on)
    zone, tested = [exactly(example.zone)], [exactly(example.tested)]
    table = answer_table(PARAMETERS[example.parameter], zone, tested, rules)
    assert Answer(int(table.answers[0, 0])).word == example.expect
    if example.expect == "allowed":
        assert rules.rules[int(table.rules[0, 0])].id == rule_id


def test_every_shipped_rule_has_an_example_it_allows_and_one_it_does_not() -> None:
    told = {(rule_id, example.expect) for rule_id, example in REFERENCE.rule_examples}
    ids = {rule.id for rule in REFERENCE.rules}
    assert {(i, expect) for i in ids for expect in ("allowed", "differs")} <= told


def test_every_shipped_rule_is_marked_as_ours_and_as_no_limit_of_a_standard() -> None:
    assert {rule.status for rule in REFERENCE.rules} == {"house"}
    assert all("not the limit of any standard" in rule.source for rule in REFERENCE.rules)


def test_a_shipped_rule_speaks_only_of_measures_in_their_own_unit() -> None:
    for rule in REFERENCE.rules:
        for key in rule.parameters:
            assert PARAMETERS[key].kind is Kind.NUMBER
            assert PARAMETERS[key].attribute.unit == rule.unit


@pytest.mark.parametrize(
    ("on", "in_force", "why"),
    [
        (date(2025, 12, 31), False, "the day before"),
        (date(2026, 1, 1), True, "the first day"),
        (date(2026, 6, 30), True, "the last day"),
        (date(2026, 7, 1), False, "the day it ends is the first without it"),
    ],
)
def test_a_rule_is_in_force_from_its_first_day_up_to_its_end(
    on: date, in_force: bool, why: str
) -> None:
    rule = make_rule(effective_from=date(2026, 1, 1), effective_to=date(2026, 7, 1))
    assert (rules_in_force([rule], on).rules == (rule,)) is in_force, why


def test_a_rule_without_an_end_stays_in_force() -> None:
    assert make_rule(effective_to=None).is_in_force(date(2099, 1, 1))


@pytest.mark.parametrize(
    "change",
    [
        {"amount": 21.0},
        {"source": "another source"},
        {"author": "a named engineer"},
        {"parameters": ("cavity.1.depth",)},
        {"effective_to": date(2027, 1, 1)},
        {"status": "published"},
        {"title": "another title"},
    ],
)
def test_any_change_of_a_rule_changes_the_version(change: dict[str, object]) -> None:
    before, after = (rules_in_force([make_rule(**more)], ON) for more in ({}, change))
    assert before.version != after.version


def test_the_version_is_the_same_on_another_day_with_the_same_rules() -> None:
    rules = [make_rule()]
    assert rules_in_force(rules, ON).version == rules_in_force(rules, date(2026, 3, 2)).version


def test_the_version_does_not_depend_on_how_the_rules_came_in() -> None:
    rules = [make_rule(), make_rule(amount=5.0), make_rule(id="another")]
    versions = {rules_in_force(order, ON).version for order in permutations(rules)}
    assert len(versions) == 1


def test_survey_tolerances_come_from_our_measuring_tolerances_only() -> None:
    rules = RuleSet((make_rule(status="published"), make_rule("cavity.1.depth", 3.0)), ON)
    assert rules.tolerances() == {"cavity.1.depth": 3.0}


def test_of_two_house_rules_the_narrower_says_when_surveys_disagree() -> None:
    wide, narrow = make_rule(id="a", amount=20.0), make_rule(id="b", amount=2.0)
    for rules in ((wide, narrow), (narrow, wide)):
        assert RuleSet(rules, ON).tolerances() == {"insulation.1.thickness": 2.0}


def test_the_rules_of_a_parameter_come_with_their_place() -> None:
    other = make_rule("cavity.1.depth", 3.0)
    assert RuleSet((other, make_rule()), ON).for_parameter("cavity.1.depth") == [(0, other)]


@given(st.floats(min_value=0, max_value=10), st.floats(min_value=0, max_value=10))
def test_a_wider_rule_never_allows_less(one: float, other: float) -> None:
    narrow, wide = sorted((one, other))
    parameter = PARAMETERS["cavity.1.depth"]

    def answer(amount: float) -> Answer:
        rules = RuleSet((make_rule("cavity.1.depth", amount),), ON)
        table = answer_table(parameter, [exactly(54)], [exactly(50)], rules)
        return Answer(int(table.answers[0, 0]))

    assert answer(wide) <= answer(narrow)


@given(
    st.sampled_from([p.key for p in PARAMETERS.values() if p.kind is Kind.NUMBER]),
    st.integers(min_value=1, max_value=5000),
    st.integers(min_value=1, max_value=5000),
)
def test_no_shipped_rule_allows_more_than_a_tenth_of_what_was_tested(
    key: str, zone: int, tested: int
) -> None:
    """In tenths of a unit, so that small measures come up as often as large ones."""
    sides = [exactly(zone / 10)], [exactly(tested / 10)]
    answer = Answer(int(answer_table(PARAMETERS[key], *sides, shipped_rules()).answers[0, 0]))
    if abs(zone - tested) * 10 > tested:
        assert answer is Answer.DIFFERS


def test_the_shipped_rules_are_in_force() -> None:
    assert len(shipped_rules().rules) == len(REFERENCE.rules)

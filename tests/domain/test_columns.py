"""Answer tables of whole columns against a naive comparison of one pair at a time."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.columns import Answer, answer_table, column
from portfolio.domain.parameters import PARAMETERS, Parameter
from portfolio.domain.rules import RuleSet
from portfolio.domain.values import (
    NOT_APPLICABLE,
    UNKNOWN,
    Named,
    OneOf,
    Range,
    Value,
    exactly,
    known,
    one_of,
)
from tests.domain.factories import ON, make_rule

CATEGORY = PARAMETERS["insulation.1.material"]
NUMBER = PARAMETERS["cavity.1.depth"]
IDENTITY = PARAMETERS["facing.1.product"]
NO_RULES = RuleSet((), ON)

nothings = st.sampled_from([UNKNOWN, NOT_APPLICABLE])
sets = st.sets(st.sampled_from("abc"), min_size=1).map(one_of) | nothings
tenths = st.integers(min_value=0, max_value=60).map(lambda n: n / 10)
ranges = (
    st.tuples(tenths, tenths).map(lambda ends: Range(min(ends), max(ends)))
    | tenths.map(exactly)
    | nothings
)
names = st.sampled_from(["board A", "BOARD a", "board B"]).map(Named) | nothings
amounts = st.lists(st.sampled_from([0.0, 0.5, 1.0, 2.0]), max_size=3)


def naive(zone: Value, test: Value, rule_amounts: list[float]) -> Answer:
    """One pair, by going through everything that each side could be."""
    if UNKNOWN in (zone, test):
        return Answer.UNKNOWN
    if NOT_APPLICABLE in (zone, test):
        return Answer.SAME if zone is test else Answer.DIFFERS
    if isinstance(zone, Named) and isinstance(test, Named):
        return Answer.SAME if zone.name.lower() == test.name.lower() else Answer.DIFFERS
    if isinstance(zone, OneOf) and isinstance(test, OneOf):
        same = {a == b for a in zone.keys for b in test.keys}
        return {(True,): Answer.SAME, (False,): Answer.DIFFERS}.get(tuple(same), Answer.UNKNOWN)
    if isinstance(zone, Range) and isinstance(test, Range):
        return naive_measures(zone, test, rule_amounts)
    raise TypeError(f"{zone} and {test} are not of one kind")


def naive_measures(zone: Range, test: Range, rule_amounts: list[float]) -> Answer:
    """Two intervals, tenth of a millimetre by tenth of a millimetre."""
    distances = {
        abs(a - b)
        for a in range(round(zone.low * 10), round(zone.high * 10) + 1)
        for b in range(round(test.low * 10), round(test.high * 10) + 1)
    }
    if distances == {0}:
        return Answer.SAME
    if any(max(distances) <= amount * 10 for amount in rule_amounts):
        return Answer.ALLOWED
    widest = max(rule_amounts, default=0)
    return Answer.DIFFERS if min(distances) > widest * 10 else Answer.UNKNOWN


def check_table(parameter: Parameter, zone: list[Value], test: list[Value], by: RuleSet) -> None:
    table = answer_table(parameter, zone, test, by)
    amounts = [rule.amount for rule in by.rules]
    for i, left in enumerate(zone):
        for j, right in enumerate(test):
            assert Answer(int(table.answers[i, j])) is naive(left, right, amounts)


@given(st.lists(sets, max_size=5), st.lists(sets, max_size=5))
def test_tables_of_categories_are_the_naive_answers(zone: list[Value], test: list[Value]) -> None:
    check_table(CATEGORY, zone, test, NO_RULES)


@given(st.lists(names, max_size=4), st.lists(names, max_size=4))
def test_tables_of_identities_are_the_naive_answers(zone: list[Value], test: list[Value]) -> None:
    check_table(IDENTITY, zone, test, NO_RULES)


@given(st.lists(ranges, max_size=5), st.lists(ranges, max_size=5), amounts)
def test_tables_of_measures_are_the_naive_answers(
    zone: list[Value], test: list[Value], rule_amounts: list[float]
) -> None:
    made = [make_rule(NUMBER.key, a, id=f"R{i}") for i, a in enumerate(rule_amounts)]
    check_table(NUMBER, zone, test, RuleSet(tuple(made), ON))


@given(ranges, ranges, amounts)
def test_the_rule_named_is_the_narrowest_that_allows(
    zone: Value, test: Value, rule_amounts: list[float]
) -> None:
    made = [make_rule(NUMBER.key, a, id=f"R{i}") for i, a in enumerate(rule_amounts)]
    table = answer_table(NUMBER, [zone], [test], RuleSet(tuple(made), ON))
    used = int(table.rules[0, 0])
    if table.answers[0, 0] == Answer.ALLOWED:
        allowing = [a for a in rule_amounts if naive(zone, test, [a]) is Answer.ALLOWED]
        assert made[used].amount == min(allowing)
    else:
        assert used == -1


@pytest.mark.parametrize(
    ("zone", "tested", "answer", "why"),
    [
        (exactly(52.1), exactly(50.1), Answer.ALLOWED, "2.0, whatever binary fractions say"),
        (exactly(52.2), exactly(50.1), Answer.DIFFERS, "2.1"),
        (exactly(48), exactly(50), Answer.ALLOWED, "on either side"),
        (Range(49, 51), exactly(50), Answer.ALLOWED, "the whole interval within reach"),
        (Range(49, 53), exactly(50), Answer.UNKNOWN, "part of the interval out of reach"),
        (Range(53, 60), exactly(50), Answer.DIFFERS, "the whole interval out of reach"),
        (Range(50, 50), Range(50, 50), Answer.SAME, "exact and equal"),
        (Range(49, 51), Range(49, 51), Answer.ALLOWED, "two alike intervals are not one measure"),
        (Range(40, 60), Range(40, 60), Answer.UNKNOWN, "two alike intervals are not one measure"),
    ],
)
def test_a_measure_is_compared_as_far_as_a_rule_of_two_millimetres_reaches(
    zone: Value, tested: Value, answer: Answer, why: str
) -> None:
    rules = RuleSet((make_rule(NUMBER.key, 2.0),), ON)
    assert answer_table(NUMBER, [zone], [tested], rules).answers[0, 0] == answer, why


@pytest.mark.parametrize(
    ("zone", "tested", "why"),
    [
        (UNKNOWN, UNKNOWN, "unknown never equals anything, not even another unknown"),
        (UNKNOWN, known("pir-foam"), "unknown on the wall"),
        (known("pir-foam"), UNKNOWN, "unknown in the test"),
        (UNKNOWN, NOT_APPLICABLE, "unknown against nothing"),
        (one_of("ab"), one_of("ab"), "alike, and still one of two each"),
    ],
)
def test_unknown_is_never_the_same_nor_different(zone: Value, tested: Value, why: str) -> None:
    answers = answer_table(CATEGORY, [zone], [tested], NO_RULES).answers
    assert answers[0, 0] == Answer.UNKNOWN, why


def test_a_rule_of_another_parameter_allows_nothing() -> None:
    rules = RuleSet((make_rule("insulation.1.thickness", 20.0),), ON)
    table = answer_table(NUMBER, [exactly(51)], [exactly(50)], rules)
    assert table.answers[0, 0] == Answer.DIFFERS


def test_a_rule_in_another_unit_than_the_parameter_allows_nothing() -> None:
    rules = RuleSet((make_rule(NUMBER.key, 20.0, unit="µm"),), ON)
    table = answer_table(NUMBER, [exactly(51)], [exactly(50)], rules)
    assert table.answers[0, 0] == Answer.DIFFERS


@given(st.lists(sets, max_size=8))
def test_a_column_keeps_each_value_once_and_every_place(values: list[Value]) -> None:
    found = column(values)
    assert [found.uniques[code] for code in found.codes] == values
    assert len(set(found.uniques)) == len(found.uniques)


def test_answers_have_words() -> None:
    assert [answer.word for answer in Answer] == ["same", "allowed", "differs", "unknown"]

"""Values as sets of what could be, and the laws of putting two claims together."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.values import (
    NOT_APPLICABLE,
    UNKNOWN,
    Named,
    OneOf,
    Range,
    Value,
    agree,
    exactly,
    known,
    narrowed,
    one_of,
    union,
)

KEYS = ("a", "b", "c")
sets = st.sets(st.sampled_from(KEYS), min_size=1).map(one_of)
numbers = st.integers(min_value=0, max_value=6).map(float)
ranges = st.tuples(numbers, numbers).map(lambda ends: Range(min(ends), max(ends)))
names = st.sampled_from(["board A", "BOARD  a", "board B"]).map(Named)
nothings = st.sampled_from([UNKNOWN, NOT_APPLICABLE])
pairs = (
    st.tuples(sets | nothings, sets | nothings)
    | st.tuples(ranges | nothings, ranges | nothings)
    | st.tuples(names | nothings, names | nothings)
)
Pair = tuple[Value, Value]


def could_be(value: Value) -> set[object]:
    """Everything a value could be, over the small vocabulary of this file."""
    if isinstance(value, OneOf):
        return set(value.keys)
    if isinstance(value, Range):
        return {n / 2 for n in range(13) if value.low <= n / 2 <= value.high}
    if isinstance(value, Named):
        return {value.folded}
    everything: set[object] = {*KEYS, *(n / 2 for n in range(13)), "board a", "board b"}
    return {NOT_APPLICABLE} if value is NOT_APPLICABLE else everything | {NOT_APPLICABLE}


@given(pairs)
def test_two_claims_agree_exactly_when_both_can_be_true(pair: Pair) -> None:
    assert agree(*pair) == bool(could_be(pair[0]) & could_be(pair[1]))


@given(pairs)
def test_agreeing_does_not_depend_on_who_speaks_first(pair: Pair) -> None:
    first, second = pair
    assert agree(first, second) == agree(second, first)


@given(pairs)
def test_a_union_holds_everything_that_either_claim_holds_possible(pair: Pair) -> None:
    assert could_be(union(*pair)) >= could_be(pair[0]) | could_be(pair[1])


@given(pairs)
def test_a_union_does_not_depend_on_who_speaks_first(pair: Pair) -> None:
    first, second = pair
    assert could_be(union(first, second)) == could_be(union(second, first))


@given(pairs)
def test_two_claims_that_agree_narrow_to_what_both_hold_possible(pair: Pair) -> None:
    first, second = pair
    if agree(first, second):
        assert could_be(narrowed(first, second)) == could_be(first) & could_be(second)


@given(sets | ranges | names)
def test_unknown_narrows_nothing_and_widens_to_unknown(value: Value) -> None:
    assert narrowed(value, UNKNOWN) == value
    assert narrowed(UNKNOWN, value) == value
    assert union(value, UNKNOWN) is UNKNOWN


@pytest.mark.parametrize(
    ("first", "second", "tolerance", "do_agree"),
    [
        (50, 52, 2, True),
        (50, 52.1, 2, False),
        (52, 50, 2, True),
        (50, 50, 0, True),
    ],
)
def test_measures_agree_within_their_tolerance(
    first: float, second: float, tolerance: float, do_agree: bool
) -> None:
    assert agree(exactly(first), exactly(second), tolerance) is do_agree


def test_measures_that_agree_only_by_tolerance_narrow_to_the_first() -> None:
    assert narrowed(exactly(50), exactly(52)) == exactly(50)


def test_a_claim_of_another_kind_never_agrees() -> None:
    assert not agree(known("a"), exactly(1))
    assert union(known("a"), exactly(1)) is UNKNOWN


def test_not_applicable_and_a_measure_disagree() -> None:
    assert not agree(NOT_APPLICABLE, exactly(1))
    assert union(NOT_APPLICABLE, exactly(1)) is UNKNOWN
    assert union(NOT_APPLICABLE, NOT_APPLICABLE) is NOT_APPLICABLE


def test_a_category_that_could_be_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="contradiction"):
        one_of([])


@pytest.mark.parametrize("ends", [(2.0, 1.0), (float("nan"), 1.0), (1.0, float("nan"))])
def test_a_range_that_holds_no_measure_is_refused(ends: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="no measure lies between"):
        Range(*ends)


def test_a_value_is_known_when_it_can_be_only_one_thing() -> None:
    assert known("a").is_known
    assert not one_of("ab").is_known
    assert exactly(1).is_known
    assert not Range(1, 2).is_known

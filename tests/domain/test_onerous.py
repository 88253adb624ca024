"""Milder and more onerous: partial orders from single steps."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.onerous import NumberOrder, class_order, closed_order
from portfolio.domain.reaction import CLASSES
from portfolio.domain.values import UNKNOWN, Range, Value, exactly, known, one_of
from portfolio.reference.loader import load_reference

ORDERS = load_reference().judge.orders
FAMILIES = load_reference().judge.families
LETTERS = "abcde"
steps = st.lists(st.tuples(st.sampled_from(LETTERS), st.sampled_from(LETTERS)), max_size=8)


def order_of(found: list[tuple[str, str]]):  # type: ignore[no-untyped-def]
    return closed_order(["x"], found, source="invented", status="house")


@given(steps)
def test_an_order_follows_its_steps_as_far_as_they_lead(found: list[tuple[str, str]]) -> None:
    order = order_of(found)
    for start in LETTERS:
        reached, before = {start}, set()
        while reached != before:
            before = set(reached)
            reached |= {worse for milder, worse in found if milder in before}
        assert {key for key in LETTERS if order.at_least(key, start)} == reached


def test_steps_both_ways_make_equals_of_which_neither_is_strictly_milder() -> None:
    order = order_of([("a", "b"), ("b", "a")])
    assert order.at_least("a", "b")
    assert order.at_least("b", "a")
    assert not order.strictly_milder(known("a"), known("b"))


@pytest.mark.parametrize(
    ("value", "than", "is_milder", "why"),
    [
        (known("a"), known("c"), True, "two steps apart"),
        (known("c"), known("a"), False, "worse"),
        (known("a"), known("a"), False, "the same"),
        (known("a"), known("e"), False, "not ordered"),
        (one_of("ab"), known("c"), True, "whichever it is"),
        (one_of("bc"), known("c"), False, "it could be the same"),
        (known("a"), one_of("bc"), True, "whichever the test had"),
        (known("b"), one_of("bc"), False, "the test could have had the same"),
        (UNKNOWN, known("c"), False, "unknown is never milder"),
        (known("a"), UNKNOWN, False, "nothing is milder than unknown"),
        (exactly(1), known("c"), False, "a measure is no category"),
    ],
)
def test_strictly_milder_means_milder_in_every_possible_case(
    value: Value, than: Value, is_milder: bool, why: str
) -> None:
    assert order_of([("a", "b"), ("b", "c")]).strictly_milder(value, than) is is_milder, why


letters = st.sets(st.sampled_from(LETTERS), min_size=1)


@given(steps, letters, letters)
def test_a_set_is_strictly_milder_when_every_pair_of_keys_is(
    found: list[tuple[str, str]], value: set[str], than: set[str]
) -> None:
    order = order_of(found)
    every_pair = [order.strictly_milder(known(a), known(b)) for a in value for b in than]
    assert order.strictly_milder(one_of(value), one_of(than)) == all(every_pair)


@pytest.mark.parametrize(
    ("value", "than", "is_milder"),
    [
        (exactly(5), exactly(13.6), True),
        (exactly(13.6), exactly(13.6), False),
        (exactly(20), exactly(13.6), False),
        (Range(5, 13), Range(13.1, 20), True),
        (Range(5, 13.6), exactly(13.6), False),
        (UNKNOWN, exactly(13.6), False),
        (exactly(5), UNKNOWN, False),
    ],
)
def test_a_measure_is_milder_when_it_is_certainly_less(
    value: Value, than: Value, is_milder: bool
) -> None:
    order = NumberOrder(("x",), "invented", "house")
    assert order.strictly_milder(value, than) is is_milder


def test_the_order_of_classes_is_that_of_every_part() -> None:
    order = class_order(["facing.1.class"])
    assert order.at_least("F", "A1")
    assert not order.at_least("B-s1,d0", "A2-s1,d1")
    assert all(order.at_least(name, "A1") for name in CLASSES)


@pytest.mark.parametrize(
    ("worse", "milder"),
    [
        ("pir-foam", "mineral-wool"),
        ("phenolic-foam", "mineral-wool"),
        ("eps", "pir-foam"),
        ("eps", "mineral-wool"),
        ("mineral-wool", "none"),
        ("none", "mineral-wool"),
        ("cellular-glass", "mineral-wool"),
    ],
)
def test_the_shipped_order_of_insulation_says_so(worse: str, milder: str) -> None:
    assert ORDERS.insulation.at_least(worse, milder)


@pytest.mark.parametrize(
    ("one", "other"),
    [("pir-foam", "phenolic-foam"), ("eps", "phenolic-foam"), ("eps", "xps")],
)
def test_the_shipped_order_of_insulation_leaves_these_unordered(one: str, other: str) -> None:
    assert not ORDERS.insulation.at_least(one, other)
    assert not ORDERS.insulation.at_least(other, one)


def test_every_insulation_family_is_at_least_as_onerous_as_mineral_wool() -> None:
    """So that a core that failed with mineral wool speaks against every insulation."""
    families = set(FAMILIES.values())
    assert {f for f in families if not ORDERS.insulation.at_least(f, "mineral-wool")} == set()


def test_nothing_insulation_is_milder_than_no_insulation() -> None:
    families = set(FAMILIES.values())
    milder = [f for f in families if ORDERS.insulation.strictly_milder(known(f), known("none"))]
    assert milder == []


def test_every_barrier_is_milder_than_none_and_no_kind_than_another() -> None:
    [order] = [o for o in ORDERS.others if "barrier-horizontal.1.type" in o.parameters]
    kinds = load_reference().vocabulary["barrier-type"].singles
    for kind in kinds:
        assert order.strictly_milder(known(kind), known("none")) == (kind != "none")
    between = [(a, b) for a in kinds for b in kinds if "none" not in (a, b)]
    assert not any(order.strictly_milder(known(a), known(b)) for a, b in between)


def test_core_categories_rise_with_their_number() -> None:
    assert ORDERS.core.at_least("3", "1")
    assert not ORDERS.core.at_least("1", "2")

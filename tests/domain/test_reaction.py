"""The order of EN 13501-1 classes (secondary sources; the standard itself not seen)."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain import reaction
from portfolio.domain.onerous import class_order
from portfolio.domain.values import known, one_of

classes = st.sampled_from(reaction.CLASSES)
A2_OPEN = frozenset(name for name in reaction.CLASSES if name.startswith("A2-"))


def test_main_classes_get_worse_from_a1_to_f() -> None:
    mildest = ["A1", "A2-s1,d0", "B-s1,d0", "C-s1,d0", "D-s1,d0", "F"]
    for milder, worse in pairwise(mildest):
        assert reaction.at_least_as_onerous(worse, milder)
        assert not reaction.at_least_as_onerous(milder, worse)


@pytest.mark.parametrize(
    ("milder", "worse", "why"),
    [
        ("B-s1,d0", "B-s2,d0", "more smoke"),
        ("B-s1,d0", "B-s1,d1", "more droplets"),
        ("E", "E-d2", "E without a suffix has passed the droplet test"),
        ("D-s3,d0", "E", "the main class is worse and no part is better"),
        ("E-d2", "F", "F has met nothing"),
    ],
)
def test_each_part_of_a_class_orders(milder: str, worse: str, why: str) -> None:
    assert reaction.at_least_as_onerous(worse, milder), why
    assert not reaction.at_least_as_onerous(milder, worse), why


@pytest.mark.parametrize(
    ("one", "other", "why"),
    [
        ("A2-s1,d1", "B-s1,d0", "better main class, worse droplets"),
        ("B-s3,d0", "C-s1,d0", "better main class, worse smoke"),
        ("D-s2,d2", "E", "better main class, worse droplets"),
    ],
)
def test_classes_better_in_one_part_and_worse_in_another_are_not_ordered(
    one: str, other: str, why: str
) -> None:
    assert not reaction.at_least_as_onerous(one, other), why
    assert not reaction.at_least_as_onerous(other, one), why


@given(classes)
def test_a_class_is_at_least_as_onerous_as_itself(name: str) -> None:
    assert reaction.at_least_as_onerous(name, name)


@given(classes, classes, classes)
def test_the_order_of_classes_is_transitive(low: str, middle: str, high: str) -> None:
    if reaction.at_least_as_onerous(high, middle) and reaction.at_least_as_onerous(middle, low):
        assert reaction.at_least_as_onerous(high, low)


@given(classes, classes)
def test_two_different_classes_are_never_each_as_onerous_as_the_other(a: str, b: str) -> None:
    both = reaction.at_least_as_onerous(a, b) and reaction.at_least_as_onerous(b, a)
    assert both == (a == b)


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("A1", {"A1"}),
        ("a2 - S1, D0", {"A2-s1,d0"}),
        ("A2s1d0", {"A2-s1,d0"}),
        ("Class B-s3,d0", {"B-s3,d0"}),
        ("E", {"E"}),
        ("E-d2", {"E-d2"}),
        ("F", {"F"}),
    ],
)
def test_a_whole_class_means_itself(text: str, meant: set[str]) -> None:
    assert reaction.classes_meant(text) == meant


@given(classes)
def test_every_class_reads_as_itself(name: str) -> None:
    assert reaction.classes_meant(name) == {name}


def test_a2_alone_leaves_smoke_and_droplets_open() -> None:
    assert reaction.classes_meant("A2") == A2_OPEN
    assert len(A2_OPEN) == 9


def test_a2_alone_is_not_known_to_be_a_class() -> None:
    assert not one_of(reaction.classes_meant("A2")).is_known


@pytest.mark.parametrize(
    ("text", "count"),
    [("A2-s1", 3), ("B-d0", 3), ("C", 9), ("D, d2", 3)],
)
def test_a_class_without_all_its_parts_leaves_the_others_open(text: str, count: int) -> None:
    assert len(reaction.classes_meant(text)) == count


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("A1-s1,d0", "A1 carries no suffix"),
        ("E-d0", "E carries none or d2"),
        ("E-s1", "E carries no smoke class"),
        ("F-d2", "F carries no suffix"),
        ("B-s4,d0", "no such smoke class"),
        ("A3", "no such class"),
        ("Class 0", "a class of another system"),
        ("B1", "a class of another system"),
        ("", "nothing at all"),
    ],
)
def test_what_is_no_class_is_refused(text: str, why: str) -> None:
    with pytest.raises(ValueError, match="class of EN 13501-1|carries no such suffix"):
        reaction.classes_meant(text)


@pytest.mark.parametrize(
    ("name", "is_limited", "why"),
    [
        ("A1", True, "better than A2"),
        ("A2-s1,d0", True, "better than A2-s3,d2"),
        ("A2-s3,d2", True, "the limit itself"),
        ("B-s1,d0", False, "worse main class, however little smoke"),
        ("E", False, "worse main class"),
        ("F", False, "worse main class"),
    ],
)
def test_limited_combustibility_is_a2_s3_d2_or_better(
    name: str, is_limited: bool, why: str
) -> None:
    assert reaction.is_limited_combustibility(name) is is_limited, why


def test_an_open_a2_is_not_strictly_milder_than_a_class_it_could_equal() -> None:
    order = class_order(("facing.1.class",))
    assert not order.strictly_milder(one_of(A2_OPEN), known("A2-s3,d2"))
    assert order.strictly_milder(known("A1"), known("A2-s1,d0"))

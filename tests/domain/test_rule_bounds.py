"""What no rule may say: a wall that is known to be worse than the test as its equal."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain import reaction
from portfolio.domain.rule_bounds import worse_and_milder
from portfolio.reference.loader import load_reference

JUDGE = load_reference().judge
MINERAL = {"stone-wool", "glass-wool", "slag-wool", "cellular-glass"}
"""Inorganic fibre and glass; EN 13162 and EN 13167 are their product standards (from memory)."""
FOAMS = {"phenolic-foam", "pir-foam", "pur-foam", "eps", "xps"}


def pair(parameter: str, *words: str) -> tuple[str, str] | None:
    return worse_and_milder(parameter, words, JUDGE.orders, JUDGE.families)


@pytest.mark.parametrize("parameter", ["insulation.1.material", "insulation.2.material"])
@given(mineral=st.sampled_from(sorted(MINERAL)), foam=st.sampled_from(sorted(FOAMS)))
def test_no_foam_is_the_equal_of_mineral_insulation(
    parameter: str, mineral: str, foam: str
) -> None:
    assert pair(parameter, mineral, foam) == (foam, mineral)
    assert pair(parameter, mineral, "stone-wool", foam) is not None


@given(st.sets(st.sampled_from(sorted(MINERAL)), min_size=2))
def test_mineral_insulations_may_be_equals(words: set[str]) -> None:
    assert pair("insulation.1.material", *words) is None


@given(
    st.sampled_from(["facing.1.class", "membrane.2.class", "insulation.1.class"]),
    st.sampled_from(reaction.CLASSES),
    st.sampled_from(reaction.CLASSES),
)
def test_of_two_classes_the_worse_is_named_whichever_comes_first(
    parameter: str, one: str, other: str
) -> None:
    """The order of EN 13501-1's classes, as in secondary sources: a worse main class is worse
    whatever its smoke and droplets, which say nothing of spread."""
    mains = [reaction.MAIN.index(name.partition("-")[0]) for name in (one, other)]
    found = pair(parameter, one, other)
    assert found == pair(parameter, other, one)
    if mains[0] != mains[1]:
        assert found == ((one, other) if mains[0] > mains[1] else (other, one))
        return
    worse = reaction.at_least_as_onerous(one, other)
    if worse is reaction.at_least_as_onerous(other, one):
        assert found is None
    else:
        assert found == ((one, other) if worse else (other, one))


def test_core_categories_are_no_equals() -> None:
    assert pair("facing.1.core_category", "1", "3") == ("3", "1")


def test_where_nobody_can_say_which_is_worse_an_engineer_may_rule() -> None:
    assert pair("wall.substrate", "masonry", "concrete") is None

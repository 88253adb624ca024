"""Which facts to find out first, over many zones."""

from random import Random

from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.finding_order import AlikeZones, Chosen, in_greedy_order
from portfolio.domain.findings import Way, usual_way
from portfolio.domain.parameters import PLACE_OF
from portfolio.domain.settling import ToFind

DEPTH, CORE = "cavity.1.depth", "facing.1.core_category"
WOOL, PANEL = "insulation.1.material", "facing.1.product"


def _fact(key: str) -> ToFind:
    return ToFind(key, usual_way(key))


def _alike(zones: int, *sets: str) -> AlikeZones[ToFind]:
    """Zones and their sets, each as its parameters with a space between."""
    return AlikeZones(zones, tuple(frozenset(map(_fact, told.split())) for told in sets))


def _order(found: list[AlikeZones[ToFind]]) -> list[Chosen[ToFind]]:
    """Level facts cheapest way first, then from the inside out."""
    return in_greedy_order(found, lambda fact: (fact.way, PLACE_OF[fact.parameter]))


def _told(*found: AlikeZones[ToFind]) -> list[tuple[str, int]]:
    return [(one.fact.parameter, one.completed) for one in _order(list(found))]


def test_the_only_thing_missing_at_many_zones_comes_before_what_more_zones_merely_ask_for() -> None:
    asked = _alike(9, f"{WOOL} {PANEL}")
    assert _told(asked, _alike(3, DEPTH)) == [(DEPTH, 3), (PANEL, 3), (WOOL, 12)]


def test_where_nothing_completes_a_set_what_most_zones_ask_for_comes_first() -> None:
    assert _told(_alike(5, f"{WOOL} {CORE}"), _alike(4, f"{WOOL} {DEPTH}")) == [
        (WOOL, 0),
        (CORE, 5),
        (DEPTH, 9),
    ]


def test_one_of_several_sets_is_enough_for_a_zone() -> None:
    found = _told(_alike(2, f"{WOOL} {CORE}", DEPTH))
    assert found == [(DEPTH, 2), (WOOL, 2), (CORE, 2)]


def test_a_fact_that_a_person_settles_is_another_than_one_that_is_opened_up_for() -> None:
    settled = AlikeZones(1, (frozenset({ToFind(WOOL, Way.SETTLING)}),))
    found = _order([settled, _alike(1, WOOL)])
    assert [one.fact.way for one in found] == [Way.SETTLING, Way.OPENING_UP]
    assert [one.completed for one in found] == [1, 2]


def test_zones_that_no_fact_would_settle_change_nothing() -> None:
    assert _order([]) == []
    assert _told(AlikeZones(7, ()), _alike(1, DEPTH)) == [(DEPTH, 1)]


SETS = st.sets(
    st.sampled_from([DEPTH, CORE, WOOL, PANEL, "lining.1.class"]).map(_fact), min_size=1
).map(frozenset)
ALIKE = st.lists(
    st.builds(
        AlikeZones,
        st.integers(min_value=1, max_value=9),
        st.lists(SETS, min_size=1, max_size=3).map(tuple),
    ),
    max_size=6,
)


@given(ALIKE)
def test_each_count_is_of_the_zones_with_a_set_among_what_was_chosen(
    alike: list[AlikeZones[ToFind]],
) -> None:
    chosen: set[ToFind] = set()
    order = _order(alike)
    for one in order:
        chosen.add(one.fact)
        complete = [kind for kind in alike if any(told <= chosen for told in kind.sets)]
        assert one.completed == sum(kind.zones for kind in complete)
    assert chosen == {fact for kind in alike for told in kind.sets for fact in told}
    assert len(order) == len(chosen)


@given(ALIKE)
def test_no_other_first_fact_completes_more(alike: list[AlikeZones[ToFind]]) -> None:
    order = _order(alike)
    for fact in {one.fact for one in order}:
        alone = sum(kind.zones for kind in alike if frozenset({fact}) in kind.sets)
        assert alone <= order[0].completed


@given(ALIKE, st.randoms(use_true_random=False))
def test_the_order_of_zones_does_not_matter(
    alike: list[AlikeZones[ToFind]], chance: Random
) -> None:
    before = _order(alike)
    chance.shuffle(alike)
    assert _order(alike) == before

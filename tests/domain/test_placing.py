"""The places that gaps could take: checked against trying every completion of what is unknown."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from portfolio.domain.buildings import Building
from portfolio.domain.heights import HeightClaim, exact, span_of
from portfolio.domain.order_facts import Fact
from portfolio.domain.placing import Columns, PlacedZone, columns_of, tellings
from portfolio.domain.priorities import GapOrder, Step, codes_of, unknown_facts
from portfolio.reference.loader import COVERAGES, load_reference

ORDERS = load_reference().orders
HOUSE = ORDERS["house"]
SLEEPING_LAST = replace(HOUSE, key="own", steps=(*HOUSE.steps[2:], *HOUSE.steps[:2]))
WITHOUT_COVERAGE = replace(HOUSE, key="own", steps=HOUSE.steps[1:3])
IN_BANDS = replace(
    HOUSE,
    key="own",
    steps=(
        Step("homes", "Homes", (), {}, "ours", "house", limits=(100, 11)),
        replace(HOUSE.steps[0], groups=(0, 0, 1, 1, 2)),
        HOUSE.steps[4],
    ),
)
ALL = {**ORDERS, "sleeping last": SLEEPING_LAST, "no coverage": WITHOUT_COVERAGE, "bands": IN_BANDS}

# Enough of each fact to reach both ends of every band.
COMPLETIONS: dict[str, tuple[object, ...]] = {
    "use": ("care-home", "flats", "office"),
    "evacuation": ("stay-put", "simultaneous"),
    "sprinklers": ("none", "parts", "throughout"),
    "metal_composite": ("yes", "no"),
    "homes": (0, 1, 5, 220, 10**6),
    "homes_in_reach": (0, 2, 3, 10**6),
    "people": (0, 12, 10**6),
}


def completions(building: Building, order: GapOrder) -> Iterator[Building]:
    """Every completion of what the order asks of the building and nobody knows, by the fact.

    People are left to be estimated from homes where these are recorded.
    """
    asked = [str(fact).replace("-", "_") for fact in order.facts]
    open_facts: dict[str, Sequence[object]] = {}
    for name in asked:
        if name == "height":
            span = span_of(building.height_claims)
            ends = (0.0, 11.0, 30.0, 60.0) if span is None else (span[0], sum(span) / 2, span[1])
            open_facts["heights"] = [(exact(metres),) for metres in ends]
        elif name == "people" and building.homes is not None:
            continue
        elif getattr(building, name) in (None, ""):
            open_facts[name] = COMPLETIONS[name]
    for chosen in product(*open_facts.values()):
        yield replace(building, **dict(zip(open_facts, chosen, strict=True)))


def columns_for(
    buildings: Sequence[Building], zones: Sequence[tuple[int, str]], order: GapOrder
) -> Columns:
    placed = [
        PlacedZone(number, coverage, f"{buildings[number].ref}\x1f\x1fZ{place}")
        for place, (number, coverage) in enumerate(zones)
    ]
    return columns_of(buildings, placed, order)


def every_place(
    buildings: Sequence[Building], zones: Sequence[tuple[int, str]], order: GapOrder
) -> list[set[int]]:
    """By gap all the places that it takes in some completion."""
    found: list[set[int]] = [set() for _ in zones]
    distinct = [
        {codes_of(done, "", order): done for done in completions(b, order)}.values()
        for b in buildings
    ]
    for done in product(*distinct):
        keys = [
            (codes_of(done[number], coverage, order), done[number].ref, place)
            for place, (number, coverage) in enumerate(zones)
        ]
        for rank, place in enumerate(sorted(range(len(zones)), key=lambda i: keys[i]), start=1):
            found[place].add(rank)
    return found


@st.composite
def some_building(draw: st.DrawFn, ref: str) -> Building:
    unknown = draw(st.sets(st.sampled_from([*COMPLETIONS, "heights"]), max_size=2))
    metres = draw(st.sampled_from([3.0, 10.8, 29.9, 49.9, 60.0]))
    known: dict[str, object] = {
        "use": draw(st.sampled_from(["care-home", "flats", "office"])),
        "evacuation": draw(st.sampled_from(["stay-put", "phased", "simultaneous"])),
        "sprinklers": draw(st.sampled_from(["none", "parts", "throughout"])),
        "metal_composite": draw(st.sampled_from(["yes", "no"])),
        "homes": draw(st.sampled_from([0, 1, 2, 12, 220, 300])),
        "homes_in_reach": draw(st.sampled_from([0, 2, 3, 4])),
        "people": draw(st.sampled_from([0, 5, 500])),
        "heights": (HeightClaim(metres, "measured", draw(st.sampled_from([0.0, 0.5]))),),
    }
    nothing = dict.fromkeys(("homes", "homes_in_reach", "people"), None) | {"heights": ()}
    told = {name: nothing.get(name, "") if name in unknown else v for name, v in known.items()}
    return Building(ref=ref, name="", **told)  # type: ignore[arg-type]


@st.composite
def portfolios(draw: st.DrawFn) -> tuple[list[Building], list[tuple[int, str]]]:
    buildings = [draw(some_building(f"B{n}")) for n in range(draw(st.integers(1, 3)))]
    zones = st.tuples(st.integers(0, len(buildings) - 1), st.sampled_from(COVERAGES[1:4]))
    return buildings, draw(st.lists(zones, min_size=1, max_size=6))


@pytest.mark.parametrize("key", sorted(ALL))
@settings(max_examples=60, deadline=None)
@given(portfolio=portfolios())
def test_first_and_last_place_are_those_over_every_completion(
    key: str, portfolio: tuple[list[Building], list[tuple[int, str]]]
) -> None:
    """Exhaustive on small portfolios: zones of one building are completed together."""
    buildings, zones = portfolio
    places = columns_for(buildings, zones, ALL[key]).places
    tried = every_place(buildings, zones, ALL[key])
    assert places.first.tolist() == [min(found) for found in tried]
    assert places.last.tolist() == [max(found) for found in tried]
    assert all(place in found for place, found in zip(places.place.tolist(), tried, strict=True))


def known(ref: str, **facts: object) -> Building:
    told: dict[str, object] = {
        "use": "flats",
        "heights": (HeightClaim(20.0, "measured", 0.0),),
        "homes": 20,
        "evacuation": "stay-put",
        "sprinklers": "none",
    }
    return Building(ref=ref, name="", **(told | facts))  # type: ignore[arg-type]


def test_where_everything_is_known_a_gap_can_only_stand_where_it_stands() -> None:
    buildings = [known("B1", heights=(HeightClaim(h, "measured", 0.0),)) for h in (8.0, 35.0)]
    places = columns_for(buildings, [(0, "to-assess"), (1, "to-assess")], HOUSE).places
    assert places.place.tolist() == places.first.tolist() == places.last.tolist() == [2, 1]


def test_zones_of_one_building_are_not_taken_for_independent() -> None:
    """Both hang on the same unknown height: whichever it is, one stays before the other."""
    buildings = [known("B1", heights=())]
    places = columns_for(buildings, [(0, "to-assess"), (0, "contradicted")], HOUSE).places
    assert places.first.tolist() == places.last.tolist() == [2, 1]


def test_an_unknown_height_could_bring_a_gap_down_to_where_the_lowest_stand() -> None:
    buildings = [
        known("B1", heights=()),
        *(known(f"B{n}", heights=(HeightClaim(h, "m", 0.0),)) for n, h in ((2, 35.0), (3, 5.0))),
    ]
    places = columns_for(buildings, [(n, "to-assess") for n in range(3)], HOUSE).places
    # 5 m and 0 m are in one band, and references decide: B1 before B3
    assert (places.place[0], places.first[0], places.last[0]) == (1, 1, 2)
    assert (places.first[1], places.last[1]) == (1, 2)


def test_the_fact_that_would_tell_most_is_named_first() -> None:
    """The height is looked at before evacuation, and passes more buildings."""
    unknown = known("B0", heights=(), evacuation="")
    others = [
        known(f"B{n}", heights=(HeightClaim(h, "m", 0.0),)) for n, h in enumerate((40, 25, 12), 1)
    ]
    zones = [(n, "to-assess") for n in range(4)]
    columns = columns_for([unknown, *others], zones, HOUSE)
    told = tellings(columns, 0, unknown, HOUSE)
    assert [one.fact for one in told] == [Fact.HEIGHT, Fact.EVACUATION]
    assert (told[0].first_if_mildest, told[0].last_if_worst) == (4, 1)
    assert told[0].moved == 3
    assert told[1].moved == 0


@settings(max_examples=40, deadline=None)
@given(portfolio=portfolios(), key=st.sampled_from(sorted(ALL)))
def test_finding_a_fact_never_widens_a_range(
    key: str, portfolio: tuple[list[Building], list[tuple[int, str]]]
) -> None:
    buildings, zones = portfolio
    columns = columns_for(buildings, zones, ALL[key])
    for gap, (number, _) in enumerate(zones):
        for told in tellings(columns, gap, buildings[number], ALL[key]):
            assert columns.places.first[gap] <= told.first_if_mildest
            assert told.last_if_worst <= columns.places.last[gap]


def test_a_tolerance_that_reaches_no_limit_is_no_unknown_fact() -> None:
    inside = known("B1", heights=(HeightClaim(14.0, "measured", 0.5),))
    either = known("B1", heights=(HeightClaim(17.77, "measured", 0.5),))
    assert unknown_facts(inside, HOUSE) == ()
    assert unknown_facts(either, HOUSE) == (Fact.HEIGHT,)


def test_no_gaps_have_no_places() -> None:
    places = columns_for([], [], HOUSE).places
    assert places.place.size == places.first.size == places.last.size == 0


def test_25_000_gaps_are_placed_each_once() -> None:
    rng = np.random.default_rng(1)
    count = 25_000
    worst = rng.integers(0, 5, (count, 6))
    of_zone = np.array([True, False, False, False, False, False])
    mildest = worst + np.where(of_zone, 0, rng.integers(0, 2, (count, 6)))
    building = rng.integers(0, 3_000, count)
    first_of = np.unique(building, return_index=True)[1]
    alike = first_of[np.searchsorted(np.unique(building), building)]
    worst, mildest = (np.where(of_zone, c, c[alike]) for c in (worst, mildest))
    places = Columns(worst, mildest, of_zone, building, rng.permutation(count)).places
    assert np.all((places.first <= places.place) & (places.place <= places.last))
    assert sorted(places.place.tolist()) == list(range(1, count + 1))

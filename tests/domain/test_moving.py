"""Counts from day to day: changes add up to what was counted, and breaks say so."""

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.moving import (
    BUILDINGS,
    FACTS,
    ZONES,
    Amount,
    Change,
    DayCount,
    Days,
    Facet,
    changes,
    day_counts,
    thinned,
)

FIRST = date(2026, 3, 2)
FACETS = st.builds(
    Facet,
    st.sampled_from([1, 2]),
    st.sampled_from([1, 2, 3]),
    st.sampled_from(["England", "Scotland"]),
    st.just("flats"),
    st.sampled_from(["", "18"]),
    st.sampled_from([ZONES, FACTS]),
    st.sampled_from(["covered", "to-assess", "unknown"]),
)
AMOUNTS = st.builds(Amount, st.integers(1, 9), st.decimals(0, 99, places=2).map(float))
STATES = st.lists(st.dictionaries(FACETS, AMOUNTS, max_size=6), min_size=1, max_size=5)


def over_days(states: list[dict[Facet, Amount]]) -> list[tuple[date, Facet, Amount]]:
    """What would be kept if the portfolio went through these states, one a day."""
    kept, before = [], dict[Facet, Amount]()
    for place, state in enumerate(states):
        day = FIRST + timedelta(days=place)
        kept += [(day, *change) for change in changes(before, state)]
        before = state
    return kept


def told(kept: list[tuple[date, Facet, Amount]], days: int) -> list[DayCount]:
    methods = {FIRST + timedelta(days=place): frozenset({"one"}) for place in range(days)}
    found = (Change(day, facet.measure, facet.series, amount) for day, facet, amount in kept)
    return day_counts(found, Days(methods))


@given(STATES)
def test_changes_added_up_are_the_counts_of_every_day(states: list[dict[Facet, Amount]]) -> None:
    for day, state in zip(told(over_days(states), len(states)), states, strict=True):
        for measure in (ZONES, FACTS):
            for series in ("covered", "to-assess", "unknown"):
                mine = [a for f, a in state.items() if (f.measure, f.series) == (measure, series)]
                assert day.count(measure, series) == sum(a.number for a in mine)
                area = day.counts[measure].get(series, Amount()).area_m2
                assert abs(area - sum(a.area_m2 for a in mine)) < 0.01


@given(STATES)
def test_a_part_of_the_buildings_adds_up_by_itself(states: list[dict[Facet, Amount]]) -> None:
    kept = [row for row in over_days(states) if row[1].jurisdiction == "Scotland"]
    last = told(kept, len(states))[-1]
    here = [a for f, a in states[-1].items() if f.jurisdiction == "Scotland" and f.measure == ZONES]
    assert last.total(ZONES) == sum(a.number for a in here)


@given(STATES)
def test_a_day_breaks_the_line_just_where_the_number_of_zones_is_another(
    states: list[dict[Facet, Amount]],
) -> None:
    found = told(over_days(states), len(states))
    assert found[0].breaks == ()
    for before, day in zip(found, found[1:], strict=False):
        assert bool(day.breaks) == (before.total(ZONES) != day.total(ZONES))


def test_nothing_that_stays_is_kept() -> None:
    facet = Facet(1, 1, "England", "flats", "18", ZONES, "covered")
    state = {facet: Amount(2, 12.345)}
    assert changes(state, state) == []
    assert changes({facet: Amount(2, 12.35)}, {facet: Amount(2, 12.3456)}) == []


def test_zones_that_come_in_and_other_rules_are_told_apart_from_progress() -> None:
    second, third = FIRST + timedelta(days=1), FIRST + timedelta(days=2)
    found = [
        Change(FIRST, ZONES, "to-assess", Amount(3)),
        Change(second, ZONES, "to-assess", Amount(-1)),
        Change(second, ZONES, "covered", Amount(1)),
        Change(third, ZONES, "too-little-known", Amount(2)),
    ]
    old, new = frozenset({"1: rules a"}), frozenset({"1: rules b"})
    days = day_counts(found, Days({FIRST: old, second: old, third: new}))
    assert [day.breaks for day in days] == [
        (),
        (),
        ("2 zones came in", "walls are judged by other rules than before"),
    ]
    assert [day.count(ZONES, "covered") for day in days] == [0, 1, 1]


def test_one_zone_that_goes_out_is_one() -> None:
    second = FIRST + timedelta(days=1)
    found = [
        Change(FIRST, ZONES, "covered", Amount(3)),
        Change(second, ZONES, "covered", Amount(-1)),
    ]
    assert day_counts(found, Days({}))[1].breaks == ("1 zone went out",)


@given(st.integers(1, 60), st.integers(2, 14), st.sets(st.integers(0, 59)))
def test_a_drawing_keeps_the_ends_and_shows_breaks_first(
    count: int, most: int, broken: set[int]
) -> None:
    days = [
        DayCount(FIRST + timedelta(days=place), {}, ("x",) if place in broken else ())
        for place in range(count)
    ]
    found = thinned(days, most)
    assert len(found) == min(count, most) or count > most >= len(found)
    assert [found[0], found[-1]] == [days[0], days[-1]]
    assert found == sorted(found, key=lambda day: day.day)
    shown = sum(bool(day.breaks) for day in found[1:-1])
    assert shown == min(sum(bool(day.breaks) for day in days[1:-1]), max(0, len(found) - 2))


def test_buildings_are_a_measure_of_their_own() -> None:
    [day] = day_counts([Change(FIRST, BUILDINGS, "covered", Amount(1))], Days({}))
    assert (day.total(BUILDINGS), day.total(ZONES), day.breaks) == (1, 0, ())

"""Thresholds of a jurisdiction: conditions combined, what sources leave open, what would settle."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.buildings import Building
from portfolio.domain.heights import HeightClaim, Operator, Side
from portfolio.domain.thresholds import (
    Claim,
    Claims,
    Condition,
    ConditionGroup,
    Joined,
    JurisdictionThreshold,
    Measure,
    ask,
    ask_all,
    claims_of,
)

ON = date(2026, 12, 1)
AT_LEAST, MORE_THAN = Operator.AT_LEAST, Operator.MORE_THAN
FLOOR_18 = Condition(Measure.FLOOR, 18.0, AT_LEAST)
SEVEN_STOREYS = Condition(Measure.STOREYS, 7.0, AT_LEAST)
TWO_HOMES = Condition(Measure.HOMES, 2.0, AT_LEAST)


def threshold(*groups: ConditionGroup, known: bool = True) -> JurisdictionThreshold:
    return JurisdictionThreshold(
        "t", "Here", groups, "invented", "invented for a test", "house", ON, known
    )


def one(condition: Condition) -> JurisdictionThreshold:
    return threshold(ConditionGroup((condition,)))


HIGHER_RISK = threshold(ConditionGroup((FLOOR_18, SEVEN_STOREYS)), ConditionGroup((TWO_HOMES,)))


def building(
    *metres: float, tolerance: float | None = 0.0, storeys: int | None = None, homes: int | None = 9
) -> Building:
    claims = tuple(HeightClaim(height, "measured", tolerance) for height in metres)
    return Building("B", "B", jurisdiction="Here", heights=claims, storeys=storeys, homes=homes)


def side(asked: JurisdictionThreshold, of: Building) -> Side:
    return ask(asked, claims_of(of)).side


# England's higher-risk building, as secondary sources restate SI 2023/275: at least 18 m or at
# least 7 storeys, and at least 2 residential units.


@pytest.mark.parametrize(
    ("of", "expected"),
    [
        (building(18.0, storeys=6, homes=2), Side.ABOVE),
        (building(17.0, storeys=7, homes=2), Side.ABOVE),
        (building(17.0, storeys=6, homes=2), Side.BELOW),
        (building(40.0, storeys=13, homes=1), Side.BELOW),
        (building(40.0, storeys=13, homes=None), Side.UNKNOWN),
        (building(17.0, storeys=None), Side.UNKNOWN),
        (building(17.7, tolerance=None, storeys=6), Side.EITHER_SIDE),
        (building(17.7, tolerance=None, storeys=7), Side.ABOVE),
        (building(storeys=6), Side.EITHER_SIDE),
        (building(storeys=4), Side.BELOW),
        (building(storeys=None), Side.UNKNOWN),
    ],
)
def test_height_or_storeys_and_homes_together_give_the_side(of: Building, expected: Side) -> None:
    assert side(HIGHER_RISK, of) is expected


@pytest.mark.parametrize(
    ("operator", "value", "expected"),
    [
        (AT_LEAST, 11.0, Side.ABOVE),
        (MORE_THAN, 11.0, Side.BELOW),
        (None, 11.0, Side.EITHER_SIDE),
        (AT_LEAST, 18.0, Side.ABOVE),
        (MORE_THAN, 18.0, Side.BELOW),
        (None, 18.0, Side.EITHER_SIDE),
    ],
)
def test_exactly_at_the_value_the_operator_decides_and_one_not_stated_does_not(
    operator: Operator | None, value: float, expected: Side
) -> None:
    assert side(one(Condition(Measure.FLOOR, value, operator)), building(value)) is expected


@pytest.mark.parametrize(
    ("metres", "storeys", "expected"),
    [
        (20.0, 8, Side.ABOVE),
        (20.0, 5, Side.EITHER_SIDE),
        (10.0, 5, Side.BELOW),
        (10.0, None, Side.EITHER_SIDE),
    ],
)
def test_whether_both_are_asked_is_not_guessed(
    metres: float, storeys: int | None, expected: Side
) -> None:
    asked = threshold(ConditionGroup((FLOOR_18, SEVEN_STOREYS), Joined.UNSTATED))
    assert side(asked, building(metres, storeys=storeys)) is expected


def test_a_measure_that_is_not_stated_is_reached_by_the_floor_and_missed_only_by_the_roof() -> None:
    asked = one(Condition(Measure.UNSTATED, 15.0, AT_LEAST))
    low = claims_of(building(10.0))
    assert side(asked, building(15.0)) is Side.ABOVE
    assert ask(asked, low).side is Side.EITHER_SIDE
    assert ask(asked, low | {Measure.ROOF: (Claim(13.0, 13.5, "roof"),)}).side is Side.BELOW


def test_a_height_to_the_roof_is_not_told_by_the_floor() -> None:
    assert side(one(Condition(Measure.ROOF, 10.0, AT_LEAST)), building(40.0)) is Side.UNKNOWN


# --- What would settle it ------------------------------------------------------------------------


def settles(of: Building) -> tuple[str, ...]:
    return ask(one(FLOOR_18), claims_of(of)).settles


def test_claims_that_contradict_each_other_are_both_named() -> None:
    (told,) = settles(building(17.0, 18.5))
    assert "18.5 m" in told
    assert "17 m" in told


def test_a_wide_tolerance_asks_for_a_closer_measurement() -> None:
    assert settles(building(17.77, tolerance=None)) == (
        "a measurement from the lowest ground to the floor of the top storey"
        " to within less than 0.23 m",
    )


def test_an_estimate_asks_for_a_measurement_and_says_that_its_tolerance_is_ours() -> None:
    of = building(storeys=6)
    assert settles(of) == ("a measurement from the lowest ground to the floor of the top storey",)
    (claim,) = claims_of(of)[Measure.FLOOR]
    assert claim.is_estimate
    assert "17.05 m" in claim.words
    assert "tolerance ours" in claim.words


def test_an_estimate_is_never_used_where_a_measurement_is_there() -> None:
    (claim,) = claims_of(building(12.2, storeys=4))[Measure.FLOOR]
    assert not claim.is_estimate


def test_a_definite_answer_asks_for_nothing() -> None:
    assert settles(building(20.0)) == ()


def test_a_value_that_only_the_operator_could_place_sends_to_the_rule_of_the_place() -> None:
    found = ask(one(Condition(Measure.FLOOR, 18.0, None)), claims_of(building(18.0)))
    assert found.settles == ("the rule of the place, for whether the value itself is in or out",)


# --- Days and places -----------------------------------------------------------------------------


def test_a_threshold_counts_from_its_first_day_where_that_is_known() -> None:
    assert not threshold(known=True).is_in_force(date(2026, 11, 30))
    assert threshold(known=True).is_in_force(ON)
    assert threshold(known=False).is_in_force(date(2026, 11, 30))


@pytest.mark.parametrize(("place", "count"), [("Here", 1), ("There", 0), ("", 0)])
def test_only_the_thresholds_of_the_place_are_asked(place: str, count: int) -> None:
    of = Building("B", "B", jurisdiction=place)
    assert len(ask_all([HIGHER_RISK], of, ON)) == count


# --- Properties ----------------------------------------------------------------------------------

MEASURES = st.sampled_from([Measure.FLOOR, Measure.ROOF, Measure.STOREYS, Measure.HOMES])
conditions_asked = st.builds(
    Condition,
    st.sampled_from(Measure),
    st.integers(1, 30).map(float),
    st.sampled_from([None, *Operator]),
)
groups = st.builds(
    ConditionGroup,
    st.lists(conditions_asked, min_size=1, max_size=3).map(tuple),
    st.sampled_from(Joined),
)
asked_of = st.lists(groups, min_size=1, max_size=3).map(lambda found: threshold(*found))
claims_made = st.builds(
    lambda low, wide: Claim(low / 2, (low + wide) / 2, "invented"),
    st.integers(0, 60),
    st.integers(0, 6),
)
all_claims = st.dictionaries(MEASURES, st.lists(claims_made, min_size=1, max_size=3).map(tuple))
ORDER = [Side.BELOW, Side.EITHER_SIDE, Side.ABOVE]


def moved(claims: Claims, *, down: float, up: float) -> Claims:
    return {
        measure: tuple(Claim(c.low - down, c.high + up, c.words) for c in found)
        for measure, found in claims.items()
    }


@given(asked_of, all_claims, st.integers(0, 40))
def test_adding_height_never_moves_a_result_from_above_to_below(
    asked: JurisdictionThreshold, claims: Claims, more: int
) -> None:
    before, after = ask(asked, claims).side, ask(asked, moved(claims, down=-more, up=more)).side
    if before is Side.ABOVE:
        assert after is Side.ABOVE
    if after is Side.BELOW:
        assert before is Side.BELOW


@given(asked_of, all_claims, st.integers(0, 10), st.integers(0, 10))
def test_a_wider_tolerance_never_makes_an_open_answer_definite(
    asked: JurisdictionThreshold, claims: Claims, down: int, up: int
) -> None:
    before, after = ask(asked, claims).side, ask(asked, moved(claims, down=down, up=up)).side
    if after in (Side.ABOVE, Side.BELOW):
        assert after is before


@given(asked_of, all_claims, MEASURES)
def test_what_is_not_known_never_gives_another_definite_answer(
    asked: JurisdictionThreshold, claims: Claims, forgotten: Measure
) -> None:
    fewer = {measure: found for measure, found in claims.items() if measure is not forgotten}
    before, after = ask(asked, claims).side, ask(asked, fewer).side
    if after in (Side.ABOVE, Side.BELOW):
        assert after is before


@given(asked_of)
def test_of_a_building_of_which_nothing_is_known_nothing_is_definite(
    asked: JurisdictionThreshold,
) -> None:
    assert ask(asked, {}).side not in (Side.ABOVE, Side.BELOW)

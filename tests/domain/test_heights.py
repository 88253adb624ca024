"""Heights: claims with tolerances, thresholds with operators, and either side of them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.heights import (
    HeightBand,
    HeightClaim,
    Operator,
    Side,
    Threshold,
    band_of,
    claims_or_estimate,
    estimate_from_storeys,
    shown_height_m,
    side_of,
)

AT_LEAST, MORE_THAN = Operator.AT_LEAST, Operator.MORE_THAN
BANDS = (
    HeightBand("0", "below 11 m", 0.0),
    HeightBand("11", "11 m to below 18 m", 11.0),
    HeightBand("18", "18 m and over", 18.0),
)


def measured(metres: float, tolerance_m: float | None = 0.0) -> HeightClaim:
    return HeightClaim(metres, "measured", tolerance_m)


@pytest.mark.parametrize(
    ("storeys", "metres"),
    [(1, 0.0), (2, 4.65), (4, 10.85), (5, 13.95), (6, 17.05), (7, 20.15)],
)
def test_an_estimate_adds_a_ground_storey_and_typical_ones(storeys: int, metres: float) -> None:
    assert estimate_from_storeys(storeys).metres == metres


def test_an_estimate_says_that_it_is_one() -> None:
    assert "estimated from 6 storeys" in estimate_from_storeys(6).method


def test_an_estimate_is_never_surer_than_a_height_without_tolerance() -> None:
    assert estimate_from_storeys(1).effective_tolerance_m == 0.5
    assert estimate_from_storeys(7).effective_tolerance_m == pytest.approx(2.015)


@pytest.mark.parametrize("storeys", [0, -1])
def test_a_building_without_storeys_has_no_estimate(storeys: int) -> None:
    with pytest.raises(ValueError, match="at least one storey"):
        estimate_from_storeys(storeys)


@pytest.mark.parametrize(
    ("metres", "threshold", "operator", "side"),
    [
        (11.0, 11.0, AT_LEAST, Side.ABOVE),
        (11.0, 11.0, MORE_THAN, Side.BELOW),
        (18.0, 18.0, AT_LEAST, Side.ABOVE),
        (18.0, 18.0, MORE_THAN, Side.BELOW),
        (17.99, 18.0, AT_LEAST, Side.BELOW),
        (18.01, 18.0, MORE_THAN, Side.ABOVE),
    ],
)
def test_the_operator_decides_exactly_at_the_threshold(
    metres: float, threshold: float, operator: Operator, side: Side
) -> None:
    assert side_of([measured(metres)], Threshold(threshold, operator)) is side


@pytest.mark.parametrize(
    ("claims", "side", "why"),
    [
        ([], Side.UNKNOWN, "nobody has said anything"),
        ([measured(17.7, None)], Side.EITHER_SIDE, "no tolerance stated near the threshold"),
        ([measured(17.7, None), measured(17.77, None)], Side.EITHER_SIDE, "two of them"),
        ([measured(17.7, 0.1), measured(17.77, 0.1)], Side.BELOW, "17.87 at the most"),
        ([measured(17.7, 0.1), measured(17.77, 0.23)], Side.EITHER_SIDE, "18.00 is reached"),
        ([measured(17.7, 0.1), measured(18.2, 0.1)], Side.EITHER_SIDE, "one below, one above"),
        ([measured(18.2, 0.1)], Side.ABOVE, "18.10 at the least"),
        ([measured(12.0, None)], Side.BELOW, "far below"),
    ],
)
def test_claims_and_tolerances_together_give_the_side_of_18_metres(
    claims: list[HeightClaim], side: Side, why: str
) -> None:
    assert side_of(claims, Threshold(18.0, AT_LEAST)) is side, why


@pytest.mark.parametrize(
    ("claim", "operator", "side"),
    [
        (measured(32.05, 2.05), AT_LEAST, Side.ABOVE),
        (measured(32.02, 2.02), MORE_THAN, Side.EITHER_SIDE),
    ],
)
def test_a_tolerance_that_ends_on_a_threshold_ends_there_whatever_binary_fractions_say(
    claim: HeightClaim, operator: Operator, side: Side
) -> None:
    assert side_of([claim], Threshold(30.0, operator)) is side


def test_four_storeys_with_the_top_floor_at_12_2_metres_are_above_11() -> None:
    claims = claims_or_estimate([measured(12.2, 0.1)], 4)
    assert side_of(claims, Threshold(11.0, AT_LEAST)) is Side.ABOVE


def test_four_storeys_of_which_nobody_measured_the_height_are_either_side_of_11() -> None:
    assert side_of(claims_or_estimate([], 4), Threshold(11.0, AT_LEAST)) is Side.EITHER_SIDE


@pytest.mark.parametrize("storeys", [None, 0])
def test_without_claims_and_storeys_the_height_is_unknown(storeys: int | None) -> None:
    assert claims_or_estimate([], storeys) == ()
    assert shown_height_m(()) is None
    assert band_of((), BANDS) is None


def test_the_height_shown_is_the_greatest_claimed() -> None:
    assert shown_height_m([measured(17.7), measured(17.77), measured(16.0)]) == 17.77


@pytest.mark.parametrize(
    ("claims", "band"),
    [
        ([measured(10.99)], "0"),
        ([measured(11.0)], "11"),
        ([measured(17.99)], "11"),
        ([measured(18.0)], "18"),
        ([measured(17.7, None)], "18"),
        ([measured(9.0), measured(18.5)], "18"),
        ([measured(-2.0, 0.0)], "0"),
    ],
)
def test_a_height_counts_in_the_highest_band_it_could_lie_in(
    claims: list[HeightClaim], band: str
) -> None:
    found = band_of(claims, BANDS)
    assert found is not None
    assert found.key == band


heights = st.lists(
    st.builds(
        measured,
        st.integers(min_value=0, max_value=600).map(lambda n: n / 10),
        st.sampled_from([None, 0.0, 0.1, 0.5]),
    ),
    min_size=1,
    max_size=4,
)


@given(heights, heights)
def test_another_claim_never_makes_a_building_certain_of_another_side(
    claims: list[HeightClaim], more: list[HeightClaim]
) -> None:
    threshold = Threshold(18.0, AT_LEAST)
    before, after = side_of(claims, threshold), side_of([*claims, *more], threshold)
    assert after in (before, Side.EITHER_SIDE)

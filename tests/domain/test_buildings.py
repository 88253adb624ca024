"""People and heights of a building."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.buildings import Building
from portfolio.domain.heights import HeightClaim


def building(**more: object) -> Building:
    return Building("B1", "a building", **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("homes", "people"),
    [(0, 0), (1, 3), (25, 59), (100, 236), (258_000, 608_880)],
)
def test_people_are_estimated_from_homes_and_household_size_rounded_up(
    homes: int, people: int
) -> None:
    assert building(homes=homes).people_estimate == people


@given(st.integers(min_value=0, max_value=10**7))
def test_the_estimate_is_the_exact_product_rounded_up(homes: int) -> None:
    assert building(homes=homes).people_estimate == -(-homes * 236 // 100)


def test_people_as_stated_count_before_any_estimate() -> None:
    found = building(homes=100, people=12)
    assert found.people_estimate == 12
    assert not found.people_are_estimated


def test_no_people_at_all_is_a_statement() -> None:
    assert building(homes=100, people=0).people_estimate == 0


def test_an_estimate_says_that_it_is_one() -> None:
    assert building(homes=100).people_are_estimated


def test_without_people_and_homes_the_number_is_unknown() -> None:
    assert building().people_estimate is None
    assert not building().people_are_estimated


def test_a_measured_height_counts_before_the_storeys() -> None:
    claim = HeightClaim(12.2, "measured", 0.1)
    assert building(storeys=4, heights=(claim,)).height_claims == (claim,)
    assert building(storeys=4, heights=(claim,)).top_floor_height_m == 12.2


def test_the_height_is_estimated_where_only_storeys_are_known() -> None:
    assert building(storeys=4).top_floor_height_m == 10.85

"""What a laboratory sees of an owner's demand."""

import pytest

from portfolio.domain.anonymity import (
    FEWEST_OWNERS,
    height_in_words,
    may_name_owners,
    owners_in_words,
)
from portfolio.domain.heights import HeightBand

BANDS = (HeightBand("0", "below 11 m", 0.0), HeightBand("11", "11 m and over", 11.0))


@pytest.mark.parametrize(
    ("owners", "may"), [([], False), ([1, 2], False), ([1, 1, 2], False), ([1, 2, 3], True)]
)
def test_owners_are_named_only_among_enough_of_them(owners: list[int], may: bool) -> None:
    assert may_name_owners(owners) is may


@pytest.mark.parametrize(
    ("count", "words"),
    [(1, "fewer than 3"), (FEWEST_OWNERS - 1, "fewer than 3"), (FEWEST_OWNERS, "3"), (12, "12")],
)
def test_few_owners_are_not_counted(count: int, words: str) -> None:
    assert owners_in_words(count) == words


@pytest.mark.parametrize(
    ("metres", "words"),
    [
        (None, "unknown"),
        (3.0, "below 11 m"),
        (11.0, "11 m and over"),
        (200.0, "11 m and over"),
        (-1.0, "below 11 m"),
    ],
)
def test_a_height_is_told_by_its_band_only(metres: float | None, words: str) -> None:
    assert height_in_words(metres, BANDS) == words

"""Lines fit, shares add up, and labels keep their distance."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.drawings.amounts import amount_text
from portfolio.drawings.layout import share_out, spread
from portfolio.drawings.svg import number_text
from portfolio.drawings.text import clean, shorten, text_width, wrap


@given(st.text(max_size=200), st.floats(30, 400), st.integers(1, 4))
def test_wrapped_lines_fit_in_width_and_number(text: str, width: float, most: int) -> None:
    wrapped = wrap(text, width, 12, max_lines=most)
    assert len(wrapped.lines) <= most
    assert all(text_width(line, 12) <= width for line in wrapped.lines)


@given(st.text(max_size=100))
def test_wrapping_loses_nothing_unless_it_says_so(text: str) -> None:
    wrapped = wrap(text, 100, 12, max_lines=1000)
    assert not wrapped.is_shortened
    assert "".join(wrapped.lines).replace(" ", "") == clean(text).replace(" ", "")


def test_shortened_text_ends_in_an_ellipsis() -> None:
    assert shorten("a very long name", 60, 12).endswith("…")
    assert wrap("a very long name", 40, 12, max_lines=1).is_shortened


def test_wide_letters_count_for_more_than_narrow_ones() -> None:
    assert text_width("WWW", 12) > text_width("漢", 12) * 2 > text_width("iii", 12)
    assert text_width("e\u0301", 12) == text_width("e", 12)


@given(st.lists(st.floats(0, 1e300), min_size=1, max_size=20), st.floats(1, 1000), st.floats(0, 20))
def test_shares_add_up_to_the_whole(weights: list[float], total: float, minimum: float) -> None:
    shares = share_out(weights, total, minimum=minimum)
    assert sum(shares) == pytest.approx(total)
    assert min(shares) >= min(minimum, total / len(weights)) - 1e-6


def test_nothing_is_shared_out_among_none() -> None:
    assert share_out([], 100, minimum=1) == ()


@given(st.lists(st.floats(0, 300), max_size=40).map(sorted), st.floats(1, 40))
def test_spread_labels_keep_order_range_and_distance(wanted: list[float], gap: float) -> None:
    placed = spread(wanted, gap=gap, low=0, high=300)
    fitting = min(gap, 300 / max(len(wanted) - 1, 1))
    steps = [after - before for before, after in zip(placed, placed[1:], strict=False)]
    assert all(step >= fitting - 1e-6 for step in steps)
    assert all(-1e-6 <= position <= 300 + 1e-6 for position in placed)


def test_coordinate_has_no_negative_zero() -> None:
    assert number_text(-0.0) == "0"


@pytest.mark.parametrize(
    ("value", "text"),
    [(0, "0"), (100, "100"), (12345.5, "12,345.5"), (0.5, "0.5"), (2e12, "2e+12"), (1e-5, "1e-05")],
)
def test_amounts_are_written_without_needless_decimals(value: float, text: str) -> None:
    assert amount_text(value) == text


def test_labels_that_do_not_all_fit_fill_the_range_evenly() -> None:
    assert spread([50, 50, 50], gap=100, low=0, high=100) == pytest.approx((0, 50, 100))

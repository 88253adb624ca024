"""Bars: lengths follow amounts, and no amount goes unsaid."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.drawings.bars import (
    BarRow,
    BarSegment,
    PlainBar,
    PlainBars,
    StackedBars,
    plain_bars,
    stacked_bars,
)
from tests.drawings.support import parsed, shapes, stacked, told, widths, written


def _chart(*rows: BarRow, unit: str = "") -> StackedBars:
    return StackedBars("Zones by coverage", rows, unit)


def _row(label: str, **amounts: float) -> BarRow:
    named = {name.replace("_", "-"): amount for name, amount in amounts.items()}
    return BarRow(label, tuple(BarSegment(name, amount) for name, amount in named.items()))


@given(st.lists(st.floats(50, 100), min_size=1, max_size=4))
def test_segments_of_the_longest_bar_fill_the_width_in_proportion(amounts: list[float]) -> None:
    row = BarRow("A", tuple(BarSegment("covered", amount) for amount in amounts))
    drawn = widths(stacked_bars(_chart(row), id_prefix="a"), "segment")
    assert sum(drawn) == pytest.approx(340, abs=0.05)
    assert [width / 340 for width in drawn] == pytest.approx(
        [amount / sum(amounts) for amount in amounts], abs=0.001
    )


def test_half_the_total_is_half_the_bar() -> None:
    svg = stacked_bars(_chart(_row("A", covered=10), _row("B", covered=5)), id_prefix="a")
    assert widths(svg, "segment") == [340, 170]


@given(stacked)
def test_every_amount_above_nothing_is_a_segment(chart: StackedBars) -> None:
    above = [part for row in chart.rows for part in row.segments if part.amount > 0]
    assert len(shapes(stacked_bars(chart, id_prefix="a"), "segment")) == len(above)


def test_number_that_fits_stands_inside_with_its_sign() -> None:
    assert "C 12" in written(stacked_bars(_chart(_row("A", covered=12)), id_prefix="a"))


def test_number_that_does_not_fit_stands_beside_with_its_sign() -> None:
    svg = stacked_bars(
        _chart(_row("A", covered=500, contradicted=1), _row("B", to_assess=2)), id_prefix="a"
    )
    assert "X 1" in written(svg)
    assert "A 2" in written(svg)


def test_row_of_nothing_is_said_and_has_no_segment() -> None:
    svg = stacked_bars(_chart(_row("Empty", covered=0)), id_prefix="a")
    assert not shapes(svg, "segment")
    assert not shapes(svg, "swatch")
    assert told(svg) == "Empty: nothing."


def test_chart_without_rows_says_so() -> None:
    for svg in (
        stacked_bars(_chart(), id_prefix="a"),
        plain_bars(PlainBars("Gaps", ()), id_prefix="a"),
    ):
        assert "Nothing to show." in written(svg)
        assert told(svg) == "Nothing to show."


def test_areas_carry_their_unit() -> None:
    svg = stacked_bars(_chart(_row("A", covered=1250.5), unit="m²"), id_prefix="a")
    assert "1,250.5 m²" in written(svg)
    assert "Covered by a test 1,250.5 m²" in told(svg)


def test_segment_and_row_with_addresses_are_named_links() -> None:
    row = BarRow("A", (BarSegment("covered", 3, "/zones?coverage=covered"),), "/buildings/a")
    links = parsed(stacked_bars(_chart(row), id_prefix="a")).findall(".//{*}a")
    assert [(link.get("href"), link.get("aria-label")) for link in links] == [
        ("/buildings/a", "A: 3"),
        ("/zones?coverage=covered", "Covered by a test: 3"),
    ]


def test_plain_bars_are_to_one_scale_and_zero_has_no_length() -> None:
    rows = (PlainBar("a", 10), PlainBar("b", 2.5), PlainBar("c", 0))
    svg = plain_bars(PlainBars("Gaps", rows, "zones"), id_prefix="a")
    assert widths(svg, "bar") == [340, 85, 0]
    assert "2.5 zones" in written(svg)


@pytest.mark.parametrize("amount", [-1.0, float("nan"), float("inf")])
def test_impossible_amount_is_refused(amount: float) -> None:
    with pytest.raises(ValueError, match="cannot be drawn"):
        PlainBar("a", amount)
    with pytest.raises(ValueError, match="cannot be drawn"):
        BarSegment("covered", amount)

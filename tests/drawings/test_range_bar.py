"""The bar of the places that a gap could take."""

from xml.etree.ElementTree import Element

from hypothesis import given

from portfolio.drawings.range_bar import RangeBar, range_bar
from tests.drawings import support


def drawn(bar: RangeBar) -> Element:
    return support.parsed(range_bar(bar, id_prefix="r", width=360))


def _band(root: Element) -> tuple[float, float]:
    [rect] = root.iter(f"{support.SVG}rect")
    left = float(rect.get("x", ""))
    return left, left + float(rect.get("width", ""))


def test_the_band_reaches_from_the_first_place_to_the_last() -> None:
    whole, half = (_band(drawn(RangeBar("P", 1, 1, last, 101))) for last in (101, 51))
    assert half[0] == whole[0]
    assert abs((half[1] - half[0]) - (whole[1] - whole[0]) / 2) < 0.1


@given(support.range_bars)
def test_a_place_that_is_certain_is_still_seen_and_stays_in_the_drawing(bar: RangeBar) -> None:
    left, right = _band(drawn(bar))
    assert right - left >= 4
    assert left >= 0
    assert right <= 360


def test_the_numbers_are_told_in_words() -> None:
    desc = drawn(RangeBar("P", 1200, 30, 6000, 25000)).findtext(f"{support.SVG}desc")
    assert desc == "Place 1,200 of 25,000, which could be any from 30 to 6,000."

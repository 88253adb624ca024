"""What holds for any drawing of anything."""

from collections.abc import Callable
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.drawings.bars import plain_bars, stacked_bars
from portfolio.drawings.elevation import elevation
from portfolio.drawings.heights import heights_chart
from portfolio.drawings.range_bar import range_bar
from portfolio.drawings.rig import rig
from portfolio.drawings.section import SectionDrawing, paired_sections, wall_section
from portfolio.drawings.text import text_width
from portfolio.drawings.trace_chart import trace_chart
from tests.drawings import support

Draw = Callable[[int], str]

WIDTHS = (240, 360, 640)


def _drawer(draw: Callable[..., str], *records: object) -> Draw:
    return lambda width: draw(*records, id_prefix="d1", width=width)


drawers = st.one_of(
    st.builds(_drawer, st.just(wall_section), support.sections),
    st.builds(_drawer, st.just(paired_sections), support.sections, support.sections),
    st.builds(_drawer, st.just(elevation), support.elevations),
    st.builds(_drawer, st.just(stacked_bars), support.stacked),
    st.builds(_drawer, st.just(plain_bars), support.plain),
    st.builds(_drawer, st.just(heights_chart), support.heights),
    st.builds(_drawer, st.just(trace_chart), support.trace_charts),
    st.builds(_drawer, st.just(rig), support.rigs),
    st.builds(_drawer, st.just(range_bar), support.range_bars),
)
any_width = st.sampled_from(WIDTHS)


def _inside_patterns(root: ElementTree.Element) -> set[ElementTree.Element]:
    return {shape for defs in root.iter(f"{support.SVG}defs") for shape in defs.iter()}


@given(drawers, any_width)
def test_same_records_give_the_same_bytes(draw: Draw, width: int) -> None:
    assert draw(width) == draw(width)


@given(drawers, any_width)
def test_any_drawing_is_well_formed_and_has_title_desc_role_and_view_box(
    draw: Draw, width: int
) -> None:
    root = support.parsed(draw(width))
    assert [child.tag for child in root][:2] == [f"{support.SVG}title", f"{support.SVG}desc"]
    assert root.get("viewBox", "").startswith(f"0 0 {width} ")
    has_links = root.find(f".//{support.SVG}a") is not None
    assert root.get("role") == ("group" if has_links else "img")


@given(drawers, any_width)
def test_nothing_is_styled_or_scripted_inline(draw: Draw, width: int) -> None:
    for element in support.parsed(draw(width)).iter():
        assert element.tag.removeprefix(support.SVG) not in ("style", "script", "foreignObject")
        assert not [name for name in element.attrib if name == "style" or name.startswith("on")]


@given(drawers, any_width)
def test_ids_begin_with_the_prefix_and_are_used_once(draw: Draw, width: int) -> None:
    ids = [element.get("id") for element in support.parsed(draw(width)).iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    assert all(name is not None and name.startswith("d1-") for name in ids)


@given(drawers, any_width)
def test_every_paint_that_is_referred_to_is_defined(draw: Draw, width: int) -> None:
    root = support.parsed(draw(width))
    defined = {f"url(#{pattern.get('id')})" for pattern in root.iter(f"{support.SVG}pattern")}
    used = {element.get("fill", "") for element in root.iter()}
    assert {fill for fill in used if fill.startswith("url(")} == defined


@given(drawers, any_width)
def test_links_lead_to_local_or_http_addresses_only(draw: Draw, width: int) -> None:
    for link in support.parsed(draw(width)).iter(f"{support.SVG}a"):
        assert link.get("href") in ("/zones/7", "#z")
        assert link.get("aria-label")


@given(drawers, any_width)
def test_no_shape_and_no_line_of_text_leaves_the_drawing(draw: Draw, width: int) -> None:
    root = support.parsed(draw(width))
    height = float(root.get("viewBox", "").split()[3])
    for rect in set(root.iter(f"{support.SVG}rect")) - _inside_patterns(root):
        x, y, wide, high = (float(rect.get(name, "nan")) for name in ("x", "y", "width", "height"))
        assert x >= -0.1
        assert x + wide <= width + 0.1
        assert y >= -0.1
        assert y + high <= height + 0.1
    for text in root.iter(f"{support.SVG}text"):
        _assert_text_inside(text, width, height)


def _assert_text_inside(text: ElementTree.Element, width: float, height: float) -> None:
    bold = text.get("font-weight") == "bold"
    before = {"end": 1.0, "middle": 0.5}.get(text.get("text-anchor", "start"), 0.0)
    for line in text.iter(f"{support.SVG}tspan"):
        long = text_width(line.text or "", float(text.get("font-size", "nan")), bold=bold)
        left = float(line.get("x", "nan")) - long * before
        assert left >= -0.1
        assert left + long <= width + 0.1
        assert 0 <= float(line.get("y", "nan")) <= height


@pytest.mark.parametrize("prefix", ["", "1a", "a b", 'a"', "a#", "a\n"])
def test_prefix_that_cannot_begin_an_id_is_refused(prefix: str) -> None:
    with pytest.raises(ValueError, match="id prefix"):
        wall_section(SectionDrawing("Wall", ()), id_prefix=prefix)


@pytest.mark.parametrize("width", [0, 199, 4001])
def test_width_that_cannot_be_laid_out_is_refused(width: float) -> None:
    with pytest.raises(ValueError, match="use 200 to 4000"):
        wall_section(SectionDrawing("Wall", ()), id_prefix="a", width=width)


def test_hostile_label_is_text_and_nothing_else() -> None:
    svg = wall_section(SectionDrawing(support.HOSTILE, ()), id_prefix="a")
    title = support.parsed(svg).findtext(f"{support.SVG}title") or ""
    assert '<script>alert("x")</script> &' in title
    assert "<script" not in svg

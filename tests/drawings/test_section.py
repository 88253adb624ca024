"""Wall sections: to scale where they can be, and honest where they cannot."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.drawings.section import (
    DrawnBarrier,
    DrawnLayer,
    SectionDrawing,
    paired_sections,
    wall_section,
)
from portfolio.drawings.section_layout import (
    THINNEST_DRAWN,
    UNKNOWN_WIDTH,
    paired_tags,
    scale_bar_mm,
    scale_for,
)
from tests.drawings.support import layers, parsed, sections, shapes, told, widths, written

LINING = DrawnLayer("lining", "plasterboard lining", 12.5, "board", "same")
MEMBRANE = DrawnLayer("membrane", "breather membrane", 0.3, "membrane", "unknown")
FOAM = DrawnLayer("insulation", "phenolic foam", 100, "foam", "differs", "another family")
CAVITY = DrawnLayer("cavity", "ventilated cavity", 50, "cavity", "allowed")
FACING = DrawnLayer("facing", "composite panel", None, "composite", "unknown", is_known=False)


def _wall(*parts: DrawnLayer, name: str = "Zone A", side: str = "zone") -> SectionDrawing:
    return SectionDrawing(name, parts, side=side)


def test_membrane_too_thin_to_draw_is_given_a_visible_width_and_the_desc_says_so() -> None:
    svg = wall_section(_wall(FOAM, MEMBRANE), id_prefix="a")
    assert widths(svg, "layer")[1] == THINNEST_DRAWN
    assert "Too thin to draw, so drawn wider than to scale: 2." in told(svg)


def test_layer_of_unknown_thickness_has_a_fixed_width_and_a_dashed_outline() -> None:
    svg = wall_section(_wall(FOAM, FACING), id_prefix="a")
    assert widths(svg, "layer")[1] == UNKNOWN_WIDTH
    assert shapes(svg, "layer")[1].get("stroke-dasharray")
    assert "thickness unknown" in written(svg)


def test_unknown_material_is_hatched_as_unknown_and_not_as_what_it_might_be() -> None:
    svg = wall_section(_wall(FACING), id_prefix="a")
    assert shapes(svg, "layer")[0].get("fill") == "url(#a-kind-unknown)"


@given(st.lists(st.floats(20, 400), min_size=2, max_size=6))
def test_drawn_widths_are_in_the_ratio_of_the_millimetres(thicknesses: list[float]) -> None:
    parts = [DrawnLayer(f"{at}", "x", mm, "foam") for at, mm in enumerate(thicknesses)]
    drawn = widths(wall_section(_wall(*parts), id_prefix="a", width=640), "layer")
    per_mm = [width / mm for width, mm in zip(drawn, thicknesses, strict=True)]
    thick = [scale for scale, width in zip(per_mm, drawn, strict=True) if width > THINNEST_DRAWN]
    # Coordinates are written to a hundredth of a unit.
    assert max(thick) - min(thick) <= 0.02 / 4 * max(thick) + 0.001


@given(st.lists(layers, max_size=25), st.lists(layers, max_size=60))
def test_strips_of_any_walls_fit_the_room_and_are_seen(
    left: list[DrawnLayer], right: list[DrawnLayer]
) -> None:
    scale = scale_for([left, right], 320)
    for wall in (left, right):
        drawn = [scale.width_of(layer) for layer in wall if layer.present]
        assert sum(drawn) <= 320 + 1e-6
        assert min(drawn, default=2) >= 2


def test_strips_stand_side_by_side_from_the_inside_out() -> None:
    strips = shapes(wall_section(_wall(LINING, FOAM, CAVITY), id_prefix="a"), "layer")
    edges = [float(strip.get("x", "nan")) for strip in strips]
    ends = [x + float(s.get("width", "nan")) for x, s in zip(edges, strips, strict=True)]
    assert edges[1:] == pytest.approx(ends[:-1], abs=0.02)


def test_list_says_number_label_thickness_and_answer() -> None:
    svg = wall_section(_wall(LINING), id_prefix="a", width=640)
    assert "1 = plasterboard lining, 12.5 mm — same" in written(svg)
    assert "inside" in written(svg)
    assert "outside" in written(svg)


def test_layer_known_to_be_missing_is_listed_but_not_drawn() -> None:
    absent = DrawnLayer("sheathing", "", None, "board", "differs", present=False)
    svg = wall_section(_wall(LINING, absent), id_prefix="a")
    assert len(shapes(svg, "layer")) == 1
    assert "no sheathing — differs" in written(svg)


def test_barrier_is_drawn_across_the_cavity_only() -> None:
    wall = SectionDrawing("A", (FOAM, CAVITY, LINING), (DrawnBarrier("stop at each floor"),))
    svg = wall_section(wall, id_prefix="a")
    barrier, cavity = shapes(svg, "barrier")[0], shapes(svg, "layer")[1]
    assert (barrier.get("x"), barrier.get("width")) == (cavity.get("x"), cavity.get("width"))


def test_barrier_nobody_has_seen_is_dashed() -> None:
    wall = SectionDrawing("A", (CAVITY,), (DrawnBarrier("stop", "unknown", known=False),))
    svg = wall_section(wall, id_prefix="a")
    assert shapes(svg, "barrier-not-known")[0].get("stroke-dasharray")
    assert "not known whether there" in told(svg)


def test_barrier_without_a_cavity_is_listed_and_the_desc_says_why_it_is_not_drawn() -> None:
    wall = SectionDrawing("A", (FOAM,), (DrawnBarrier("stop"),))
    svg = wall_section(wall, id_prefix="a")
    assert not shapes(svg, "barrier")
    assert "no cavity is recorded" in told(svg)


def test_wall_without_layers_says_so_and_has_no_scale() -> None:
    svg = wall_section(_wall(), id_prefix="a")
    assert "No layers recorded" in written(svg)
    assert not shapes(svg, "scale-bar", "path")


@given(sections, sections)
def test_a_list_beside_its_walls_stays_beside_them(
    left: SectionDrawing, right: SectionDrawing
) -> None:
    for svg in (
        wall_section(left, id_prefix="a", width=720, list_beside=True),
        paired_sections(left, right, id_prefix="a", width=720, list_beside=True),
    ):
        walls = [*shapes(svg, "layer"), *shapes(svg, "barrier"), *shapes(svg, "barrier-not-known")]
        ends = [float(part.get("x", "nan")) + float(part.get("width", "nan")) for part in walls]
        assert max(ends, default=0) <= 360
        swatches = [float(part.get("x", "nan")) for part in shapes(svg, "swatch")]
        assert min(swatches, default=720) >= 360


def test_a_list_beside_its_wall_makes_the_drawing_lower_and_leaves_nothing_out() -> None:
    wall = _wall(LINING, FOAM, CAVITY, FACING)
    below = wall_section(wall, id_prefix="a", width=360)
    beside = wall_section(wall, id_prefix="a", width=720, list_beside=True)
    assert _height(beside) < 0.75 * _height(below)
    assert sorted(written(beside).split()) == sorted(written(below).split())


def _height(svg: str) -> float:
    return float(parsed(svg).get("viewBox", "").split()[3])


def test_both_walls_of_a_pair_have_one_scale() -> None:
    thin, thick = _wall(CAVITY), _wall(FOAM, CAVITY, name="Test B", side="test")
    drawn = widths(paired_sections(thin, thick, id_prefix="a"), "layer")
    assert drawn[0] == drawn[2]


def test_paired_layers_share_a_tag_and_the_list_says_what_either_wall_has() -> None:
    ours = _wall(LINING, MEMBRANE, FOAM)
    theirs = _wall(
        DrawnLayer("lining", "gypsum board", 15, "board"),
        DrawnLayer("insulation", "stone wool", 100, "mineral-wool"),
        name="Test B",
        side="test",
    )
    text = written(paired_sections(ours, theirs, id_prefix="a", width=640))
    assert "1 = lining — same zone: plasterboard lining, 12.5 mm test: gypsum board" in text
    assert "2 ? membrane — unknown zone: breather membrane, 0.3 mm test: nothing there" in text
    assert "3 ≠ insulation — differs" in text
    assert "another family" in text


@pytest.mark.parametrize(
    ("left", "right", "tags"),
    [
        ("abc", "abc", ([1, 2, 3], [1, 2, 3])),
        ("abc", "ac", ([1, 2, 3], [1, 3])),
        ("ac", "abc", ([1, 3], [1, 2, 3])),
        ("aa", "a", ([1, 2], [1])),
        ("ab", "ba", ([1, 2], [2, 1])),
        ("", "ab", ([], [1, 2])),
    ],
)
def test_equal_keys_share_a_number_in_the_order_of_both_walls(
    left: str, right: str, tags: tuple[list[int], list[int]]
) -> None:
    assert paired_tags(list(left), list(right)) == tags


def test_wall_too_thick_for_any_round_length_has_no_scale_bar() -> None:
    svg = wall_section(_wall(DrawnLayer("wall", "rock", 1e6, "masonry")), id_prefix="a")
    assert not shapes(svg, "scale-bar", "path")


def test_scale_bar_is_a_round_length_that_fits() -> None:
    assert scale_bar_mm(1.1, 120) == 100
    assert scale_bar_mm(1e-9, 120) is None


@pytest.mark.parametrize("thickness", [-1.0, float("nan"), float("inf")])
def test_impossible_thickness_is_refused(thickness: float) -> None:
    with pytest.raises(ValueError, match="cannot be drawn"):
        DrawnLayer("lining", "board", thickness, "board")


def test_unlisted_kind_and_answer_are_refused() -> None:
    with pytest.raises(ValueError, match="kind of layer"):
        DrawnLayer("lining", "board", 1, "cheese")
    with pytest.raises(ValueError, match="answer"):
        DrawnBarrier("stop", "perhaps")

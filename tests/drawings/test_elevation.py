"""Elevations: every zone is somewhere, and nothing is placed that nobody recorded."""

import math
import re
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.drawings.elevation import DrawnFace, DrawnZone, ElevationDrawing, elevation
from portfolio.drawings.elevation_layout import ZoneBox, boxes_for, levels_for
from tests.drawings.support import parsed, shapes, told, widths, written, zones


def _drawing(*parts: DrawnZone, **more: object) -> ElevationDrawing:
    return ElevationDrawing("Block", (DrawnFace("North", parts),), **more)  # type: ignore[arg-type]


def _zone(ref: str, low: int | None, high: int | None, area: float | None = None) -> DrawnZone:
    return DrawnZone(ref, "", "covered", low, high, area)


def _overlap(one: ZoneBox, other: ZoneBox) -> bool:
    across = min(one.x + one.width, other.x + other.width) - max(one.x, other.x)
    along = min(one.y + one.height, other.y + other.height) - max(one.y, other.y)
    return across > 1e-6 and along > 1e-6


@given(st.lists(zones, max_size=10))
def test_no_zone_covers_another_and_none_leaves_its_face(parts: list[DrawnZone]) -> None:
    levels = levels_for(_drawing(*parts, storeys=5))
    boxes = boxes_for(parts, levels, 200)
    assert not [pair for pair in combinations(boxes, 2) if _overlap(*pair)]
    assert all(box.x >= 0 and box.x + box.width <= 200 + 1e-6 for box in boxes)
    assert all(box.y >= 0 and box.y + box.height <= levels.height + 1e-6 for box in boxes)


@given(st.lists(zones, max_size=10))
def test_every_zone_is_drawn_once_whether_placed_or_not(parts: list[DrawnZone]) -> None:
    assert len(shapes(elevation(_drawing(*parts), id_prefix="a"), "zone-box")) == len(parts)


def test_zones_of_the_same_storeys_share_the_width_by_area() -> None:
    svg = elevation(_drawing(_zone("A", 0, 3, 300), _zone("B", 0, 3, 100)), id_prefix="a")
    large, small = widths(svg, "zone-box")
    assert large == pytest.approx(3 * small, abs=0.05)


def test_zone_of_unknown_area_takes_the_usual_share() -> None:
    svg = elevation(_drawing(_zone("A", 0, 3, 50), _zone("B", 0, 3)), id_prefix="a")
    assert widths(svg, "zone-box")[0] == pytest.approx(widths(svg, "zone-box")[1])


def test_zone_without_a_place_stands_under_its_heading() -> None:
    svg = elevation(_drawing(_zone("A", None, 2)), id_prefix="a")
    assert "place not recorded North, A, covered" in written(svg)
    assert "A: Covered by a test, place not recorded" in told(svg)


def test_heading_of_unplaced_zones_is_left_out_where_there_are_none() -> None:
    assert "place not recorded" not in written(elevation(_drawing(_zone("A", 0, 1)), id_prefix="a"))


def test_unknown_number_of_storeys_is_drawn_dashed_and_said() -> None:
    svg = elevation(_drawing(_zone("A", 0, 2)), id_prefix="a")
    assert shapes(svg, "face")[0].get("stroke-dasharray")
    assert "Number of storeys not recorded" in told(svg)


def test_face_of_which_no_storey_is_known_has_no_storey_numbers() -> None:
    svg = elevation(_drawing(_zone("A", None, None)), id_prefix="a")
    assert written(svg).startswith("Block North place not recorded")


def test_zone_above_the_recorded_storeys_is_drawn_and_the_conflict_said() -> None:
    svg = elevation(_drawing(_zone("A", 0, 7), storeys=6), id_prefix="a")
    assert "6 storeys are recorded, but a zone reaches storey 7" in told(svg)


def test_height_line_stands_at_its_height_between_ground_and_top_floor() -> None:
    drawing = _drawing(storeys=7, top_floor_height_m=18.0, lines=((9.0, "half way"),))
    svg = elevation(drawing, id_prefix="a")
    line, tick = shapes(svg, "height-line", "line")[0], shapes(svg, "height-tick", "line")[0]
    ground = float(shapes(svg, "ground-line", "line")[0].get("y1", "nan"))
    assert 2 * (ground - float(line.get("y1", "nan"))) == pytest.approx(
        ground - float(tick.get("y1", "nan")), abs=0.05
    )
    assert "Dashed line at 9 m: half way." in written(svg)


def test_a_height_that_takes_long_to_write_stays_inside_the_drawing() -> None:
    drawing = _drawing(storeys=2, top_floor_height_m=2.547214451173448e-219)
    svg = elevation(drawing, id_prefix="e", width=360)
    assert "2.55e-219 m" not in re.findall(r"<tspan[^>]*>([^<]*)</tspan>", svg)


@pytest.mark.parametrize(
    ("storeys", "height", "reason"),
    [
        (None, 18.0, "heights are not recorded"),
        (6, None, "heights are not recorded"),
        # the only floor is on the ground, which gives no measure
        (1, 3.0, "heights are not recorded"),
        # the smallest height that a number can hold is none that two storeys could share
        (3, math.ulp(0.0), "heights are not recorded"),
        (3, 6.0, "far above the roof"),
    ],
)
def test_height_that_cannot_be_placed_is_not_drawn_and_the_reason_said(
    storeys: int | None, height: float | None, reason: str
) -> None:
    drawing = _drawing(storeys=storeys, top_floor_height_m=height, lines=((50.0, "threshold"),))
    svg = elevation(drawing, id_prefix="a", width=640)
    assert not shapes(svg, "height-line", "line")
    assert reason in written(svg)


def test_legend_has_only_the_coverages_that_occur() -> None:
    svg = elevation(_drawing(_zone("A", 0, 1)), id_prefix="a")
    assert len(shapes(svg, "swatch")) == 1
    assert "Covered by a test" in written(svg)
    assert "To be assessed" not in written(svg)


def test_zone_with_an_address_is_a_named_link() -> None:
    zone = DrawnZone("A", "spandrel", "to-assess", 0, 1, None, "/zones/1")
    link = parsed(elevation(_drawing(zone), id_prefix="a")).find(".//{*}a")
    assert link is not None
    assert (link.get("href"), link.get("aria-label")) == (
        "/zones/1",
        "A spandrel: To be assessed",
    )


def test_zone_too_small_for_its_reference_is_named_below() -> None:
    parts = (_zone("A", 0, 1, 1000), _zone("Narrow-07", 0, 1, 0.5))
    assert "Too small above for its reference: Narrow-07" in written(
        elevation(_drawing(*parts), id_prefix="a", width=640)
    )


def test_building_without_faces_says_so() -> None:
    assert "No faces recorded." in written(elevation(ElevationDrawing("B", ()), id_prefix="a"))


def test_wider_drawing_has_more_faces_in_a_row() -> None:
    drawing = ElevationDrawing("B", tuple(DrawnFace(name, ()) for name in "NESW"), 3)

    def tops(width: float) -> int:
        svg = elevation(drawing, id_prefix="a", width=width)
        return len({face.get("y") for face in shapes(svg, "face")})

    assert (tops(360), tops(640)) == (2, 1)


def test_impossible_records_are_refused() -> None:
    with pytest.raises(ValueError, match="storey 900"):
        _zone("A", 0, 900)
    with pytest.raises(ValueError, match="an area of -1"):
        _zone("A", 0, 1, -1)
    with pytest.raises(ValueError, match="0 storeys"):
        _drawing(storeys=0)
    with pytest.raises(ValueError, match="a height of nan m"):
        _drawing(lines=((float("nan"), "x"),))

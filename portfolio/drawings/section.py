"""Wall sections to scale: one wall, or a zone's wall above a tested one.

The inside is on the left. Layers are strips as wide as they are thick, numbered from the inside
out; what cannot be drawn to scale is drawn visibly otherwise and named as such.
"""

from collections.abc import Sequence

from portfolio.drawings.captions import MARGIN, add_heading, add_notes
from portfolio.drawings.placed_wall import (
    PlacedWall,
    add_body,
    add_scale,
    add_sides,
    barrier_remarks,
    placed_wall,
)
from portfolio.drawings.section_key import KeyRow, add_key, scale_remarks
from portfolio.drawings.section_key_rows import paired_rows_for, rows_for
from portfolio.drawings.section_layout import Scale, barrier_tags, layer_tags, scale_for
from portfolio.drawings.section_wall import (
    BARRIER_MARGIN,
    LEADER_LENGTH,
    TAG_HEIGHT,
    PlacedTag,
    Tag,
    add_leader,
    add_tag,
    place_tags,
)
from portfolio.drawings.svg import Canvas
from portfolio.drawings.wall_layers import DrawnBarrier, DrawnLayer, SectionDrawing

__all__ = ["DrawnBarrier", "DrawnLayer", "SectionDrawing", "paired_sections", "wall_section"]


def wall_section(
    drawing: SectionDrawing, *, id_prefix: str, width: float = 360, list_beside: bool = False
) -> str:
    """Draw one wall to scale with its numbered list, as SVG text `width` units wide.

    The list stands below the wall, or beside it, where each has half of the width. Every id in
    the SVG begins with `id_prefix`, so that several drawings can share a page.
    """
    canvas = Canvas(id_prefix=id_prefix, width=width)
    own = width / 2 if list_beside else width
    scale = scale_for([drawing.layers], _room([drawing], own))
    wall = placed_wall(
        drawing, range(1, len(drawing.layers) + 1), range(1, len(drawing.barriers) + 1), scale
    )
    y = top = add_heading(canvas, drawing.name, MARGIN, width=own)
    tags = [Tag(f"{strip.tag}", strip.layer.answer) for strip in wall.strips]
    centres = [strip.centre for strip in wall.strips]
    placed, y = place_tags(tags, centres, top=y, low=MARGIN / 2, high=own - MARGIN / 2)
    y += LEADER_LENGTH
    for tag, x in zip(placed, _in_tag_order(placed, wall), strict=True):
        add_leader(canvas.body, tag.x, tag.y + TAG_HEIGHT, x, y)
    _add_placed_tags(canvas, placed)
    y = add_body(canvas, wall, y)
    y = add_sides(canvas, wall, y)
    y = add_scale(canvas, [wall], scale, y, own)
    rows = rows_for(drawing)
    remarks = [*scale_remarks(wall.strips, scale), *barrier_remarks([wall])]
    y = _add_list(canvas, rows, y, beside=(own, top) if list_beside else None)
    height = add_notes(canvas, y, remarks) + MARGIN
    return canvas.finish(
        title=f"Wall section: {drawing.name}",
        desc=_described(f"Section through {drawing.name}", rows, remarks),
        height=height,
        kind="section",
    )


def paired_sections(
    left: SectionDrawing,
    right: SectionDrawing,
    *,
    id_prefix: str,
    width: float = 360,
    list_beside: bool = False,
) -> str:
    """Draw two walls at one scale, `left` above `right`, as SVG text `width` units wide.

    Layers with the same key share a tag number, drawn between the walls with the answer on it.
    The list of them stands below or beside, as in `wall_section`.
    """
    canvas = Canvas(id_prefix=id_prefix, width=width)
    own = width / 2 if list_beside else width
    scale = scale_for([left.layers, right.layers], _room([left, right], own))
    layers = layer_tags(left.layers, right.layers)
    barriers = barrier_tags(left.barriers, right.barriers)
    above = placed_wall(left, layers[0], barriers[0], scale)
    below = placed_wall(right, layers[1], barriers[1], scale)
    rows = paired_rows_for(left, right)

    y = top = add_heading(canvas, left.name, MARGIN, width=own)
    y = add_sides(canvas, above, y - 4)
    y = add_body(canvas, above, y)
    y = _add_shared_tags(canvas, (above, below), rows, y, own)
    y = add_body(canvas, below, y)
    y = add_sides(canvas, below, y)
    y = add_heading(canvas, right.name, y, width=own)
    y = add_scale(canvas, [above, below], scale, y, own)
    remarks = [*_paired_remarks(above, below, scale), *barrier_remarks([above, below])]
    y = _add_list(canvas, rows, y, beside=(own, top) if list_beside else None)
    height = add_notes(canvas, y, remarks) + MARGIN
    return canvas.finish(
        title=f"Wall sections: {left.name} above, {right.name} below",
        desc=_described(
            f"Sections through {left.name}, above, and {right.name}, below, at the same scale",
            rows,
            remarks,
        ),
        height=height,
        kind="section",
    )


def _add_list(
    canvas: Canvas, rows: Sequence[KeyRow], y: float, *, beside: tuple[float, float] | None
) -> float:
    """Draw the numbered list below `y`, or from the x and y given; give the new y of both."""
    left, top = beside or (0.0, y + 8)
    return max(y, add_key(canvas, rows, top, left)) + 2


def _room(drawings: Sequence[SectionDrawing], width: float) -> float:
    barriers = any(drawing.barriers for drawing in drawings)
    return width - 2 * MARGIN - (BARRIER_MARGIN if barriers else 0)


def _in_tag_order(placed: Sequence[PlacedTag], wall: PlacedWall) -> list[float]:
    centre_of = {f"{strip.tag}": strip.centre for strip in wall.strips}
    return [centre_of[tag.tag.text] for tag in placed]


def _add_placed_tags(canvas: Canvas, placed: Sequence[PlacedTag]) -> None:
    for tag in placed:
        add_tag(canvas, tag.x, tag.y, tag.tag)


def _add_shared_tags(
    canvas: Canvas,
    walls: tuple[PlacedWall, PlacedWall],
    rows: Sequence[KeyRow],
    y: float,
    width: float,
) -> float:
    """Draw one tag for each number, with a line up and down to the layers that have it."""
    sides = [{f"{strip.tag}": strip.centre for strip in wall.strips} for wall in walls]
    tags = [row.tag for row in rows if any(row.tag.text in side for side in sides)]
    wanted = []
    for tag in tags:
        centres = [side[tag.text] for side in sides if tag.text in side]
        wanted.append(sum(centres) / len(centres))
    placed, bottom = place_tags(
        tags, wanted, top=y + LEADER_LENGTH, low=MARGIN / 2, high=width - MARGIN / 2
    )
    bottom += LEADER_LENGTH
    for spot in placed:
        for side, edge, end in ((sides[0], spot.y, y), (sides[1], spot.y + TAG_HEIGHT, bottom)):
            if spot.tag.text in side:
                add_leader(canvas.body, spot.x, edge, side[spot.tag.text], end)
    _add_placed_tags(canvas, placed)
    return bottom


def _paired_remarks(above: PlacedWall, below: PlacedWall, scale: Scale) -> list[str]:
    return [
        f"{wall.drawing.short_name}: {remark}"
        for wall in (above, below)
        for remark in scale_remarks(wall.strips, scale)
    ]


def _described(opening: str, rows: Sequence[KeyRow], remarks: Sequence[str]) -> str:
    told = " ".join(row.words for row in rows)
    return f"{opening}, inside on the left, to scale. {told} {' '.join(remarks)}"

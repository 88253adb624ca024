"""A wall placed for drawing: its body, the words on either side, and its scale."""

from collections.abc import Sequence
from dataclasses import dataclass

from portfolio.drawings.captions import MARGIN
from portfolio.drawings.section_layout import Scale, Strip, strips_for
from portfolio.drawings.section_wall import (
    Tag,
    add_barriers,
    add_scale_bar,
    add_wall,
    wall_height,
)
from portfolio.drawings.svg import Canvas, add_text
from portfolio.drawings.text import text_width
from portfolio.drawings.wall_layers import DrawnBarrier, SectionDrawing

_LABEL = 11.0
_SIDES_HEIGHT, _SCALE_HEIGHT = 18.0, 20.0


@dataclass(frozen=True, slots=True)
class PlacedWall:
    """A wall with its strips placed and its barriers tagged."""

    drawing: SectionDrawing
    strips: tuple[Strip, ...]
    barriers: tuple[tuple[Tag, DrawnBarrier], ...]

    @property
    def height(self) -> float:
        """The drawn height, in drawing units."""
        return wall_height(len(self.barriers))

    @property
    def right(self) -> float:
        """The x of the outside face, in drawing units."""
        return self.strips[-1].x + self.strips[-1].width if self.strips else MARGIN

    @property
    def is_to_scale(self) -> bool:
        """Whether any thickness is known, so that a scale means something."""
        return any(strip.layer.thickness_mm is not None for strip in self.strips)

    @property
    def has_cavity(self) -> bool:
        """Whether there is a cavity to draw barriers in."""
        return any(strip.layer.drawn_kind == "cavity" for strip in self.strips)


def placed_wall(
    drawing: SectionDrawing, layers: Sequence[int], barriers: Sequence[int], scale: Scale
) -> PlacedWall:
    """Place a wall's layers from the left margin, with the tag numbers given."""
    tagged = (
        (Tag(f"B{number}", barrier.answer), barrier)
        for number, barrier in zip(barriers, drawing.barriers, strict=True)
    )
    return PlacedWall(drawing, strips_for(drawing.layers, layers, scale, MARGIN), tuple(tagged))


def add_body(canvas: Canvas, wall: PlacedWall, y: float) -> float:
    """Draw strips and barriers from `y` down; give the new y."""
    if not wall.strips:
        add_text(canvas.body, MARGIN, y + 14, ["No layers recorded"])
        return y + 22
    add_wall(canvas, wall.strips, y, wall.height)
    add_barriers(canvas, wall.strips, wall.barriers, y, wall.height)
    return y + wall.height


def add_sides(canvas: Canvas, wall: PlacedWall, y: float) -> float:
    """Write "inside" and "outside" at the ends of the wall; give the new y."""
    if not wall.strips:
        return y
    inside_end = MARGIN + text_width("inside", _LABEL)
    outside_end = max(wall.right, inside_end + 12 + text_width("outside", _LABEL))
    baseline = y + _LABEL + 2
    add_text(canvas.body, MARGIN, baseline, ["inside"], size=_LABEL)
    add_text(canvas.body, outside_end, baseline, ["outside"], size=_LABEL, anchor="end")
    return y + _SIDES_HEIGHT


def add_scale(
    canvas: Canvas, walls: Sequence[PlacedWall], scale: Scale, y: float, width: float
) -> float:
    """Draw the scale bar of walls that have one, for a drawing of that width; give the new y."""
    if not any(wall.is_to_scale for wall in walls):
        return y
    add_scale_bar(canvas, scale, MARGIN, y + 10, width / 3)
    return y + _SCALE_HEIGHT


def barrier_remarks(walls: Sequence[PlacedWall]) -> list[str]:
    """Say when barriers are listed but not drawn, for want of a cavity to draw them in."""
    remarks = []
    for wall in walls:
        if wall.barriers and not wall.has_cavity:
            remarks.append(
                f"{wall.drawing.short_name}: barriers are listed but not drawn, "
                "because no cavity is recorded."
            )
    return remarks

"""The pieces of a wall section: strips, barriers, tags with leader lines, and the scale bar."""

from collections.abc import Sequence
from dataclasses import dataclass
from xml.etree.ElementTree import Element

from portfolio.drawings.layout import spread
from portfolio.drawings.marks import FAINT_INK, INK, PAPER, answer_mark, kind_mark
from portfolio.drawings.section_layout import Scale, Strip, scale_bar_mm
from portfolio.drawings.svg import Box, Canvas, add, add_outlined, add_text
from portfolio.drawings.text import text_width
from portfolio.drawings.wall_layers import DrawnBarrier

TAG_HEIGHT = 18.0
TAG_GAP = 3.0
BARRIER_MARGIN = 52.0
_TAG_SIZE = 11.0
_BARRIER_DEPTH = 9.0
LEADER_LENGTH = 12.0


@dataclass(frozen=True, slots=True)
class Tag:
    """A number, or B and a number for a barrier, with the sign of its answer if it has one."""

    text: str
    answer: str | None

    @property
    def words(self) -> str:
        """Number and sign as they are written."""
        return self.text if self.answer is None else f"{self.text} {answer_mark(self.answer).sign}"

    @property
    def width(self) -> float:
        """The width of the tag's box in drawing units."""
        return text_width(self.words, _TAG_SIZE, bold=True) + 7


def add_tag(canvas: Canvas, centre: float, top: float, tag: Tag) -> None:
    """Draw a tag as a small box around `centre`."""
    box = Box(centre - tag.width / 2, top, tag.width, TAG_HEIGHT)
    mark = None if tag.answer is None else answer_mark(tag.answer)
    ground, class_ = (PAPER, "tag") if mark is None else (mark.ground, f"tag {mark.css_class}")
    add_outlined(canvas.body, box, ground, class_)
    add_text(
        canvas.body,
        centre,
        top + TAG_HEIGHT / 2 + _TAG_SIZE * 0.36,
        [tag.words],
        size=_TAG_SIZE,
        anchor="middle",
        bold=True,
    )


@dataclass(frozen=True, slots=True)
class PlacedTag:
    """A tag with its middle (x) and top edge (y), in drawing units."""

    tag: Tag
    x: float
    y: float


def place_tags(
    tags: Sequence[Tag], wanted: Sequence[float], *, top: float, low: float, high: float
) -> tuple[tuple[PlacedTag, ...], float]:
    """Place tags near the x they belong to, in as few rows as hold them; give the bottom too."""
    if not tags:
        return (), top
    gap = max(tag.width for tag in tags) + TAG_GAP
    per_row = max(1, int((high - low) / gap))
    rows = -(-len(tags) // per_row)
    placed: list[PlacedTag] = []
    for row in range(rows):
        chosen = range(row, len(tags), rows)
        positions = spread(
            [wanted[at] for at in chosen], gap=gap, low=low + gap / 2, high=high - gap / 2
        )
        y = top + row * (TAG_HEIGHT + TAG_GAP)
        placed.extend(PlacedTag(tags[at], x, y) for at, x in zip(chosen, positions, strict=True))
    return tuple(placed), top + rows * (TAG_HEIGHT + TAG_GAP)


def add_leader(parent: Element, x1: float, y1: float, x2: float, y2: float) -> None:
    """Draw the thin line from a tag to what it names."""
    add(
        parent,
        "line",
        class_="leader",
        x1=x1,
        y1=y1,
        x2=x2,
        y2=y2,
        stroke=FAINT_INK,
        stroke_width=0.8,
    )


def wall_height(barriers: int) -> float:
    """The drawn height of a wall, in drawing units, with room for its barriers' tags."""
    return max(110.0, (TAG_HEIGHT + TAG_GAP) * (barriers + 1))


def add_wall(canvas: Canvas, strips: Sequence[Strip], top: float, height: float) -> None:
    """Draw the strips of one wall; dashed outlines for what is not known."""
    for strip in strips:
        layer = strip.layer
        mark = kind_mark(layer.drawn_kind)
        is_uncertain = layer.thickness_mm is None or not layer.is_known
        box = Box(strip.x, top, strip.width, height)
        rect = canvas.add_hatched(canvas.body, box, mark, "layer", is_dashed=is_uncertain)
        add(rect, "title", text=f"{strip.tag} {layer.role}: {layer.words}")


def add_barriers(
    canvas: Canvas,
    strips: Sequence[Strip],
    barriers: Sequence[tuple[Tag, DrawnBarrier]],
    top: float,
    height: float,
) -> None:
    """Draw each barrier across every cavity, its tag to the right of the wall."""
    cavities = [strip for strip in strips if strip.layer.drawn_kind == "cavity"]
    if not cavities:
        return
    right = strips[-1].x + strips[-1].width
    for number, (tag, barrier) in enumerate(barriers, start=1):
        y = top + height * number / (len(barriers) + 1)
        tag_x = right + 12 + tag.width / 2
        add_leader(canvas.body, cavities[-1].x + cavities[-1].width, y, tag_x, y)
        for cavity in cavities:
            box = Box(cavity.x, y - _BARRIER_DEPTH / 2, cavity.width, _BARRIER_DEPTH)
            ground, class_ = (INK, "barrier") if barrier.known else (PAPER, "barrier-not-known")
            rect = add_outlined(canvas.body, box, ground, class_, is_dashed=not barrier.known)
            add(rect, "title", text=f"{tag.text} {barrier.words}")
        add_tag(canvas, tag_x, y - TAG_HEIGHT / 2, tag)


def add_scale_bar(canvas: Canvas, scale: Scale, x: float, y: float, longest: float) -> None:
    """Draw a bar of a round number of millimetres with its left end at (x, y)."""
    length_mm = scale_bar_mm(scale.units_per_mm, longest)
    if length_mm is None:
        return
    length = length_mm * scale.units_per_mm
    path = f"M{x:.2f} {y - 4:.2f}v8m0 -4h{length:.2f}m0 -4v8"
    add(canvas.body, "path", class_="scale-bar", d=path, fill="none", stroke=INK, stroke_width=1.5)
    add_text(canvas.body, x + length + 6, y + 4, [f"{length_mm} mm"], size=_TAG_SIZE)

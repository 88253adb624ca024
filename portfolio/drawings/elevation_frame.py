"""The frame of an elevation: ground, storeys, recorded heights and the lines across."""

from collections.abc import Sequence
from dataclasses import dataclass

from portfolio.drawings.amounts import amount_text
from portfolio.drawings.elevation_layout import Levels
from portfolio.drawings.facade_zones import ElevationDrawing
from portfolio.drawings.layout import spread
from portfolio.drawings.marks import FAINT_INK, INK, PAPER
from portfolio.drawings.svg import Box, Canvas, add, add_outlined, add_text
from portfolio.drawings.text import shorten

_SIZE = 10.0
_LABEL_GAP = 13.0
LEFT_GUTTER, RIGHT_GUTTER = 30.0, 62.0


@dataclass(frozen=True, slots=True)
class Pen:
    """How a line is drawn."""

    css_class: str
    colour: str
    width: float
    dash: str | None = None


_STOREY_LINE = Pen("storey-line", FAINT_INK, 0.5)
_GROUND_LINE = Pen("ground-line", INK, 2.5)
_HEIGHT_LINE = Pen("height-line", INK, 1.5, dash="7 4")
_HEIGHT_TICK = Pen("height-tick", INK, 1)


@dataclass(frozen=True, slots=True)
class Plot:
    """The rectangle that the faces of one row stand in, in drawing units."""

    x: float
    y: float
    width: float
    levels: Levels

    @property
    def right(self) -> float:
        """The right edge."""
        return self.x + self.width

    def y_of(self, level: float) -> float:
        """Where a level stands; level 0 is the ground."""
        return self.y + self.levels.y_of(level)


def add_face_outline(canvas: Canvas, plot: Plot, x: float, width: float) -> None:
    """Draw the outline and storey lines of a face; dashed where storeys are not counted."""
    levels = plot.levels
    top, bottom = plot.y_of(levels.top), plot.y_of(levels.lowest)
    box = Box(x, top, width, bottom - top)
    add_outlined(canvas.body, box, PAPER, "face", is_dashed=not levels.is_counted)
    for level in range(levels.lowest + 1, levels.top):
        _add_line(canvas, (x, x + width), plot.y_of(level), _STOREY_LINE)


def add_storey_labels(canvas: Canvas, plot: Plot) -> None:
    """Number the storeys to the left, as many of them as there is room for."""
    levels = plot.levels
    if not levels.has_storeys:
        return
    step = max(1, -(-int(_LABEL_GAP) // max(int(levels.unit), 1)))
    for storey in range(levels.lowest, levels.top):
        if storey % step == 0:
            y = plot.y_of(storey + 0.5) + _SIZE * 0.36
            text = f"{storey}"
            add_text(canvas.body, plot.x - 6, y, [text], size=_SIZE, anchor="end")


def add_ground(canvas: Canvas, plot: Plot) -> None:
    """Draw the ground as a thick line, wider than the building."""
    y = plot.y_of(0)
    _add_line(canvas, (plot.x - 4, plot.right + 4), y, _GROUND_LINE)


def add_heights(canvas: Canvas, plot: Plot, drawing: ElevationDrawing) -> None:
    """Write the heights to the right, and draw the lines that were asked for across the faces."""
    levels = plot.levels
    marks: list[tuple[float, float, bool]] = []
    top = drawing.top_floor_height_m
    if top is not None and levels.metres_per_storey is not None:
        marks.append((top / levels.metres_per_storey, top, False))
    for height in dict.fromkeys(height for height, _ in drawing.lines):
        level = levels.level_of(height)
        if level is not None and levels.shows(height):
            marks.append((level, height, True))
    marks.sort(reverse=True)
    _add_height_marks(canvas, plot, marks)


def _add_height_marks(
    canvas: Canvas, plot: Plot, marks: Sequence[tuple[float, float, bool]]
) -> None:
    wanted = [plot.y_of(level) for level, _, _ in marks]
    low, high = plot.y - 4, plot.y + plot.levels.height
    placed = spread(wanted, gap=_LABEL_GAP, low=low, high=high)
    for (_, height, is_line), y, label_y in zip(marks, wanted, placed, strict=True):
        start = plot.x - 4 if is_line else plot.right
        pen = _HEIGHT_LINE if is_line else _HEIGHT_TICK
        _add_line(canvas, (start, plot.right + 4), y, pen)
        add(
            canvas.body,
            "path",
            class_="leader",
            d=f"M{plot.right + 4:.2f} {y:.2f}L{plot.right + 9:.2f} {label_y:.2f}",
            fill="none",
            stroke=FAINT_INK,
            stroke_width=0.8,
        )
        x = plot.right + 11
        label = shorten(amount_text(height, "m"), canvas.width - x, _SIZE, bold=is_line)
        add_text(canvas.body, x, label_y + _SIZE * 0.36, [label], size=_SIZE, bold=is_line)


def _add_line(canvas: Canvas, ends: tuple[float, float], y: float, pen: Pen) -> None:
    add(
        canvas.body,
        "line",
        class_=pen.css_class,
        x1=ends[0],
        y1=y,
        x2=ends[1],
        y2=y,
        stroke=pen.colour,
        stroke_width=pen.width,
        stroke_dasharray=pen.dash,
    )


def height_notes(drawing: ElevationDrawing, levels: Levels) -> list[str]:
    """Say what the heights stand for, and which could not be drawn."""
    notes = []
    top = drawing.top_floor_height_m
    if top is not None:
        notes.append(f"Floor of the top storey: {amount_text(top, 'm')} above the ground.")
    if levels.metres_per_storey is not None:
        notes.append("Only that floor is recorded; the floors below are drawn evenly.")
    for height, label in drawing.lines:
        text = f"{amount_text(height, 'm')}: {label}"
        if levels.shows(height):
            notes.append(f"Dashed line at {text}.")
        elif levels.metres_per_storey is None:
            notes.append(f"Not drawn, because heights are not recorded: {text}.")
        else:
            notes.append(f"Not drawn, because far above the roof: {text}.")
    return notes

"""The faces of one building side by side, with each zone where it is and what covers it.

A diagram by storeys, not a measured drawing: widths follow areas, and what nobody recorded is
shown as not recorded.
"""

from collections.abc import Sequence

from portfolio.drawings.captions import MARGIN, add_heading, add_notes
from portfolio.drawings.elevation_frame import (
    LEFT_GUTTER,
    RIGHT_GUTTER,
    Plot,
    add_face_outline,
    add_ground,
    add_heights,
    add_storey_labels,
    height_notes,
)
from portfolio.drawings.elevation_layout import Levels, boxes_for, levels_for
from portfolio.drawings.facade_zones import DrawnFace, DrawnZone, ElevationDrawing
from portfolio.drawings.legend import add_legend
from portfolio.drawings.marks import COVERAGES
from portfolio.drawings.svg import Box, Canvas, add_text, line_height
from portfolio.drawings.text import shorten
from portfolio.drawings.zone_boxes import add_zone_box, add_zone_chips, add_zone_label, zone_words

__all__ = ["DrawnFace", "DrawnZone", "ElevationDrawing", "elevation"]

_SIZE = 11.0
_FACE_GAP = 14.0
_NARROWEST_FACE = 118.0


def elevation(drawing: ElevationDrawing, *, id_prefix: str, width: float = 360) -> str:
    """Draw the faces of a building as SVG text `width` units wide.

    As many faces stand side by side as the width has room for; the rest follow in rows below.
    Every id in the SVG begins with `id_prefix`, so that several drawings can share a page.
    """
    canvas = Canvas(id_prefix=id_prefix, width=width)
    levels = levels_for(drawing)
    notes = _storey_notes(drawing, levels)
    y = add_heading(canvas, drawing.name, MARGIN)
    unwritten: list[DrawnZone] = []
    for row in _rows(drawing.faces, width):
        missed, y = _add_row(canvas, drawing, row, levels, y)
        unwritten.extend(missed)
    if not drawing.faces:
        notes.insert(0, "No faces recorded.")
    y = _add_unplaced(canvas, drawing, y)
    occurring = {zone.coverage for zone in drawing.zones}
    used = [mark for value, mark in COVERAGES.items() if value in occurring]
    y = add_legend(canvas, y + 2, used)
    notes.extend(height_notes(drawing, levels))
    shown = [*notes, *_unwritten_notes(unwritten)]
    height = add_notes(canvas, y + 4, shown) + MARGIN
    return canvas.finish(
        title=f"Elevations: {drawing.name}",
        desc=_described(drawing, notes),
        height=height,
        kind="elevation",
    )


def _rows(faces: Sequence[DrawnFace], width: float) -> list[Sequence[DrawnFace]]:
    room = width - LEFT_GUTTER - RIGHT_GUTTER + _FACE_GAP
    per_row = max(1, int(room / (_NARROWEST_FACE + _FACE_GAP)))
    return [faces[start : start + per_row] for start in range(0, len(faces), per_row)]


def _add_row(
    canvas: Canvas,
    drawing: ElevationDrawing,
    faces: Sequence[DrawnFace],
    levels: Levels,
    y: float,
) -> tuple[list[DrawnZone], float]:
    """Draw faces side by side; give the zones too small for their reference, and the new y."""
    plot_width = canvas.width - LEFT_GUTTER - RIGHT_GUTTER
    names_height = line_height(_SIZE) + 6
    plot = Plot(LEFT_GUTTER, y + names_height, plot_width, levels)
    face_width = (plot_width - _FACE_GAP * (len(faces) - 1)) / len(faces)
    places: list[tuple[DrawnZone, Box]] = []
    for number, face in enumerate(faces):
        x = plot.x + number * (face_width + _FACE_GAP)
        name = shorten(face.name, face_width, _SIZE, bold=True)
        full = face.name if name != face.name else None
        add_text(canvas.body, x, y + _SIZE, [name], size=_SIZE, bold=True, full=full)
        add_face_outline(canvas, plot, x, face_width)
        for box in boxes_for(face.zones, levels, face_width):
            places.append((box.zone, Box(x + box.x, plot.y + box.y, box.width, box.height)))
            add_zone_box(canvas, *places[-1])
    add_storey_labels(canvas, plot)
    add_ground(canvas, plot)
    add_heights(canvas, plot, drawing)
    unwritten = [zone for zone, place in places if not add_zone_label(canvas, zone, place)]
    return unwritten, plot.y + levels.height + 12


def _add_unplaced(canvas: Canvas, drawing: ElevationDrawing, y: float) -> float:
    unplaced = [
        (face.name, zone) for face in drawing.faces for zone in face.zones if zone.storeys is None
    ]
    if not unplaced:
        return y
    add_text(canvas.body, MARGIN, y + _SIZE, ["place not recorded"], size=_SIZE, bold=True)
    return add_zone_chips(canvas, unplaced, y + line_height(_SIZE) + 4) + 4


def _storey_notes(drawing: ElevationDrawing, levels: Levels) -> list[str]:
    if drawing.storeys is None:
        return ["Number of storeys not recorded: drawn dashed, only as high as the recorded zones."]
    if levels.top > drawing.storeys:
        return [
            f"{drawing.storeys} storeys are recorded, but a zone reaches storey "
            f"{levels.top - 1} (the ground storey is 0)."
        ]
    return []


def _unwritten_notes(zones: Sequence[DrawnZone]) -> list[str]:
    if not zones:
        return []
    refs = ", ".join(zone_words(zone) for zone in zones)
    return [f"Too small above for its reference: {refs}."]


def _described(drawing: ElevationDrawing, notes: Sequence[str]) -> str:
    parts = [f"{drawing.name}, by faces and storeys; storey 0 is at the ground."]
    for face in drawing.faces:
        zones = "; ".join(f"{zone_words(zone)}, {_place(zone)}" for zone in face.zones)
        parts.append(f"{face.name}: {zones or 'no zones recorded'}.")
    return " ".join([*parts, *notes])


def _place(zone: DrawnZone) -> str:
    if zone.storeys is None:
        return "place not recorded"
    low, high = zone.storeys
    return f"storey {low}" if low == high else f"storeys {low} to {high}"

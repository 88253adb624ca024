"""The test rig unfolded, with its channels by level and face, each with its rise at a moment.

A diagram, not to scale. Grounds deepen with the rise, and every box says its number, so that
nothing rests on colour.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from portfolio.drawings.captions import MARGIN, add_heading, add_notes
from portfolio.drawings.marks import BLACK, INK, PAPER, VERMILION, tint
from portfolio.drawings.svg import Box, Canvas, add, add_box, add_outlined, add_text, line_height
from portfolio.drawings.text import shorten, shorten_alike, text_width, wrap
from portfolio.drawings.traces import DrawnChannel, RigDrawing

__all__ = ["DrawnChannel", "RigDrawing", "rig"]

_SIZE = 11.0
_NUMBER_SIZE = 12.0
_BOX_WIDTH, _BOX_HEIGHT, _GAP = 40.0, 45.0, 3.0
_MOST_LINES = 4
_MAIN_SHARE = 0.62
_OPENING_HEIGHT = 46.0
_FACES = ("main", "wing", "")
_FACE_WORDS = {"main": "main face", "wing": "wing", "": "face not told"}

# Bands of the rise in K, ours, only for the eye; the criteria are told in words.
_BANDS = (
    (0.0, "under 100 K", tint(VERMILION, 0.0)),
    (100.0, "100 K and over", tint(VERMILION, 0.12)),
    (200.0, "200 K and over", tint(VERMILION, 0.25)),
    (400.0, "400 K and over", tint(VERMILION, 0.42)),
    (600.0, "600 K and over", tint(VERMILION, 0.62)),
)
_NO_READING = tint(BLACK, 0.1)


@dataclass(frozen=True, slots=True)
class _Faces:
    """Where each face stands, from left to right."""

    x: dict[str, float]
    width: dict[str, float]


def rig(drawing: RigDrawing, *, id_prefix: str, width: float = 360) -> str:
    """Draw the rig as SVG text `width` units wide.

    Every id in the SVG begins with `id_prefix`, so that several drawings can share a page.
    """
    canvas = Canvas(id_prefix=id_prefix, width=width)
    y = add_heading(canvas, drawing.title, MARGIN)
    faces = _faces(drawing, width)
    for face, x in faces.x.items():
        name = shorten(_FACE_WORDS[face], faces.width[face], _SIZE, bold=True)
        add_text(canvas.body, x, y + _SIZE, [name], size=_SIZE, bold=True)
    top = y + line_height(_SIZE) + 4
    ground = add(canvas.body, "g", class_="faces")
    y = top + 4
    for level, words in sorted(drawing.levels, reverse=True):
        y = _add_level(canvas, drawing, faces, (level, words), y)
    bottom = y + _OPENING_HEIGHT
    for face, x in faces.x.items():
        add_outlined(ground, Box(x, top, faces.width[face], bottom - top), PAPER, "face")
    _add_opening(canvas, faces, bottom)
    y = _add_bands(canvas, bottom + 10)
    notes = [
        "Large numbers are rises over the start temperature in whole K, what is less is cut off; "
        "– is no reading; a thick frame is over the limit at this moment. Under them stands the "
        "position in mm. Not to scale, the wing unfolded.",
    ]
    height = add_notes(canvas, y + 2, notes) + MARGIN
    return canvas.finish(
        title=f"Rig: {drawing.title}", desc=_described(drawing), height=height, kind="rig"
    )


def _faces(drawing: RigDrawing, width: float) -> _Faces:
    """Main face and wing always; a third place only for channels whose face is not told."""
    is_there = any(channel.face not in _FACES[:2] for channel in drawing.channels)
    room = width - 2 * MARGIN - 8 * (2 if is_there else 1)
    shares = {"main": 0.43, "wing": 0.26, "": 0.31} if is_there else {}
    shares = shares or {"main": _MAIN_SHARE, "wing": 1 - _MAIN_SHARE}
    widths = {face: room * share for face, share in shares.items()}
    starts, x = {}, MARGIN
    for face, wide in widths.items():
        starts[face] = x
        x += wide + 8
    return _Faces(starts, widths)


def _add_level(
    canvas: Canvas, drawing: RigDrawing, faces: _Faces, level: tuple[int, str], y: float
) -> float:
    """One level: its words, and a row of boxes for the outside and for each layer."""
    number, words = level
    members = [channel for channel in drawing.channels if channel.level == number]
    # within the frame of the first face, so that no caption runs through another one's
    room = faces.width[_FACES[0]] - 8
    y = _add_caption(canvas, words, room, y, bold=True) + 2
    for row in dict.fromkeys(channel.row for channel in members):
        y = _add_caption(canvas, row, room, y)
        y = _add_row(canvas, faces, [channel for channel in members if channel.row == row], y)
    return y + 6


def _add_caption(canvas: Canvas, words: str, room: float, y: float, *, bold: bool = False) -> float:
    """Words at the left of the first face, on as many lines as they need; gives the new y."""
    shown = wrap(words, room, _SIZE, max_lines=_MOST_LINES, bold=bold)
    full = words if shown.is_shortened else None
    add_text(canvas.body, MARGIN + 4, y + _SIZE, shown.lines, size=_SIZE, bold=bold, full=full)
    return y + line_height(_SIZE) * len(shown.lines)


def _add_row(canvas: Canvas, faces: _Faces, channels: Sequence[DrawnChannel], y: float) -> float:
    """The boxes of one row, in order of position on each face, in as many lines as needed."""
    lowest = y
    for face, x in faces.x.items():
        here = [c for c in channels if (c.face if c.face in _FACES[:2] else "") == face]
        here.sort(key=lambda c: (c.position_mm is None, c.position_mm or 0.0, c.label))
        labels = shorten_alike([c.label for c in here], _BOX_WIDTH - 3, _SIZE - 1)
        each = max(1, int((faces.width[face] - 2) // (_BOX_WIDTH + _GAP)))
        for number, (channel, label) in enumerate(zip(here, labels, strict=True)):
            line, place = divmod(number, each)
            in_line = min(each, len(here) - line * each)
            used = in_line * (_BOX_WIDTH + _GAP) - _GAP
            left = x + max((faces.width[face] - used) / 2, 1) + place * (_BOX_WIDTH + _GAP)
            wide = min(_BOX_WIDTH, faces.width[face] - 2)
            box = Box(left, y + line * (_BOX_HEIGHT + _GAP), wide, _BOX_HEIGHT)
            _add_channel(canvas, box, channel, label)
            lowest = max(lowest, box.y + _BOX_HEIGHT)
    return lowest + _GAP


def _add_channel(canvas: Canvas, box: Box, channel: DrawnChannel, label: str) -> None:
    group = add(canvas.body, "g", class_="channel")
    add(group, "title", text=_channel_words(channel))
    add_box(
        group,
        box,
        class_="channel-box over" if channel.is_over else "channel-box",
        fill=_ground(channel.rise_k),
        stroke=INK,
        stroke_width=3 if channel.is_over else 0.8,
    )
    name = shorten(label, box.width - 3, _SIZE - 1)
    number = shorten(_number(channel.rise_k), box.width - 2, _NUMBER_SIZE, bold=True)
    add_text(group, box.centre, box.y + 12, [name], size=_SIZE - 1, anchor="middle")
    add_text(group, box.centre, box.y + 26, [number], size=_NUMBER_SIZE, anchor="middle", bold=True)
    # boxes that need several lines stand where there is room: only their words tell the place
    at = "" if channel.position_mm is None else f"{channel.position_mm:+g}".replace("+0", "0")
    place = shorten(at, box.width - 2, _SIZE - 1)
    add_text(group, box.centre, box.y + 40, [place], size=_SIZE - 1, anchor="middle")


def _number(rise_k: float | None) -> str:
    """Whole K cut off, never up: a number does not stand on the ground of a higher band."""
    return "–" if rise_k is None else str(int(rise_k))


def _ground(rise_k: float | None) -> str:
    if rise_k is None:
        return _NO_READING
    return next((fill for low, _, fill in reversed(_BANDS) if rise_k >= low), _BANDS[0][2])


def _add_opening(canvas: Canvas, faces: _Faces, bottom: float) -> None:
    """The chamber's opening at the foot of the main face."""
    x, wide = faces.x["main"], faces.width["main"]
    box = Box(x + wide * 0.2, bottom - _OPENING_HEIGHT + 8, wide * 0.6, _OPENING_HEIGHT - 8)
    add_outlined(canvas.body, box, tint(BLACK, 0.15), "opening")
    words = shorten("opening", box.width - 4, _SIZE)
    add_text(canvas.body, box.centre, box.middle + 4, [words], size=_SIZE, anchor="middle")


def _add_bands(canvas: Canvas, y: float) -> float:
    """The key to the grounds, as many to a line as there is room for; gives the new y."""
    x = MARGIN
    for _, words, fill in (*_BANDS, (0.0, "no reading", _NO_READING)):
        wide = 20 + 5 + text_width(words, _SIZE)
        if x > MARGIN and x + wide > canvas.width - MARGIN:
            x, y = MARGIN, y + 20
        add_outlined(canvas.body, Box(x, y, 20, 14), fill, "band")
        add_text(canvas.body, x + 25, y + 11, [words], size=_SIZE)
        x += wide + 12
    return y + 20


def _channel_words(channel: DrawnChannel) -> str:
    told = "no reading" if channel.rise_k is None else f"a rise of {_number(channel.rise_k)} K"
    at = "" if channel.position_mm is None else f" at {channel.position_mm:g} mm"
    over = ", over the limit" if channel.is_over else ""
    face = _FACE_WORDS.get(channel.face, _FACE_WORDS[""])
    return f"{channel.label}, {channel.row}, {face}{at}: {told}{over}"


def _described(drawing: RigDrawing) -> str:
    parts = [f"{drawing.title}."]
    for number, words in sorted(drawing.levels):
        members = [c for c in drawing.channels if c.level == number]
        told = "; ".join(_channel_words(channel) for channel in members) or "no channel"
        parts.append(f"{words}: {told}.")
    return " ".join(parts)

"""The hatches: one small tile of lines and dots each, repeated over an area.

Tiles are paths and dots only, never text, so that they look alike in a browser, in print and in
a PDF whatever fonts are there. Lengths are drawing units.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Hatch:
    """A tile `width` by `height`: path texts to stroke and dots `(x, y, radius)` to fill."""

    width: float
    height: float
    strokes: tuple[str, ...] = ()
    dots: tuple[tuple[float, float, float], ...] = ()
    stroke_width: float = 0.9


_QUESTION = "M3.4 4.6a2.6 2.6 0 1 1 3.7 2.4q-1.1 .5 -1.1 2"

HATCHES: dict[str, Hatch] = {
    "plain": Hatch(8, 8),
    "level-lines": Hatch(10, 10, ("M0 5H10",)),
    "upright-lines": Hatch(8, 8, ("M4 0V8",)),
    "rising-diagonals": Hatch(9, 9, ("M-2 2L2 -2M0 9L9 0M7 11L11 7",)),
    "falling-dashes": Hatch(10, 10, ("M1 1L5.5 5.5M6 -4L10.5 .5M6 6L10.5 10.5",)),
    "crossed-diagonals": Hatch(9, 9, ("M-1 10L10 -1", "M-1 -1L10 10")),
    "paired-diagonals": Hatch(8, 8, ("M-2 2L2 -2M0 8L8 0M6 10L10 6", "M-1 4L4 -1M2.5 9L9 2.5")),
    "rings": Hatch(12, 12, ("M4 6a2 2 0 1 0 4 0a2 2 0 1 0 -4 0",)),
    "question-marks": Hatch(14, 14, (_QUESTION,), ((6, 11.2, 0.8),)),
    "zigzag": Hatch(8, 12, ("M0 10L4 2L8 10",)),
    "loops": Hatch(12, 16, ("M0 10V6a3 3 0 0 1 6 0V10a3 3 0 0 0 6 0V6",)),
    "aggregate": Hatch(
        16, 16, ("M3 4L6 3L5 6.5Z", "M10 11L13.5 12L10.5 14Z"), ((12, 4, 0.8), (4, 12, 0.8))
    ),
    "fine-stipple": Hatch(6, 6, (), ((1.5, 1.5, 0.6), (4.5, 4.5, 0.6))),
    "sand": Hatch(5, 7, (), ((1, 1, 0.8), (3.5, 3, 0.5), (1.5, 5.5, 0.6))),
    "grain": Hatch(12, 12, ("M-1 4Q6 -1 13 4", "M-1 8Q6 3 13 8", "M-1 12Q6 7 13 12")),
    "dashes": Hatch(4, 10, ("M2 0V6",), stroke_width=3),
    "laminate": Hatch(6, 8, ("M1 0V8", "M3 0V8")),
    "sparse-strokes": Hatch(18, 18, ("M2 9L8 3", "M5 10L11 4", "M8 11L14 5")),
    "crosses": Hatch(10, 10, ("M3 5H7", "M5 3V7")),
}

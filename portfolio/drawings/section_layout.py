"""The measures of a wall section: scale, strip widths, and which layers share a tag number."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from portfolio.drawings.wall_layers import DrawnBarrier, DrawnLayer

THINNEST_DRAWN = 4.0
UNKNOWN_WIDTH = 30.0
LARGEST_SCALE = 1.5
SCALE_BAR_LENGTHS_MM = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000)


@dataclass(frozen=True, slots=True)
class Scale:
    """Drawing units per millimetre, and the widths given to what cannot be drawn to scale."""

    units_per_mm: float
    thinnest: float
    unknown: float

    def width_of(self, layer: DrawnLayer) -> float:
        """The drawn width, in drawing units, of a layer that is there."""
        if layer.thickness_mm is None:
            return self.unknown
        return max(layer.thickness_mm * self.units_per_mm, self.thinnest)

    def is_widened(self, layer: DrawnLayer) -> bool:
        """Whether a layer is drawn wider than the scale would have it, so as to be seen."""
        if layer.thickness_mm is None:
            return False
        return layer.thickness_mm * self.units_per_mm < self.thinnest


@dataclass(frozen=True, slots=True)
class Strip:
    """A layer in its place: left edge and width in drawing units, and its tag number."""

    layer: DrawnLayer
    tag: int
    x: float
    width: float

    @property
    def centre(self) -> float:
        """The middle of the strip, in drawing units."""
        return self.x + self.width / 2


def scale_for(walls: Sequence[Sequence[DrawnLayer]], available: float) -> Scale:
    """Give the one scale at which each of the walls fits into `available` drawing units."""
    drawn = [[layer for layer in wall if layer.present] for wall in walls]
    most = max((len(wall) for wall in drawn), default=0) or 1
    # Half of the width at most goes to what is not to scale, however many such layers there are.
    thinnest = min(THINNEST_DRAWN, available / 2 / most)
    unknown = min(UNKNOWN_WIDTH, available / 2 / most)
    scales = [_largest_scale(wall, available, thinnest, unknown) for wall in drawn]
    return Scale(min(scales, default=LARGEST_SCALE), thinnest, unknown)


def _largest_scale(
    wall: Sequence[DrawnLayer], available: float, thinnest: float, unknown: float
) -> float:
    thicknesses = sorted(layer.thickness_mm for layer in wall if layer.thickness_mm is not None)
    left = available - unknown * (len(wall) - len(thicknesses))
    # From the thinnest up: leave out whatever would be drawn at its minimum anyway.
    for number, thickness in enumerate(thicknesses):
        total = sum(thicknesses[number:])
        scale = (left - thinnest * number) / total if total > 0 else LARGEST_SCALE
        if thickness * scale >= thinnest:
            return min(scale, LARGEST_SCALE)
    return LARGEST_SCALE


def strips_for(
    layers: Sequence[DrawnLayer], tags: Sequence[int], scale: Scale, x: float
) -> tuple[Strip, ...]:
    """Place the layers that are there side by side from `x`, the inside face, outwards."""
    strips: list[Strip] = []
    for layer, tag in zip(layers, tags, strict=True):
        if layer.present:
            strips.append(Strip(layer, tag, x, scale.width_of(layer)))
            x += strips[-1].width
    return tuple(strips)


def paired_tags(left: Sequence[str], right: Sequence[str]) -> tuple[list[int], list[int]]:
    """Number the keys of two sequences, 1 upwards, equal keys alike, in the order of both.

    A key that occurs twice on one side is matched with its second occurrence on the other.

    >>> paired_tags(["lining", "cavity", "facing"], ["lining", "membrane", "facing"])
    ([1, 2, 4], [1, 3, 4])
    """
    ours, theirs = _occurrences(left), _occurrences(right)
    merged = list(ours)
    at = 0
    for key in theirs:
        if key in merged:
            at = max(at, merged.index(key) + 1)
        else:
            # After what precedes it in its own wall, and after the other wall's own layers there.
            while at < len(merged) and merged[at] not in theirs:
                at += 1
            merged.insert(at, key)
            at += 1
    number_of = {key: number for number, key in enumerate(merged, start=1)}
    return [number_of[key] for key in ours], [number_of[key] for key in theirs]


def _occurrences(keys: Sequence[str]) -> list[tuple[str, int]]:
    seen: Counter[str] = Counter()
    result = []
    for key in keys:
        seen[key] += 1
        result.append((key, seen[key]))
    return result


def layer_tags(
    left: Sequence[DrawnLayer], right: Sequence[DrawnLayer]
) -> tuple[list[int], list[int]]:
    """Number the layers of two walls, those that stand for each other alike."""
    return paired_tags(
        [layer.pairing_key for layer in left], [layer.pairing_key for layer in right]
    )


def barrier_tags(
    left: Sequence[DrawnBarrier], right: Sequence[DrawnBarrier]
) -> tuple[list[int], list[int]]:
    """Number the barriers of two walls, those that stand for each other alike."""
    return paired_tags(
        [barrier.pairing_key for barrier in left], [barrier.pairing_key for barrier in right]
    )


def scale_bar_mm(units_per_mm: float, longest: float) -> int | None:
    """Choose the longest round length that fits, or None where no millimetre can be seen."""
    fitting = [length for length in SCALE_BAR_LENGTHS_MM if length * units_per_mm <= longest]
    return fitting[-1] if fitting and fitting[-1] * units_per_mm > THINNEST_DRAWN else None

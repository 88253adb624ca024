"""The measures of an elevation: storeys, heights, and where each zone's rectangle stands."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from portfolio.drawings.facade_zones import DrawnZone, ElevationDrawing
from portfolio.drawings.layout import share_out

_STOREY_HEIGHT = 26.0
_LOWEST_PLOT, _HIGHEST_PLOT = 110.0, 420.0
_NARROWEST_ZONE = 12.0
_SKY_SHARE = 0.6


@dataclass(frozen=True, slots=True)
class Levels:
    """Storeys drawn, from `lowest` up to but not including `top`, at `unit` high each.

    `sky` is how many storeys of room there are above the roof for height lines.
    `metres_per_storey` is None where heights cannot be placed; `has_storeys` is False where no
    storey is known of at all.
    """

    lowest: int
    top: int
    sky: float
    unit: float
    metres_per_storey: float | None
    is_counted: bool
    has_storeys: bool

    @property
    def height(self) -> float:
        """The whole height of the plot in drawing units."""
        return (self.top - self.lowest + self.sky) * self.unit

    def y_of(self, level: float) -> float:
        """How far below the top of the plot a level stands; level 0 is the ground."""
        return (self.top + self.sky - level) * self.unit

    def level_of(self, height_m: float) -> float | None:
        """The level, in storeys above the ground, of a height in metres; None if not to be had."""
        if self.metres_per_storey is None:
            return None
        return height_m / self.metres_per_storey

    def shows(self, height_m: float) -> bool:
        """Whether a line at this height falls inside the plot."""
        level = self.level_of(height_m)
        return level is not None and level <= self.top + self.sky


def levels_for(drawing: ElevationDrawing) -> Levels:
    """Choose the storeys to draw: all that are counted, and all that any zone reaches."""
    placed = [zone.storeys for zone in drawing.zones if zone.storeys is not None]
    lowest = min((low for low, _ in placed), default=0)
    highest = max((high for _, high in placed), default=-1)
    top = max(drawing.storeys or 0, highest + 1, 1)
    metres = _metres_per_storey(drawing)
    sky = _sky(drawing, top, metres)
    is_counted = drawing.storeys is not None
    count = top - min(lowest, 0) + sky
    plot = min(max(count * _STOREY_HEIGHT, _LOWEST_PLOT), _HIGHEST_PLOT)
    return Levels(
        min(lowest, 0), top, sky, plot / count, metres, is_counted, is_counted or bool(placed)
    )


def _metres_per_storey(drawing: ElevationDrawing) -> float | None:
    """Share the recorded height of the top floor out evenly over the storeys below it."""
    if not drawing.top_floor_height_m or drawing.storeys is None or drawing.storeys == 1:
        return None
    # of the smallest number that there is, a share is 0
    return drawing.top_floor_height_m / (drawing.storeys - 1) or None


def _sky(drawing: ElevationDrawing, top: int, metres: float | None) -> float:
    if metres is None:
        return 0.0
    # A line far above the roof would squash the building: it is named in a note instead.
    most = max(top * _SKY_SHARE, 2.0)
    levels = (height / metres - top for height, _ in drawing.lines)
    above = [level + 0.4 for level in levels if 0 < level + 0.4 <= most]
    return max(above, default=0.0)


@dataclass(frozen=True, slots=True)
class ZoneBox:
    """A zone's rectangle on its face, in drawing units from the face's top left corner."""

    zone: DrawnZone
    x: float
    y: float
    width: float
    height: float


class _Placed(NamedTuple):
    """A zone whose storeys, from `low` to `high`, are recorded."""

    zone: DrawnZone
    low: int
    high: int


def boxes_for(zones: Sequence[DrawnZone], levels: Levels, width: float) -> tuple[ZoneBox, ...]:
    """Place the zones of one face whose storeys are recorded, so that none covers another.

    Zones of the same storeys share the width by area, as do zones whose storeys overlap.
    """
    placed = [_Placed(zone, *zone.storeys) for zone in zones if zone.storeys is not None]
    boxes: list[ZoneBox] = []
    for cluster in _clusters(placed):
        lanes = _lanes(cluster)
        usual = _usual_area(cluster)
        weights = [max(_breadth(group, usual) for group in lane) for lane in lanes]
        minimum = _NARROWEST_ZONE * max(len(group) for lane in lanes for group in lane)
        shares = share_out(weights, width, minimum=minimum)
        x = 0.0
        for lane, share in zip(lanes, shares, strict=True):
            for group in lane:
                boxes.extend(_group_boxes(group, levels, x, share, usual))
            x += share
    return tuple(boxes)


def _clusters(placed: Sequence[_Placed]) -> list[list[_Placed]]:
    """Part the zones into runs that no storey has in common with another run."""
    clusters: list[list[_Placed]] = []
    reach = 0
    for zone in sorted(placed, key=lambda zone: (zone.low, zone.high)):
        if clusters and zone.low <= reach:
            clusters[-1].append(zone)
            reach = max(reach, zone.high)
        else:
            clusters.append([zone])
            reach = zone.high
    return clusters


def _lanes(cluster: Sequence[_Placed]) -> list[list[list[_Placed]]]:
    """Give each group of zones with the same storeys a lane with room for it."""
    groups: dict[tuple[int, int], list[_Placed]] = {}
    for zone in cluster:
        groups.setdefault((zone.low, zone.high), []).append(zone)
    lanes: list[list[list[_Placed]]] = []
    for (low, _), group in groups.items():
        lane = next((lane for lane in lanes if lane[-1][0].high < low), None)
        if lane is None:
            lanes.append([group])
        else:
            lane.append(group)
    return lanes


def _usual_area(cluster: Sequence[_Placed]) -> float:
    """The mean of the known areas in m2, standing in for those that are not known."""
    known = [placed.zone.area_m2 for placed in cluster if placed.zone.area_m2 is not None]
    return sum(known) / len(known) if known else 1.0


def _area(placed: _Placed, usual: float) -> float:
    return usual if placed.zone.area_m2 is None else placed.zone.area_m2


def _breadth(group: Sequence[_Placed], usual: float) -> float:
    return sum(_area(placed, usual) for placed in group) / (group[0].high - group[0].low + 1)


def _group_boxes(
    group: Sequence[_Placed], levels: Levels, x: float, width: float, usual: float
) -> list[ZoneBox]:
    top = levels.y_of(group[0].high + 1)
    height = levels.y_of(group[0].low) - top
    areas = [_area(placed, usual) for placed in group]
    boxes = []
    for placed, share in zip(group, share_out(areas, width, minimum=_NARROWEST_ZONE), strict=True):
        boxes.append(ZoneBox(placed.zone, x, top, share, height))
        x += share
    return boxes

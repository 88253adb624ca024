"""What an elevation is drawn from: faces, their zones, and the heights of one building."""

import math
from dataclasses import dataclass

from portfolio.drawings.marks import coverage_mark

HIGHEST_STOREY = 300
LOWEST_STOREY = -20
HIGHEST_LINE_M = 999


@dataclass(frozen=True, slots=True)
class DrawnZone:
    """A zone of a face, from one storey to another, both included.

    Storeys count from 0, the storey at the ground; basements are negative. A zone with either
    storey None has no recorded place. `area_m2` is None where it is not known.
    """

    ref: str
    label: str
    coverage: str
    from_storey: int | None = None
    to_storey: int | None = None
    area_m2: float | None = None
    href: str | None = None

    def __post_init__(self) -> None:
        coverage_mark(self.coverage)
        for storey in (self.from_storey, self.to_storey):
            if storey is not None and not LOWEST_STOREY <= storey <= HIGHEST_STOREY:
                raise ValueError(
                    f'Zone "{self.ref}": storey {storey} cannot be drawn; storeys count from 0 '
                    f"at the ground, {LOWEST_STOREY} to {HIGHEST_STOREY}."
                )
        if self.area_m2 is not None and not (math.isfinite(self.area_m2) and self.area_m2 >= 0):
            raise ValueError(
                f'Zone "{self.ref}": an area of {self.area_m2} m² cannot be drawn; give 0 or '
                "more, or None where it is not known."
            )

    @property
    def storeys(self) -> tuple[int, int] | None:
        """The lowest and the highest storey, or None where the place is not recorded."""
        if self.from_storey is None or self.to_storey is None:
            return None
        return min(self.from_storey, self.to_storey), max(self.from_storey, self.to_storey)


@dataclass(frozen=True, slots=True)
class DrawnFace:
    """One face of a building and its zones."""

    name: str
    zones: tuple[DrawnZone, ...]


@dataclass(frozen=True, slots=True)
class ElevationDrawing:
    """A building: `storeys` from the ground up, or None where nobody has counted.

    `top_floor_height_m` is the floor of the top storey above the ground, in metres. `lines` are
    heights in metres to draw across, each with what it stands for.
    """

    name: str
    faces: tuple[DrawnFace, ...]
    storeys: int | None = None
    top_floor_height_m: float | None = None
    lines: tuple[tuple[float, str], ...] = ()

    def __post_init__(self) -> None:
        if self.storeys is not None and not 1 <= self.storeys <= HIGHEST_STOREY:
            raise ValueError(
                f'"{self.name}": {self.storeys} storeys cannot be drawn; give 1 to '
                f"{HIGHEST_STOREY}, or None where nobody has counted."
            )
        heights = [height for height, _ in self.lines]
        if self.top_floor_height_m is not None:
            heights.append(self.top_floor_height_m)
        for height in heights:
            if not (math.isfinite(height) and 0 <= height <= HIGHEST_LINE_M):
                raise ValueError(
                    f'"{self.name}": a height of {height} m cannot be drawn; give metres above '
                    f"the ground, 0 to {HIGHEST_LINE_M}."
                )

    @property
    def zones(self) -> tuple[DrawnZone, ...]:
        """The zones of all faces."""
        return tuple(zone for face in self.faces for zone in face.zones)

"""What surveys see of a wall: from everything down to nothing.

A view takes the wall that is there and gives the layers that one kind of survey would report.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, replace

from walls import Cells, Wall, layer

# What a look from outside cannot tell apart.
LOOKS_LIKE = {
    "metal-composite-panel": "metal-composite-panel | solid-aluminium",
    "solid-aluminium": "metal-composite-panel | solid-aluminium",
    "zinc-composite-panel": "zinc-composite-panel | solid-zinc",
    "aluminium-honeycomb": "aluminium-honeycomb | solid-aluminium",
    "thin-render": "thin-render | thick-render",
    "brick-slip": "brick-slip | clay-brick",
    "clay-brick": "brick-slip | clay-brick",
    "timber": "timber | wood-plastic-composite",
    "wood-plastic-composite": "timber | wood-plastic-composite",
    "high-pressure-laminate": "high-pressure-laminate | fibre-cement",
}
TOLERANCE_MM = {"insulation": 2, "cavity": 2, "frame": 4, "lining": 0.5, "sheathing": 0.5}
"""How far the demo's surveyors are off; within the measuring tolerance of the house rules."""
FAMILY_UNKNOWN = {"family": "", "substrate": ""}

View = Callable[[Wall], Wall]


def pick(wall: Wall, **columns: tuple[str, ...]) -> Wall:
    """Only some columns of some roles: `facing=("material", "class")`."""
    layers = []
    for old in wall.layers:
        wanted = columns.get(old["role"].replace("-", "_"))
        if wanted is not None:
            layers.append({"role": old["role"]} | {key: old.get(key, "") for key in wanted})
    return replace(wall, layers=tuple(layers))


def whole(wall: Wall) -> Wall:
    return wall


def measured(wall: Wall, rng: random.Random) -> Wall:
    """The same layers measured with a tape: a little off the drawing board's round numbers."""
    return replace(wall, layers=tuple(_measured(old, rng) for old in wall.layers))


def _measured(old: Cells, rng: random.Random) -> Cells:
    off = TOLERANCE_MM.get(old["role"])
    if off is None or not old.get("thickness_mm"):
        return old
    return old | {"thickness_mm": f"{float(old['thickness_mm']) + rng.choice((-off, off)):g}"}


def decisive(wall: Wall) -> Wall:
    """A hole through the facing: what it is, what is behind it, how deep; no barrier in sight."""
    return pick(
        wall,
        frame=("material",),
        insulation=("material", "thickness_mm"),
        cavity=("material", "thickness_mm"),
        facing=("material", "class", "core_category", "thickness_mm", "joint"),
    )


def core_open(wall: Wall) -> Wall:
    """The same hole, and nobody sent the facing to a laboratory."""
    return without(without(decisive(wall), "facing", "core_category"), "facing", "class")


def no_barriers_seen(wall: Wall) -> Wall:
    """Opened at a floor, where a barrier ought to be: there is none."""
    seen = decisive(wall)
    missing = tuple(
        layer(role, "none", note="opened at two floors and one corner")
        for role in ("barrier-horizontal", "barrier-vertical")
    )
    return replace(seen, layers=(*seen.layers, *missing))


def foam_seen(wall: Wall) -> Wall:
    """An inspection camera saw foam; which foam, nobody knows."""
    seen = decisive(wall)
    return with_cell(seen, "insulation", "material", "foam-plastic")


def wool_seen(wall: Wall) -> Wall:
    """Wool of some kind, seen through a vent."""
    return with_cell(core_open(wall), "insulation", "material", "mineral-wool")


def as_drawn(wall: Wall) -> Wall:
    """A section drawing: materials and thicknesses, barriers at each floor, no product."""
    drawn = pick(
        wall,
        lining=("material", "thickness_mm"),
        frame=("material", "thickness_mm"),
        sheathing=("material", "thickness_mm"),
        insulation=("material", "thickness_mm"),
        cavity=("material", "thickness_mm"),
        barrier_horizontal=("material",),
        facing=("material", "thickness_mm"),
    )
    return with_cell(drawn, "barrier-horizontal", "material", "fitted-type-not-known")


def as_specified(wall: Wall) -> Wall:
    """Drawings with a specification: classes and core as well."""
    facing = ("material", "class", "core_category", "thickness_mm")
    return pick(
        wall,
        frame=("material",),
        insulation=("material", "class", "thickness_mm"),
        cavity=("material", "thickness_mm"),
        facing=facing,
    )


def outline(wall: Wall) -> Wall:
    """A planning drawing: facing and insulation by name."""
    return pick(wall, insulation=("material",), facing=("material",))


def facing_only(wall: Wall) -> Wall:
    """A planning drawing that says nothing of what is behind the facing."""
    return pick(wall, facing=("material",))


def from_outside(wall: Wall) -> Wall:
    """Photographs: what it looks like."""
    seen = pick(wall, facing=("material", "joint"))
    looks = LOOKS_LIKE.get(seen.layers[0]["material"])
    seen = replace(seen, **FAMILY_UNKNOWN)
    return with_cell(seen, "facing", "material", looks) if looks else seen


def core_identified(wall: Wall) -> Wall:
    """A laboratory burnt a piece of the facing: its core and nothing else."""
    cells = ("material", "core_category", "calorific_value_mj_kg")
    return replace(pick(wall, facing=cells), **FAMILY_UNKNOWN)


def certificate(wall: Wall) -> Wall:
    """A maker's certificate of the facing."""
    return replace(pick(wall, facing=("material", "class", "product")), **FAMILY_UNKNOWN)


def with_cell(wall: Wall, role: str, column: str, text: str) -> Wall:
    layers = tuple(old | {column: text} if old["role"] == role else old for old in wall.layers)
    return replace(wall, layers=layers)


def without(wall: Wall, role: str, column: str) -> Wall:
    return with_cell(wall, role, column, "")


@dataclass(frozen=True)
class Look:
    """One survey: its basis, its view, when, and whose words. `of_other` looks at the row's
    other wall, for sources that disagree; `lists_all` says that nothing was left out; `by_tape`
    that thicknesses were measured."""

    basis: str
    view: View
    years: tuple[int, int]
    source: str
    of_other: bool = False
    lists_all: bool = False
    by_tape: bool = False


OPENED = "opening-up survey by the consultancy, two openings"
DRAWING = "section drawing in the handover file"
SPECIFICATION = "drawings and specification in the handover file"
PLANNING = "planning drawing"
PHOTOGRAPHS = "photographs from the street and the roof"
LABORATORY = "laboratory identification of a sample"
SECOND = "second opening-up survey, by the insurer's surveyor"

DRAWN = Look("drawing", as_drawn, (2004, 2016), DRAWING)
SPECIFIED = Look("drawing", as_specified, (2005, 2016), SPECIFICATION)
PLANNED = Look("drawing", outline, (2003, 2015), PLANNING)
FACING_PLANNED = Look("drawing", facing_only, (2003, 2015), PLANNING)
SEEN = Look("outside", from_outside, (2019, 2025), PHOTOGRAPHS)
WHOLE = Look("opening-up", whole, (2021, 2025), OPENED, lists_all=True)
MEASURED = replace(WHOLE, by_tape=True)
HOLE = Look("opening-up", decisive, (2019, 2025), OPENED)
SAMPLE = Look("laboratory", core_identified, (2017, 2024), LABORATORY)

KNOWLEDGE: dict[str, tuple[Look, ...]] = {
    "never": (),
    "outside": (SEEN,),
    "assumed": (Look("assumption", outline, (2018, 2022), "desk assumption from the year built"),),
    "planned": (PLANNED,),
    "facing-planned": (FACING_PLANNED,),
    "drawn": (DRAWN,),
    "drawn+outside": (DRAWN, SEEN),
    "specified": (SPECIFIED,),
    "whole": (WHOLE,),
    "measured": (MEASURED,),
    "drawn+whole": (DRAWN, WHOLE),
    "hole": (HOLE,),
    "drawn+hole": (DRAWN, HOLE),
    "core-open": (Look("opening-up", core_open, (2018, 2022), OPENED),),
    "no-barriers-seen": (
        DRAWN,
        Look("opening-up", no_barriers_seen, (2020, 2025), OPENED),
    ),
    "foam-seen": (Look("opening-up", foam_seen, (2018, 2024), "inspection camera"),),
    "wool-seen": (Look("opening-up", wool_seen, (2018, 2024), "inspection camera"),),
    "sample": (SAMPLE,),
    "sample+outside": (SAMPLE, SEEN),
    "certificate": (
        FACING_PLANNED,
        Look("certificate", certificate, (2006, 2018), "maker's certificate in the handover file"),
    ),
    # The drawing shows the row's other wall.
    "drawn-otherwise": (
        Look("drawing", as_drawn, (2004, 2014), DRAWING, of_other=True),
        HOLE,
    ),
    # Two openings, two walls.
    "conflict": (HOLE, Look("opening-up", decisive, (2021, 2025), SECOND, of_other=True)),
    "conflict-whole": (WHOLE, Look("opening-up", decisive, (2021, 2025), SECOND, of_other=True)),
}

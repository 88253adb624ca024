"""Walls in words: each layer of a build-up as a reader wants it in a line."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from portfolio.domain.measures import show_value
from portfolio.domain.parameters import ROLE_ATTRIBUTES, WALL_ATTRIBUTES, Role
from portfolio.domain.values import UNKNOWN
from portfolio.domain.walls import BuildUp, Layer
from portfolio.reference.loader import load_reference

ROLE_TITLES: dict[Role, str] = {role: role.value for role in Role} | {
    Role.BARRIER_HORIZONTAL: "horizontal cavity barriers",
    Role.BARRIER_VERTICAL: "vertical cavity barriers",
}
_TOLD = {"spacing": "every ", "joint_width": "joints of ", "class": "class "}
_IN_SHORT = ("core_category", "class", "thickness")
FROM_ITS_PART = " (not recorded: taken from the part of the standard)"
_WALL = {attribute.key: attribute for attribute in WALL_ATTRIBUTES}


@dataclass(frozen=True, slots=True)
class LayerWords:
    """One layer: its role, and everything said of it."""

    role: str
    text: str
    note: str


def layers_in_words(build_up: BuildUp) -> tuple[LayerWords, ...]:
    """The layers from the inside out."""
    return tuple(
        LayerWords(ROLE_TITLES[layer.role], _told(layer), layer.note) for layer in build_up.layers
    )


def wall_in_short(build_up: BuildUp) -> str:
    """Facing and insulation in a line, for lists."""
    wanted = (Role.FACING, Role.INSULATION)
    layers = sorted(
        (layer for layer in build_up.layers if layer.role in wanted),
        key=lambda layer: wanted.index(layer.role),
    )
    return "; ".join(_told(layer, _IN_SHORT) for layer in layers)


def _told(layer: Layer, only: Collection[str] | None = None) -> str:
    vocabulary = load_reference().vocabulary
    first, *others = ROLE_ATTRIBUTES[layer.role]
    value = layer.value(first.key)
    words = [f"{first.title} unknown" if value is UNKNOWN else show_value(first, value, vocabulary)]
    for attribute in others:
        value = layer.value(attribute.key)
        if value is not UNKNOWN and (only is None or attribute.key in only):
            text = show_value(attribute, value, vocabulary)
            words.append(_TOLD.get(attribute.key, "") + text)
    return ", ".join(words)


def whole_wall_in_words(
    build_up: BuildUp, *, substrate_from_part: bool = False
) -> tuple[tuple[str, str], ...]:
    """What is said of the wall as a whole, as (title, value)."""
    taken = FROM_ITS_PART if substrate_from_part else ""
    vocabulary = load_reference().vocabulary
    listed = "yes: what is not listed is not there" if build_up.lists_all_layers else "no"
    return (
        (
            _WALL["system_family"].title,
            show_value(_WALL["system_family"], build_up.system_family, vocabulary),
        ),
        (
            _WALL["substrate"].title,
            show_value(_WALL["substrate"], build_up.substrate, vocabulary) + taken,
        ),
        ("all layers listed", listed),
    )


def build_up_in_words(build_up: BuildUp) -> str:
    """The whole wall in one text, for the change log."""
    wall = "; ".join(f"{title}: {value}" for title, value in whole_wall_in_words(build_up))
    layers = "; ".join(f"{layer.role}: {layer.text}" for layer in layers_in_words(build_up))
    return f"{wall}; {layers}" if layers else wall

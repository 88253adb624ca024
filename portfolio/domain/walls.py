"""A wall from the inside out: layers, build-ups, and their reading as parameters."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from portfolio.domain.parameters import (
    PARAMETERS,
    PLACES,
    ROLE_ATTRIBUTES,
    Role,
    presence_key,
)
from portfolio.domain.values import NOT_APPLICABLE, UNKNOWN, Named, OneOf, Range, Value, known

NONE = "none"
COMPOSITES = frozenset({"metal-composite-panel", "zinc-composite-panel", "copper-composite-panel"})
_CORE_ATTRIBUTES = ("core_category", "calorific_value")
CORE_LIMITS_MJ_PER_KG: dict[str, tuple[float, float]] = {
    "1": (0.0, 3.0),
    "2": (3.0, 35.0),
    "3": (35.0, float("inf")),
}
"""Core categories of 2017 by gross calorific value: up to 3, above 3 to 35, above 35 MJ/kg
(secondary sources on the government's screening tests)."""


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of a wall, or the lack of one; what is not in `values` is unknown."""

    role: Role
    values: Mapping[str, Value] = field(default_factory=dict)
    note: str = ""

    def __post_init__(self) -> None:
        allowed = {attribute.key for attribute in ROLE_ATTRIBUTES[self.role]}
        if strange := set(self.values) - allowed:
            raise ValueError(f"a {self.role.value} layer has no {', '.join(sorted(strange))}")
        object.__setattr__(self, "values", MappingProxyType(dict(self.values)))

    def value(self, attribute: str) -> Value:
        return self.values.get(attribute, UNKNOWN)

    @property
    def is_absent(self) -> bool:
        """Known not to be there."""
        return self.value(ROLE_ATTRIBUTES[self.role][0].key) == known(NONE)


@dataclass(frozen=True, slots=True)
class BuildUp:
    """The layers of a wall from the inside out, as one source gives them.

    `lists_all_layers` says that what is not listed is not there; otherwise it is unknown.
    """

    layers: tuple[Layer, ...] = ()
    system_family: Value = UNKNOWN
    substrate: Value = UNKNOWN
    lists_all_layers: bool = False

    def __post_init__(self) -> None:
        for role, places in PLACES.items():
            if sum(layer.role is role for layer in self.layers) > places:
                raise ValueError(f"more than {places} {role.value} layers")


def parameters_of(build_up: BuildUp) -> dict[str, Value]:
    """Every parameter that the build-up says something about; what is missing is unknown."""
    found: dict[str, Value] = {}
    for role in Role:
        layers = [layer for layer in build_up.layers if layer.role is role]
        for slot, layer in enumerate(layers, start=1):
            found.update(_layer_parameters(layer, slot))
        if build_up.lists_all_layers or (layers and layers[-1].is_absent):
            for slot in range(len(layers) + 1, PLACES[role] + 1):
                found.update(_absent(role, slot))
    found["wall.system_family"] = build_up.system_family
    found["wall.substrate"] = build_up.substrate
    if build_up.lists_all_layers:
        found["wall.sequence"] = Named(" > ".join(_sequence(build_up)))
    return {key: value for key, value in found.items() if value is not UNKNOWN}


def _sequence(build_up: BuildUp) -> list[str]:
    """The roles in order; barriers stand inside the cavity and have no place of their own."""
    within_cavity = (Role.BARRIER_HORIZONTAL, Role.BARRIER_VERTICAL)
    return [
        layer.role.value
        for layer in build_up.layers
        if not layer.is_absent and layer.role not in within_cavity
    ]


def _absent(role: Role, slot: int) -> dict[str, Value]:
    first, *others = ROLE_ATTRIBUTES[role]
    found: dict[str, Value] = {f"{role.value}.{slot}.{a.key}": NOT_APPLICABLE for a in others}
    found[f"{role.value}.{slot}.{first.key}"] = known(NONE)
    return found


def _layer_parameters(layer: Layer, slot: int) -> dict[str, Value]:
    if layer.is_absent:
        return _absent(layer.role, slot)
    values = dict(layer.values)
    if layer.role is Role.FACING:
        values |= _core(layer)
    if layer.value("joint") == known("closed") and "joint_width" not in values:
        values["joint_width"] = NOT_APPLICABLE
    return {f"{layer.role.value}.{slot}.{key}": value for key, value in values.items()}


def _core(layer: Layer) -> dict[str, Value]:
    """The core of a composite panel: none in other facings; its category follows its value."""
    material = layer.value("material")
    if not isinstance(material, OneOf) or material.keys & COMPOSITES == material.keys:
        if not isinstance(material, OneOf):
            return {}
        return {"core_category": core_category_within(layer)}
    if material.keys & COMPOSITES:
        return {}
    return dict.fromkeys(_CORE_ATTRIBUTES, NOT_APPLICABLE)


def core_category_within(layer: Layer) -> Value:
    """The core categories that both the stated category and the calorific value leave open.

    Raises ValueError when they contradict each other.
    """
    stated = layer.value("core_category")
    keys = stated.keys if isinstance(stated, OneOf) else frozenset(CORE_LIMITS_MJ_PER_KG)
    measured = layer.value("calorific_value")
    if isinstance(measured, Range):
        possible = {
            key
            for key, (above, up_to) in CORE_LIMITS_MJ_PER_KG.items()
            if measured.low <= up_to and (measured.high > above or above == 0)
        }
        if not keys & possible:
            raise ValueError(
                f"core category {'/'.join(sorted(keys))} does not go with a calorific value of "
                f"{measured.low:g} MJ/kg"
            )
        keys = keys & possible
    return OneOf(keys)


def role_is_absent(parameters: Mapping[str, Value], role: Role, slot: int) -> bool:
    """Whether the parameters say that this layer is not there."""
    return parameters.get(presence_key(role, slot)) == known(NONE)


def is_applicable(parameters: Mapping[str, Value], key: str) -> bool:
    """Whether the parameter means anything for this wall (an absent layer has no thickness)."""
    return parameters.get(PARAMETERS[key].key) is not NOT_APPLICABLE

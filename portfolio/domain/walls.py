"""A wall from the inside out: layers, build-ups, and their reading as parameters."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache, lru_cache
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
    _hash: int = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        allowed = {attribute.key for attribute in ROLE_ATTRIBUTES[self.role]}
        if strange := set(self.values) - allowed:
            raise ValueError(f"a {self.role.value} layer has no {', '.join(sorted(strange))}")
        object.__setattr__(self, "values", MappingProxyType(dict(self.values)))
        hashed = hash((self.role, frozenset(self.values.items()), self.note))
        object.__setattr__(self, "_hash", hashed)

    def __hash__(self) -> int:
        return self._hash

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
        counts = Counter(layer.role for layer in self.layers)
        for role, count in counts.items():
            if count > PLACES[role]:
                raise ValueError(f"more than {PLACES[role]} {role.value} layers")


@lru_cache(maxsize=50_000)
def parameters_of(build_up: BuildUp) -> Mapping[str, Value]:
    """Every parameter that the build-up says something about; what is missing is unknown."""
    found: dict[str, Value] = {}
    counts: dict[Role, int] = {}
    for layer in build_up.layers:
        slot = counts[layer.role] = counts.get(layer.role, 0) + 1
        found |= _layer_parameters(layer, slot)
        if slot < PLACES[layer.role] and layer.is_absent:
            found |= _absent(layer.role, slot + 1)
    if build_up.lists_all_layers:
        for role, places in PLACES.items():
            for slot in range(counts.get(role, 0) + 1, places + 1):
                found |= _absent(role, slot)
        found["wall.sequence"] = _sequence(build_up.layers)
    if build_up.system_family is not UNKNOWN:
        found["wall.system_family"] = build_up.system_family
    if build_up.substrate is not UNKNOWN:
        found["wall.substrate"] = build_up.substrate
    return MappingProxyType(found)


def _sequence(layers: tuple[Layer, ...]) -> Named:
    """The roles in order; barriers stand inside the cavity and have no place of their own."""
    within_cavity = (Role.BARRIER_HORIZONTAL, Role.BARRIER_VERTICAL)
    roles = (la.role for la in layers if la.role not in within_cavity and not la.is_absent)
    return _order_of(tuple(roles))


@cache
def _order_of(roles: tuple[Role, ...]) -> Named:
    return Named(" > ".join(role.value for role in roles))


@cache
def _absent(role: Role, slot: int) -> dict[str, Value]:
    first, *others = ROLE_ATTRIBUTES[role]
    found: dict[str, Value] = {f"{role.value}.{slot}.{a.key}": NOT_APPLICABLE for a in others}
    found[f"{role.value}.{slot}.{first.key}"] = known(NONE)
    return found


@lru_cache(maxsize=200_000)
def _layer_parameters(layer: Layer, slot: int) -> dict[str, Value]:
    """Layers recur all over a portfolio, so each is read once."""
    if layer.is_absent:
        return _absent(layer.role, slot)
    values = {key: value for key, value in layer.values.items() if value is not UNKNOWN}
    if layer.role is Role.FACING:
        values |= _core(layer)
    if layer.value("joint") == known("closed") and "joint_width" not in values:
        values["joint_width"] = NOT_APPLICABLE
    return {f"{layer.role.value}.{slot}.{key}": value for key, value in values.items()}


def _core(layer: Layer) -> dict[str, Value]:
    """The core of a composite panel: none in other facings; its category follows its value.

    A laboratory may give the value of a core without naming the panel: it has a category all the
    same. A core left wholly open is no claim: it must not hide what a weaker source says of it.
    """
    material = layer.value("material")
    if isinstance(material, OneOf) and not material.keys & COMPOSITES:
        return dict.fromkeys(_CORE_ATTRIBUTES, NOT_APPLICABLE)
    category = core_category_within(layer)
    is_open = category == OneOf(frozenset(CORE_LIMITS_MJ_PER_KG))
    return {} if is_open else {"core_category": category}


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

"""What is compared: every parameter of a wall, its kind, and how well it must be known.

A parameter is an attribute of a role in the wall ("insulation.1.thickness") or of the whole wall
("wall.system_family"). Roles that can occur twice have two places, counted from the inside.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from enum import IntEnum, StrEnum


class Role(StrEnum):
    """What a layer does in the wall, listed from the inside out."""

    LINING = "lining"
    FRAME = "frame"
    SHEATHING = "sheathing"
    MEMBRANE = "membrane"
    INSULATION = "insulation"
    CAVITY = "cavity"
    BARRIER_HORIZONTAL = "barrier-horizontal"
    BARRIER_VERTICAL = "barrier-vertical"
    SUPPORT = "support"
    FACING = "facing"
    FINISH = "finish"


class Kind(StrEnum):
    """How a parameter is compared."""

    CATEGORY = "category"
    NUMBER = "number"
    IDENTITY = "identity"


class Strength(IntEnum):
    """How far a source can be leaned on (ours; the order of bases is design, not a standard)."""

    ASSUMED = 0
    SEEN_FROM_OUTSIDE = 1
    ON_PAPER = 2
    OPENED_UP = 3


class Weight(StrEnum):
    """What a difference means: a decisive one makes a test irrelevant, others may be judged."""

    DECISIVE = "decisive"
    JUDGEABLE = "judgeable"


@dataclass(frozen=True, slots=True)
class Attribute:
    """One property that a layer of a role has; numbers in `unit`, categories from `category`.

    `above_zero` marks a measure that is never 0 of what is there, such as a thickness.
    """

    key: str
    title: str
    kind: Kind
    category: str = ""
    unit: str = ""
    weight: Weight = Weight.JUDGEABLE
    least: Strength = Strength.ON_PAPER
    above_zero: bool = False


@dataclass(frozen=True, slots=True)
class Parameter:
    """One attribute at one place of the wall. `key` is stable: files, rules and results use it."""

    key: str
    title: str
    role: Role | None
    slot: int
    attribute: Attribute

    @property
    def kind(self) -> Kind:
        return self.attribute.kind

    @property
    def is_decisive(self) -> bool:
        return self.attribute.weight is Weight.DECISIVE


def _category(key: str, title: str, category: str, **more: object) -> Attribute:
    return Attribute(key, title, Kind.CATEGORY, category=category, **more)  # type: ignore[arg-type]


def _number(key: str, title: str, unit: str, **more: object) -> Attribute:
    return Attribute(key, title, Kind.NUMBER, unit=unit, **more)  # type: ignore[arg-type]


_PRODUCT = Attribute("product", "product", Kind.IDENTITY)
_CLASS = _category("class", "reaction-to-fire class", "fire-class")
_THICKNESS = _number("thickness", "thickness", "mm", above_zero=True)
_SPACING = _number("spacing", "spacing", "mm", above_zero=True)
_OPENED = {"least": Strength.OPENED_UP}
_VISIBLE = {"least": Strength.SEEN_FROM_OUTSIDE}
_DECISIVE = {"weight": Weight.DECISIVE, "least": Strength.OPENED_UP}

ROLE_ATTRIBUTES: dict[Role, tuple[Attribute, ...]] = {
    Role.LINING: (
        _category("material", "material", "board-material"),
        _CLASS,
        _THICKNESS,
        _PRODUCT,
    ),
    Role.FRAME: (_category("material", "material", "frame-material"), _THICKNESS, _PRODUCT),
    Role.SHEATHING: (
        _category("material", "material", "board-material"),
        _CLASS,
        _THICKNESS,
        _PRODUCT,
    ),
    Role.MEMBRANE: (_category("material", "material", "membrane-material"), _CLASS, _PRODUCT),
    Role.INSULATION: (
        _category("material", "material", "insulation-material", **_DECISIVE),
        _CLASS,
        _THICKNESS,
        _PRODUCT,
    ),
    Role.CAVITY: (
        _category("ventilation", "ventilation", "cavity-ventilation"),
        _number("depth", "depth", "mm", above_zero=True),
    ),
    Role.BARRIER_HORIZONTAL: (
        _category("type", "type", "barrier-type", **_OPENED),
        _SPACING,
        _PRODUCT,
    ),
    Role.BARRIER_VERTICAL: (
        _category("type", "type", "barrier-type", **_OPENED),
        _SPACING,
        _PRODUCT,
    ),
    Role.SUPPORT: (_category("material", "material", "support-material"), _PRODUCT),
    Role.FACING: (
        _category("material", "material", "facing-material", **_DECISIVE),
        _category("core_category", "core category", "core-category", **_DECISIVE),
        _number("calorific_value", "calorific value of the core", "MJ/kg"),
        _CLASS,
        _THICKNESS,
        _category("joint", "joints", "joint", **_VISIBLE),
        _number("joint_width", "joint width", "mm", **_VISIBLE),
        _PRODUCT,
    ),
    Role.FINISH: (_category("material", "material", "finish-material", **_VISIBLE), _PRODUCT),
}
"""The attributes of each role; the first one tells whether the layer is there at all ("none")."""

PLACES: dict[Role, int] = dict.fromkeys(Role, 1) | {
    Role.LINING: 2,
    Role.SHEATHING: 2,
    Role.MEMBRANE: 2,
    Role.INSULATION: 2,
}
"""How many layers of a role a wall may have."""

WALL_ATTRIBUTES: tuple[Attribute, ...] = (
    _category(
        "system_family",
        "system family",
        "system-family",
        weight=Weight.DECISIVE,
        least=Strength.ON_PAPER,
    ),
    _category("substrate", "substrate", "substrate"),
    Attribute("sequence", "order of layers", Kind.IDENTITY),
)


def _title(role: Role, slot: int, attribute: Attribute) -> str:
    names = {
        Role.BARRIER_HORIZONTAL: "horizontal cavity barriers",
        Role.BARRIER_VERTICAL: "vertical cavity barriers",
    }
    name = names.get(role, role.value)
    return f"{'second ' if slot > 1 else ''}{name}: {attribute.title}"


def _catalogue() -> dict[str, Parameter]:
    found = [
        Parameter(f"wall.{attribute.key}", attribute.title, None, 1, attribute)
        for attribute in WALL_ATTRIBUTES
    ]
    found += [
        Parameter(
            f"{role.value}.{slot}.{attribute.key}",
            _title(role, slot, attribute),
            role,
            slot,
            attribute,
        )
        for role, attributes in ROLE_ATTRIBUTES.items()
        for slot in range(1, PLACES[role] + 1)
        for attribute in attributes
    ]
    return {parameter.key: parameter for parameter in found}


PARAMETERS: dict[str, Parameter] = _catalogue()
"""Every parameter by key, wall first and then from the inside out."""


def presence_key(role: Role, slot: int) -> str:
    """The parameter that tells whether the layer is there."""
    return f"{role.value}.{slot}.{ROLE_ATTRIBUTES[role][0].key}"


PLACE_OF: dict[str, int] = {key: place for place, key in enumerate(PARAMETERS)}
"""Where each parameter stands among all."""

ASKED_AFTER: dict[str, str] = {
    key: presence
    for key, parameter in PARAMETERS.items()
    if parameter.role is not None
    and (presence := presence_key(parameter.role, parameter.slot)) != key
}
"""By parameter of a layer, the one that tells whether the layer is there at all."""


def folded(keys: Collection[str]) -> tuple[str, ...]:
    """`keys` without what only asks on: whether a layer is there comes before its thickness."""
    chosen = set(keys)
    kept = (key for key in chosen if ASKED_AFTER.get(key) not in chosen)
    return tuple(sorted(kept, key=PLACE_OF.__getitem__))

"""Milder and more onerous: a partial order for those parameters that have a milder side.

The orders are reference data with their sources. A parameter without one has no milder side:
its differences are listed and never speak for the wall.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from portfolio.domain import reaction
from portfolio.domain.values import OneOf, Range, Value


@dataclass(frozen=True, slots=True)
class CategoryOrder:
    """For each key, the keys that are at least as onerous, itself included."""

    parameters: tuple[str, ...]
    above: Mapping[str, frozenset[str]]
    source: str
    status: str

    def at_least(self, key: str, than: str) -> bool:
        return key == than or key in self.above.get(than, frozenset())

    def strictly_milder(self, value: Value, than: Value) -> bool:
        """Every key it could be is milder than every key `than` could be."""
        if not (isinstance(value, OneOf) and isinstance(than, OneOf)):
            return False
        return all(
            self.at_least(worse, key) and not self.at_least(key, worse)
            for key in value.keys
            for worse in than.keys
        )


@dataclass(frozen=True, slots=True)
class NumberOrder:
    """A measure of which more is more onerous; `margin` is by how much two of them must differ, in
    the parameter's unit, before one is taken to be milder."""

    parameters: tuple[str, ...]
    source: str
    status: str
    margin: float = 0.0

    def strictly_milder(self, value: Value, than: Value) -> bool:
        return (
            isinstance(value, Range)
            and isinstance(than, Range)
            and value.high < than.low - self.margin
        )


Order = CategoryOrder | NumberOrder


def closed_order(
    parameters: Collection[str],
    steps: Collection[tuple[str, str]],
    *,
    source: str,
    status: str,
) -> CategoryOrder:
    """The order that follows from single steps "(milder, at least as onerous)".

    Steps both ways between two keys make them equals.
    """
    above: dict[str, set[str]] = {}
    for milder, worse in steps:
        above.setdefault(milder, {milder}).add(worse)
        above.setdefault(worse, {worse})
    changed = True
    while changed:
        changed = False
        for keys in above.values():
            further = set().union(*(above[key] for key in keys))
            if not further <= keys:
                keys.update(further)
                changed = True
    frozen = {key: frozenset(keys) for key, keys in above.items()}
    return CategoryOrder(tuple(parameters), frozen, source, status)


_CLASS_SOURCE = "EN 13501-1, order of classes (secondary sources)"


def class_order(
    parameters: Collection[str], source: str = _CLASS_SOURCE, status: str = "secondary"
) -> CategoryOrder:
    """The order of EN 13501-1 classes, part by part."""
    above = {
        milder: frozenset(
            name for name in reaction.CLASSES if reaction.at_least_as_onerous(name, milder)
        )
        for milder in reaction.CLASSES
    }
    return CategoryOrder(tuple(parameters), above, source, status)


@dataclass(frozen=True, slots=True)
class MilderSide:
    """What is held of one parameter: whether one side of it is milder, and acquits, or why not.

    `order` is none where nobody can say which side is milder.
    """

    order: Order | None
    acquits: bool
    why: str
    source: str
    status: str


@dataclass(frozen=True, slots=True)
class Orders:
    """Every order in use. `insulation` is by family; `core` and `facing_class` are decisive;
    `others` can only show that a wall is milder than a failing test."""

    insulation: CategoryOrder
    core: CategoryOrder
    facing_class: CategoryOrder
    others: tuple[Order, ...]

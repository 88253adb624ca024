"""What a difference from a failing test is worth, in words: milder, not milder, or of no side."""

from __future__ import annotations

from portfolio.domain.parameters import Role
from portfolio.domain.surveys import Wall
from portfolio.domain.values import OneOf, Value
from portfolio.reference.loader import load_reference

_INSULATION = f"{Role.INSULATION.value}."


def side_of_difference(parameter: str, wall: Wall, tested: Value) -> str:
    """What is held of the side on which a wall differs from one that failed, with its source.

    Only what is known from a source good enough to lean on is ever called milder.
    """
    side = load_reference().milder_sides[parameter]
    source = f"{side.source} ({side.status})"
    if side.order is None:
        return f"no side of this is known to be milder, so it acquits nothing: {side.why}; {source}"
    if not side.acquits:
        return f"acquits nothing: {side.why}; {source}"
    mine, theirs = (_in_order(parameter, v) for v in (wall.as_relied_on(parameter), tested))
    if side.order.strictly_milder(mine, theirs):
        return f"milder than in the test that failed: {source}"
    return f"not known to be milder than in the test that failed: {source}"


def _in_order(parameter: str, value: Value) -> Value:
    """The value as the order has it: insulation is ordered by family."""
    if isinstance(value, OneOf) and parameter.startswith(_INSULATION):
        families = load_reference().judge.families
        return OneOf(frozenset(families.get(key, key) for key in value.keys))
    return value

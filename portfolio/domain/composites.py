"""Whether a facing is a combustible metal composite, as far as the wall is known.

Combustible is read as a core of category 2 or 3 (ours); a core of category 1 is not.
"""

from __future__ import annotations

from collections.abc import Collection

from portfolio.domain.surveys import Wall
from portfolio.domain.values import OneOf
from portfolio.domain.walls import COMPOSITES

YES, NO, UNKNOWN = "yes", "no", ""
_NOT_COMBUSTIBLE = "1"


def combustible_composite(wall: Wall) -> str:
    """ "yes", "no", or "" where nobody knows: by the facing, as the strongest source has it."""
    material = wall.as_resolved("facing.1.material")
    if not isinstance(material, OneOf):
        return UNKNOWN
    if not material.keys & COMPOSITES:
        return NO
    core = wall.as_resolved("facing.1.core_category")
    categories = core.keys if isinstance(core, OneOf) else frozenset({_NOT_COMBUSTIBLE, "3"})
    if categories == {_NOT_COMBUSTIBLE}:
        return NO
    is_one = material.keys <= COMPOSITES and _NOT_COMBUSTIBLE not in categories
    return YES if is_one else UNKNOWN


def any_composite(zones: Collection[str]) -> str:
    """What the zones say of their building: one is enough. Without zones nobody knows."""
    if YES in zones:
        return YES
    return UNKNOWN if UNKNOWN in zones or not zones else NO

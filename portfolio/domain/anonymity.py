"""How much of an owner's demand a laboratory may see.

Below three owners in a group, or for an owner who wishes it, no owner, building name, address
or exact height appears: heights are told by band, owners as "fewer than three".
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from portfolio.domain.heights import HeightBand

FEWEST_OWNERS = 3


def may_name_owners(owners: Collection[int]) -> bool:
    """Whether a group is large enough for owners who allow it to be named in it."""
    return len(set(owners)) >= FEWEST_OWNERS


def owners_in_words(count: int) -> str:
    """How many owners, without telling when there are few."""
    return str(count) if count >= FEWEST_OWNERS else f"fewer than {FEWEST_OWNERS}"


def height_in_words(metres: float | None, bands: Sequence[HeightBand]) -> str:
    """The band that a height lies in, never the height itself."""
    if metres is None:
        return "unknown"
    reached = [band for band in bands if band.from_m <= metres]
    return max(reached or bands[:1], key=lambda band: band.from_m).label

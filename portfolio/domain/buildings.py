"""Occupied buildings and their façade zones, as far as ordering and reporting need them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from portfolio.domain.heights import HeightClaim, claims_or_estimate, shown_height_m
from portfolio.domain.routes import Work

HOUSEHOLD_SIZE = 2.36
HOUSEHOLD_SIZE_SOURCE = "household size 2.36, England, Census 2011; on the high side for flats"


@dataclass(frozen=True, slots=True)
class Building:
    """One occupied building. None and "" mean unknown, which is worst in every ordering."""

    ref: str
    name: str
    owner: str = ""
    jurisdiction: str = ""
    use: str = ""
    storeys: int | None = None
    heights: tuple[HeightClaim, ...] = ()
    homes: int | None = None
    people: int | None = None
    evacuation: str = ""
    sprinklers: str = ""
    #: homes that a fire in the cladding could reach; never more than there are
    homes_in_reach: int | None = None
    #: whether a facing is a combustible metal composite: "yes", "no", or nobody knows
    metal_composite: str = ""

    @property
    def height_claims(self) -> tuple[HeightClaim, ...]:
        """The claims there are, or an estimate from storeys."""
        return claims_or_estimate(self.heights, self.storeys)

    @property
    def top_floor_height_m(self) -> float | None:
        return shown_height_m(self.height_claims)

    @property
    def people_estimate(self) -> int | None:
        """People as stated, else homes times household size, rounded up."""
        if self.people is not None:
            return self.people
        return None if self.homes is None else -int(-self.homes * HOUSEHOLD_SIZE // 1)

    @property
    def people_are_estimated(self) -> bool:
        return self.people is None and self.homes is not None


@dataclass(frozen=True, slots=True)
class Zone:
    """One part of a façade with one build-up. Storeys count from 0 at the ground."""

    ref: str
    building: str
    description: str = ""
    face: str = ""
    from_storey: int | None = None
    to_storey: int | None = None
    area_m2: float | None = None
    is_attachment: bool = False
    work: Work | None = None
    """The kind of work that its wall is looked at for; None: nobody has said."""
    work_counted_on: date | None = None
    """Of new work: the day on which its application or notice to building control counted."""

    @property
    def is_new_work(self) -> bool:
        """Where nobody has said, the wall of an occupied building is an existing one."""
        return self.work is Work.NEW

"""Buildings as a list: searched, filtered, sorted and paged by the store."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Building, BuildingResult, Organisation
from portfolio.domain.coverage import Coverage
from portfolio.services.height_sides import lies_either_side
from portfolio.services.viewer import Viewer

NOT_RECORDED = "not-recorded"
"""The value of a filter that keeps the buildings of which nobody has said."""

_AFTER_ALL_GAPS = "~"


@dataclass(frozen=True, slots=True)
class BuildingFilter:
    """What to keep of the list; empty keeps all. `text` looks in reference, name and address.

    `either_side_of_m` keeps what could lie on either side of "at least" so many metres.
    """

    text: str = ""
    coverage: str = ""
    by_inference: bool | None = None
    height_band: str = ""
    either_side_of_m: float | None = None
    owner: str = ""
    use: str = ""
    jurisdiction: str = ""
    evacuation: str = ""


@dataclass(frozen=True, slots=True)
class BuildingRow:
    """One building with what its zones add up to. Heights in metres; None and "" are unknown."""

    id: int
    ref: str
    name: str
    address: str
    owner: str
    owner_name: str
    jurisdiction: str
    use: str
    storeys: int | None
    evacuation: str
    sprinklers: str
    coverage: Coverage
    by_inference: bool
    zones: int
    gaps: int
    top_floor_height_m: float | None
    height_band: str
    people: int | None
    people_stated: int | None

    @property
    def people_are_estimated(self) -> bool:
        return self.people is not None and self.people_stated is None


@dataclass(frozen=True, slots=True)
class BuildingPage:
    """Part of the list, and how long it is altogether."""

    rows: tuple[BuildingRow, ...]
    total: int


@dataclass(frozen=True, slots=True)
class Choices:
    """What the viewer's buildings can be filtered by: (value, words)."""

    owners: tuple[tuple[str, str], ...]
    jurisdictions: tuple[str, ...]


_PLACE = sa.func.coalesce(BuildingResult.position, _AFTER_ALL_GAPS)
# What nobody knows comes first, as in the order of gaps.
ORDERS: Mapping[str, tuple[sa.SQLColumnExpression[Any], ...]] = {
    "first": (_PLACE,),
    "ref": (),
    "name": (Building.name,),
    "height": (BuildingResult.top_floor_height_m.desc().nulls_first(),),
    "people": (BuildingResult.people.desc().nulls_first(),),
    "gaps": (sa.func.coalesce(BuildingResult.gaps, 0).desc(),),
}
"""The ways to sort: what comes first among gaps, or by one column. The reference decides last."""


def list_buildings(
    session: Session,
    viewer: Viewer,
    wanted: BuildingFilter,
    *,
    order: str = "first",
    limit: int | None = None,
    offset: int = 0,
) -> BuildingPage:
    """The buildings that `wanted` keeps, sorted by one of ORDERS."""
    kept = (
        sa.select(Building.id)
        .join(Organisation, Organisation.id == Building.organisation_id)
        .outerjoin(BuildingResult, BuildingResult.building_id == Building.id)
        .where(viewer.reads(Building.organisation_id, Building.id), *_conditions(wanted))
    )
    total = session.scalar(sa.select(sa.func.count()).select_from(kept.subquery())) or 0
    query = (
        kept.with_only_columns(*_COLUMNS)
        .order_by(*ORDERS[order], Building.ref, Organisation.ref)
        .limit(limit)
        .offset(offset)
    )
    return BuildingPage(tuple(BuildingRow(*row) for row in session.execute(query)), total)


def choices(session: Session, viewer: Viewer) -> Choices:
    """The owners and jurisdictions that occur among the viewer's buildings."""
    mine = viewer.reads(Building.organisation_id, Building.id)
    owners = (
        sa.select(Organisation.ref, Organisation.name)
        .where(Organisation.id.in_(sa.select(Building.organisation_id).where(mine)))
        .order_by(Organisation.name, Organisation.ref)
    )
    places = sa.select(Building.jurisdiction).where(mine).distinct().order_by(Building.jurisdiction)
    return Choices(
        tuple((ref, name) for ref, name in session.execute(owners)),
        tuple(place for place in session.scalars(places) if place),
    )


# A building that nothing was computed for yet is as unknown as one without zones.
_COLUMNS: tuple[Any, ...] = (
    Building.id,
    Building.ref,
    Building.name,
    Building.address,
    Organisation.ref.label("owner"),
    Organisation.name.label("owner_name"),
    Building.jurisdiction,
    Building.use,
    Building.storeys,
    Building.evacuation,
    Building.sprinklers,
    sa.func.coalesce(BuildingResult.coverage, Coverage.TOO_LITTLE_KNOWN),
    sa.func.coalesce(BuildingResult.by_inference, sa.false()),
    sa.func.coalesce(BuildingResult.zones, 0),
    sa.func.coalesce(BuildingResult.gaps, 0),
    BuildingResult.top_floor_height_m,
    sa.func.coalesce(BuildingResult.height_band, ""),
    BuildingResult.people,
    Building.people.label("people_stated"),
)


def _conditions(wanted: BuildingFilter) -> list[sa.ColumnElement[bool]]:
    """Every word of the text has to occur; a blank is asked for as NOT_RECORDED."""
    found: list[sa.ColumnElement[bool]] = [
        Building.search_text.contains(word, autoescape=True)
        for word in wanted.text.casefold().split()
    ]
    if wanted.coverage:
        known = sa.func.coalesce(BuildingResult.coverage, Coverage.TOO_LITTLE_KNOWN)
        found.append(known == Coverage(wanted.coverage))
    if wanted.by_inference is not None:
        found.append(BuildingResult.by_inference == wanted.by_inference)
    if wanted.either_side_of_m is not None:
        found.append(lies_either_side(wanted.either_side_of_m))
    exact = {
        Organisation.ref: wanted.owner,
        Building.use: wanted.use,
        Building.jurisdiction: wanted.jurisdiction,
        Building.evacuation: wanted.evacuation,
        sa.func.coalesce(BuildingResult.height_band, ""): wanted.height_band,
    }
    for column, value in exact.items():
        if value:
            found.append(column == ("" if value == NOT_RECORDED else value))
    return found

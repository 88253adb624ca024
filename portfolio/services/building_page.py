"""Everything that the page of one building shows: facts, heights, zones, rulings, history."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import chain

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload, selectinload

from portfolio.db import mapping, models
from portfolio.db.life import PackMade
from portfolio.domain.buildings import Building
from portfolio.domain.coverage import WORST_FIRST
from portfolio.domain.errors import NotFoundError
from portfolio.domain.rights import Right
from portfolio.domain.surveys import Basis
from portfolio.domain.thresholds import Measure, ThresholdFinding, ask_all, claims_of
from portfolio.drawings.elevation import DrawnFace, DrawnZone, ElevationDrawing, elevation
from portfolio.drawings.facade_zones import HIGHEST_LINE_M, HIGHEST_STOREY, LOWEST_STOREY
from portfolio.drawings.heights import DrawnClaim, HeightsDrawing, heights_chart
from portfolio.reference.loader import load_reference
from portfolio.services.editing import coverage_value
from portfolio.services.handing_out import packs_of
from portfolio.services.history import History, history_of_zones
from portfolio.services.packs_made import makers_told
from portfolio.services.ruling_review import Ruling, rulings_of_zones
from portfolio.services.viewer import Viewer

NO_FACE = "face not recorded"
NARROW, WIDE = 360.0, 600.0


@dataclass(frozen=True, slots=True)
class ZoneLine:
    """One zone of the table. `bases` are what its surveys rest on, strongest first."""

    row: models.Zone
    coverage: str
    covered_too: bool
    wall_text: str
    bases: tuple[str, ...]
    latest: date | None


@dataclass(frozen=True, slots=True)
class BuildingPage:
    """One building: `row` as stored, `known` as the domain has it, and what hangs on it.

    `thresholds` are those of the building's jurisdiction that are in force on the day asked;
    `makers` tells who made each pack, as far as the viewer may know.
    """

    row: models.Building
    known: Building
    thresholds: tuple[ThresholdFinding, ...]
    zones: tuple[ZoneLine, ...]
    worst: ZoneLine | None
    decisions: tuple[Ruling, ...]
    elevation_narrow: str
    elevation_wide: str
    heights_narrow: str
    heights_wide: str
    history: History
    packs: Sequence[PackMade]
    makers: Mapping[int, str]


def building_page(session: Session, viewer: Viewer, building_id: int, on: date) -> BuildingPage:
    """The building with all its zones, and its thresholds on a day. Raises NotFoundError."""
    row = _building(session, viewer, building_id)
    known = mapping.building_of(row, row.organisation.ref)
    surveyed = _surveyed(session, building_id)
    zones = tuple(_zone_line(zone, surveyed.get(zone.id, [])) for zone in row.zones)
    thresholds = ask_all(load_reference().thresholds, known, on)
    drawing = _elevation(row, known, zones, thresholds)
    heights = _heights(known, thresholds)
    packs = packs_of(session, building_id)
    rulings = rulings_of_zones(session, [zone.id for zone in row.zones], on).values()
    decisions = sorted(chain.from_iterable(rulings), key=_newest_first)
    return BuildingPage(
        row,
        known,
        thresholds,
        zones,
        min(zones, key=lambda zone: _WORST.index(zone.coverage), default=None),
        tuple(decisions),
        elevation(drawing, id_prefix="narrow", width=NARROW),
        elevation(drawing, id_prefix="wide", width=WIDE),
        heights_chart(heights, id_prefix="heights-narrow", width=NARROW),
        heights_chart(heights, id_prefix="heights-wide", width=WIDE),
        history_of_zones(session, viewer, [zone.id for zone in row.zones], building_id=building_id),
        packs,
        makers_told(session, viewer, [pack.id for pack in packs]),
    )


def _newest_first(found: Ruling) -> tuple[bool, int, int]:
    """What is to be looked at again before the rest."""
    return not found.is_to_review, -found.row.on.toordinal(), -found.row.id


_WORST = [
    coverage_value(coverage, by_inference=by_inference) for coverage, by_inference in WORST_FIRST
]


def _building(session: Session, viewer: Viewer, building_id: int) -> models.Building:
    zones = selectinload(models.Building.zones)
    query = (
        sa.select(models.Building)
        .options(
            joinedload(models.Building.organisation),
            selectinload(models.Building.heights),
            zones.joinedload(models.Zone.result),
        )
        .where(models.Building.id == building_id)
    )
    row = session.scalars(query).first()
    if row is None or not viewer.may(Right.READ, row.organisation_id, row.id):
        raise NotFoundError("There is no such building.")
    return row


def _surveyed(session: Session, building_id: int) -> dict[int, list[tuple[Basis, date]]]:
    """Basis and date of every survey, by zone; the walls themselves stay where they are."""
    query = (
        sa.select(models.Survey.zone_id, models.Survey.basis, models.Survey.on)
        .join(models.Zone)
        .where(models.Zone.building_id == building_id)
    )
    found: dict[int, list[tuple[Basis, date]]] = {}
    for zone_id, basis, on in session.execute(query):
        found.setdefault(zone_id, []).append((basis, on))
    return found


def _zone_line(row: models.Zone, surveyed: Sequence[tuple[Basis, date]]) -> ZoneLine:
    result = row.result
    bases = sorted({basis for basis, _ in surveyed}, key=list(Basis).index)
    return ZoneLine(
        row,
        coverage_value(result.coverage, by_inference=result.by_inference)
        if result
        else "too-little-known",
        bool(result and result.covered_too),
        result.wall_text if result else "",
        tuple(basis.label for basis in bases),
        max((on for _, on in surveyed), default=None),
    )


def _elevation(
    row: models.Building,
    known: Building,
    zones: Sequence[ZoneLine],
    thresholds: Sequence[ThresholdFinding],
) -> ElevationDrawing:
    faces: dict[str, list[DrawnZone]] = {}
    for zone in zones:
        faces.setdefault(zone.row.face or NO_FACE, []).append(_drawn(zone))
    limits = {metres for found in thresholds for metres in found.threshold.floor_metres}
    lines = tuple((metres, f"{metres:g} m") for metres in sorted(limits))
    return ElevationDrawing(
        row.name or row.ref,
        tuple(DrawnFace(name, tuple(drawn)) for name, drawn in sorted(faces.items())),
        row.storeys if _within(row.storeys, 1, HIGHEST_STOREY) else None,
        known.top_floor_height_m if _within(known.top_floor_height_m, 0, HIGHEST_LINE_M) else None,
        lines,
    )


def _heights(known: Building, thresholds: Sequence[ThresholdFinding]) -> HeightsDrawing:
    """The claims of the top floor's height that can be drawn, and the thresholds across."""
    claims = claims_of(known)[Measure.FLOOR]
    return HeightsDrawing(
        "Height of the top storey's floor",
        tuple(
            DrawnClaim(claim.words, claim.low, claim.high, claim.is_estimate)
            for claim in claims
            if _within(claim.low, -HIGHEST_LINE_M, HIGHEST_LINE_M)
            and _within(claim.high, 0, HIGHEST_LINE_M)
        ),
        tuple(metres for found in thresholds for metres in found.threshold.floor_metres),
    )


def _drawn(zone: ZoneLine) -> DrawnZone:
    row = zone.row
    low, high = (
        storey if _within(storey, LOWEST_STOREY, HIGHEST_STOREY) else None
        for storey in (row.from_storey, row.to_storey)
    )
    return DrawnZone(
        row.ref,
        row.description,
        zone.coverage,
        low,
        high,
        row.area_m2,
        f"/zones/{row.id}",
    )


def _within(value: float | None, least: float, most: float) -> bool:
    """Whether a value can be drawn at all: what a file brought in may be nonsense."""
    return value is not None and least <= value <= most

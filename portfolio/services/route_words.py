"""Which route was applied to a zone, from which day, by which source and why: in one sentence."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from portfolio.domain.buildings import Zone
from portfolio.domain.evidence import Answer3
from portfolio.domain.routes import AppliedRoute, Work, applied_route
from portfolio.reference.loader import load_reference
from portfolio.services.gathering import GatheredZone

_ANSWERS = {
    Answer3.MET: "large-scale test evidence may speak for it",
    Answer3.NOT_MET: "no large-scale test is a route for it",
    Answer3.UNKNOWN: "whether large-scale test evidence may speak for it is unknown",
}
WORK_WORDS = {
    Work.EXISTING: "existing wall, appraised as it stands",
    Work.NEW: "new work",
    None: "nobody has said: taken as an existing wall",
}


@dataclass(frozen=True, slots=True)
class ToldRoute:
    """The route that was applied to a zone, the kind of work in words, and one sentence on it."""

    applied: AppliedRoute
    work: str
    sentence: str


def told_route(zone: GatheredZone, on: date) -> ToldRoute:
    """The route applied to a zone on a day."""
    setting = zone.setting
    routes = load_reference().routes
    found = applied_route(routes, setting.jurisdiction, setting.new_work, on)
    work = WORK_WORDS[zone.zone.work]
    if zone.zone.is_new_work and zone.zone.work_counted_on:
        work += f", counted on {zone.zone.work_counted_on.isoformat()}"
    return ToldRoute(found, work, _sentence(zone, found))


def _sentence(zone: GatheredZone, found: AppliedRoute) -> str:
    where = f" in {zone.building.jurisdiction}" if zone.building.jurisdiction else ""
    since = f" by the rule since {found.since.isoformat()}" if found.since else ""
    told = f"{_kind(zone.zone)}: {_ANSWERS[found.answer]}{where}{since}, because {found.reason}"
    if found.settles:
        told += f"; what would settle it: {found.settles}"
    if found.source:
        told += f" (source, {found.status or 'status not stated'}: {found.source})"
    return told + "."


def _kind(zone: Zone) -> str:
    if zone.is_new_work:
        counted = zone.work_counted_on
        if counted is None:
            return "Taken as new work"
        return f"Taken as new work whose application counted on {counted.isoformat()}"
    if zone.work is Work.EXISTING:
        return "Taken as an existing wall, appraised as it stands"
    return (
        "Taken as an existing wall, since nobody has said what kind of work it is and the building "
        "is occupied"
    )

"""Rows of organisations, buildings, heights and zones into drafts."""

from __future__ import annotations

from portfolio.domain.heights import HeightClaim
from portfolio.domain.routes import Work
from portfolio.reference.loader import EVACUATION, SPRINKLERS, Reference
from portfolio.sheets.cells import Cells
from portfolio.sheets.drafts import (
    BuildingDraft,
    HeightDraft,
    Key,
    OrganisationDraft,
    ZoneDraft,
)
from portfolio.sheets.layout_buildings import ORGANISATION_KINDS
from portfolio.sheets.lists import jurisdictions, meaning

_LOWEST_STOREY = -100
_ABOUT_A_HEIGHT = ("height_tolerance_m", "height_method", "height_date", "height_source")


def organisation(cells: Cells, key: Key) -> OrganisationDraft:
    """The organisation of a row."""
    name = cells.text("name") or key[0]
    kind = cells.listed("kind", ORGANISATION_KINDS)
    return OrganisationDraft(key[0], name, kind, cells.columns, cells.place)


def building(cells: Cells, key: Key, reference: Reference) -> BuildingDraft:
    """The building of a row, with the height that it states."""
    claim = _claim(cells)
    return BuildingDraft(
        owner=key[0],
        building=key[1],
        name=cells.text("name") or key[1],
        address=cells.text("address"),
        jurisdiction=_jurisdiction(cells, reference),
        use=_use(cells, reference),
        storeys=cells.whole("storeys", least=1),
        homes=cells.whole("homes"),
        people=cells.whole("people"),
        evacuation=cells.listed("evacuation", tuple(EVACUATION)),
        sprinklers=cells.listed("sprinklers", tuple(SPRINKLERS)),
        note=cells.text("note"),
        heights=() if claim is None else (claim,),
        columns=cells.columns,
        at=cells.place,
    )


def height(cells: Cells, key: Key) -> HeightDraft | None:
    """The height of a row of the sheet of heights."""
    claim = _claim(cells)
    if claim is None:
        if not cells.problems:
            header = cells.sheet.column("top_floor_height_m")
            cells.refuse(header.key, "There is no height in this row.", header.help)
        return None
    return HeightDraft(key[0], key[1], claim, cells.place)


def _is_attached(cells: Cells) -> bool:
    """Whoever writes that it is unknown must not be taken to say no: tests of walls would count."""
    if cells.raw("attachment") and cells.is_unknown("attachment"):
        message = "Whether the zone is attached to the wall decides whether tests of walls count."
        cells.refuse("attachment", message, "yes or no; yes where it could be")
        return True
    return cells.yes("attachment")


def _work(cells: Cells) -> str:
    """Whoever writes that it is unknown must not make an existing wall of new work: a route that is
    shut to it would open."""
    if cells.raw("work") and cells.is_unknown("work"):
        message = "The kind of work decides by which route a test may count."
        cells.refuse("work", message, f"one of: {', '.join(Work)}; empty leaves it as it was")
        return ""
    return cells.listed("work", tuple(Work))


def _spoken_of(cells: Cells, work: str) -> frozenset[str]:
    """The columns that the row speaks of: an empty cell makes neither a part of the wall of a
    balcony that is stored, nor an existing wall of new work."""
    silent = {key for key in ("attachment", "work", "work_counted_on") if not cells.raw(key)}
    found = cells.columns - silent
    # what is no new work any more keeps no day of it
    ended = cells.raw("work") and work != Work.NEW
    return found | {"work_counted_on"} if ended else found


def zone(cells: Cells, key: Key) -> ZoneDraft:
    """The zone of a row."""
    lowest = cells.whole("from_storey", least=_LOWEST_STOREY)
    highest = cells.whole("to_storey", least=_LOWEST_STOREY)
    if lowest is not None and highest is not None and lowest > highest:
        cells.refuse("to_storey", f"This is below the lowest storey, {lowest}.")
    work, counted_on = _work(cells), cells.day("work_counted_on")
    if counted_on is not None and work != Work.NEW:
        message = "Only new work has a day on which its application counted."
        cells.refuse("work_counted_on", message, 'the word "new" under Kind of work, or no day')
    return ZoneDraft(
        owner=key[0],
        building=key[1],
        zone=key[2],
        description=cells.text("description"),
        face=cells.text("face"),
        from_storey=lowest,
        to_storey=highest,
        area_m2=cells.measure("area_m2"),
        attachment=_is_attached(cells),
        work=work,
        work_counted_on=counted_on,
        columns=_spoken_of(cells, work),
        at=cells.place,
    )


def _claim(cells: Cells) -> HeightClaim | None:
    metres = cells.measure("top_floor_height_m")
    tolerance = cells.measure("height_tolerance_m")
    method, source = cells.text("height_method"), cells.text("height_source")
    day = cells.day("height_date")
    if metres is not None:
        return HeightClaim(metres, method, tolerance, day, source)
    if cells.is_unknown("top_floor_height_m"):
        for column in _ABOUT_A_HEIGHT:
            if not cells.is_unknown(column):
                cells.refuse(column, "There is no height that this could belong to.")
    return None


def _jurisdiction(cells: Cells, reference: Reference) -> str:
    """The spelling of the reference data where it has the name; any other name is kept."""
    if cells.is_unknown("jurisdiction"):
        return ""
    text = cells.text("jurisdiction")
    return meaning(jurisdictions(reference), text) or text


def _use(cells: Cells, reference: Reference) -> str:
    text = cells.raw("use")
    labels = tuple(use.label for use in reference.uses.values())
    label = meaning(labels, text)
    if label is not None:
        return list(reference.uses)[labels.index(label)]
    return cells.listed("use", tuple(reference.uses))

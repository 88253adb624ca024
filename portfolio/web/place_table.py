"""The place of a zone among the gaps: its bar, and the steps that placed it as a table."""

from __future__ import annotations

from markupsafe import Markup

from portfolio.drawings.range_bar import RangeBar, range_bar
from portfolio.services.orders.words import telling_in_words
from portfolio.services.orders.zone_place import ZonePlace
from portfolio.sheets.writing import Cell, Table

_HEADERS = ("Order", "Version", "What", "Found here", "Where the step comes from")


def bar(placed: ZonePlace | None) -> Markup:
    """The places that the gap could take, drawn; nothing where the zone is no gap."""
    if placed is None:
        return Markup()
    place = placed.place
    told = RangeBar("Its place among all gaps", place.place, place.first, place.last, place.gaps)
    return Markup(range_bar(told, id_prefix="place-bar"))


def tables(placed: ZonePlace | None) -> list[Table]:
    """Its place, each step, and what each unknown fact would tell."""
    if placed is None:
        return []
    order = placed.known.order
    named = placed.known.name, order.version
    rows: list[list[Cell]] = [[*named, "Place", placed.sentence, ""]]
    rows += (
        [*named, step.title, reason.text.removeprefix(f"{step.title}: "), step.source]
        for step, reason in placed.steps
    )
    rows += (
        [*named, f"What would tell: {told.fact.words}", telling_in_words(told), ""]
        for told in placed.tellings
    )
    return [Table("Place", _HEADERS, rows)]

"""Everything that the page of a classified log shows; nothing of it is stored."""

from __future__ import annotations

from dataclasses import dataclass

from portfolio.reference.loader import load_reference
from portfolio.services.classified_drawings import chart_drawings, rig_drawing, telling_minute
from portfolio.services.classified_tables import (
    channels_table,
    conclusion,
    criteria_table,
    observations_table,
    start_words,
)
from portfolio.services.classifying import STANDARD, ClassifiedLog
from portfolio.services.drawn_part import WHOLE, DrawnPart
from portfolio.sheets.writing import Table


@dataclass(frozen=True, slots=True)
class ClassifiedPage:
    """The page: sentences, tables and drawings (SVG)."""

    name: str
    conclusion: str
    start: tuple[str, ...]
    keeps_from_telling: tuple[str, ...]
    remarks: tuple[str, ...]
    tables: tuple[Table, ...]
    charts: tuple[str, ...]
    rig: str


@dataclass(frozen=True, slots=True)
class Choices:
    """What may be chosen: annexes with their words, and editions of the test."""

    annexes: tuple[tuple[str, str], ...]
    test_editions: tuple[str, ...]


def choices() -> Choices:
    """The annexes that criteria are recorded for, and the editions that a test may be done to."""
    reference = load_reference()
    editions = sorted(
        {pairing.edition for pairing in reference.pairings if pairing.standard == STANDARD}
    )
    annexes = tuple(
        (one.annex, f"{one.name} (part {one.part} of the test)") for one in reference.criteria
    )
    return Choices(annexes, tuple(editions))


def page_of(done: ClassifiedLog, minute: float | None, part: DrawnPart = WHOLE) -> ClassifiedPage:
    """The page of a log; the rig at a minute from ignition, or when it tells most, and the charts
    of a part of it."""
    found = done.found
    faults = [
        f"{one.channel.name}: {'; '.join(one.faults)}" for one in found.channels if one.faults
    ]
    return ClassifiedPage(
        done.name,
        conclusion(found),
        start_words(found),
        found.keeps_from_telling,
        (*done.notes, *found.remarks, *faults),
        (criteria_table(found), channels_table(found), observations_table(found)),
        chart_drawings(done, part=part),
        rig_drawing(done, telling_minute(found) if minute is None else minute),
    )

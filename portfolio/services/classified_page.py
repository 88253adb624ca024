"""Everything that the page of a classified log shows; nothing of it is stored."""

from __future__ import annotations

from dataclasses import dataclass

from portfolio.domain.limits import CriteriaSet
from portfolio.reference.loader import load_reference
from portfolio.services.classified_drawings import chart_drawings, rig_drawing, telling_minute
from portfolio.services.classified_tables import (
    channels_table,
    conclusion,
    criteria_table,
    observations_table,
    start_words,
)
from portfolio.services.classifying import STANDARD, Asked, ClassifiedLog
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
    """What may be chosen: sets of criteria, and editions of the test."""

    criteria: tuple[CriteriaSet, ...]
    test_editions: tuple[str, ...]

    @property
    def annexes(self) -> tuple[tuple[str, str], ...]:
        """The annexes, with words for them."""
        return tuple((one.annex, _words(one)) for one in self.criteria)

    @property
    def sets(self) -> tuple[tuple[str, str], ...]:
        """The sets by their names, with words for them."""
        return tuple((one.name, _words(one)) for one in self.criteria)

    def name_of(self, asked: Asked) -> str:
        """The name of the set that the annex, and where told the document, ask for; else ""."""
        named = (
            one.name
            for one in self.criteria
            if one.annex == asked.annex
            and asked.document in ("", one.document)
            and asked.edition in ("", one.edition)
        )
        return next(named, "")

    def asked_by(self, name: str, test_edition: str) -> Asked:
        """What choosing a set by its name asks for; no name asks for none."""
        for one in self.criteria:
            if one.name == name:
                return Asked(one.document, one.edition, one.annex, test_edition)
        return Asked(test_edition=test_edition)


def choices() -> Choices:
    """The criteria that are recorded, and the editions that a test may be done to."""
    reference = load_reference()
    editions = sorted(
        {pairing.edition for pairing in reference.pairings if pairing.standard == STANDARD}
    )
    return Choices(reference.criteria, tuple(editions))


def _words(one: CriteriaSet) -> str:
    return f"{one.name} (part {one.part} of the test)"


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

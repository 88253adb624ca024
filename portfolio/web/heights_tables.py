"""The heights of a building and the thresholds of its jurisdiction, as rows of a page or a file."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from portfolio.domain.heights import Side
from portfolio.domain.thresholds import JurisdictionThreshold, ThresholdFinding
from portfolio.services.building_page import BuildingPage
from portfolio.sheets.writing import Cell, Table

TITLES = ("Thresholds", "Heights")
SIDES = {
    Side.ABOVE: "reaches it",
    Side.BELOW: "does not reach it",
    Side.EITHER_SIDE: "could lie on either side",
    Side.UNKNOWN: "unknown",
}
_THRESHOLD_HEADERS = (
    "Jurisdiction",
    "Threshold",
    "This building",
    "What is claimed",
    "What would settle it",
    "What it triggers",
    "Note",
    "In force",
    "Status of the source",
    "Source",
)
_HEIGHT_HEADERS = (
    "Top floor height (m)",
    "Height tolerance (m)",
    "Tolerance taken (m)",
    "Height method",
    "Height date",
    "Height source",
)


@dataclass(frozen=True, slots=True)
class ThresholdRow:
    """One threshold in words."""

    jurisdiction: str
    words: str
    side: str
    claims: tuple[str, ...]
    settles: tuple[str, ...]
    triggers: str
    note: str
    in_force: str
    status: str
    source: str


def threshold_rows(found: Sequence[ThresholdFinding]) -> list[ThresholdRow]:
    """The thresholds in words, in the order of the reference data."""
    return [
        ThresholdRow(
            one.threshold.jurisdiction,
            one.threshold.words,
            SIDES[one.side],
            tuple(dict.fromkeys(claim.words for asked in one.findings for claim in asked.claims)),
            one.settles,
            one.threshold.triggers,
            one.threshold.note,
            in_force(one.threshold),
            one.threshold.status,
            one.threshold.source,
        )
        for one in found
    ]


def in_force(threshold: JurisdictionThreshold) -> str:
    """From when until when, without claiming a first day that nobody recorded."""
    since = threshold.effective_from.isoformat()
    text = (
        f"from {since}" if threshold.start_is_known else f"start not recorded; entered here {since}"
    )
    return f"{text}, before {threshold.effective_to}" if threshold.effective_to else text


def height_tables(page: BuildingPage) -> list[Table]:
    """Thresholds and claims of the height, for a workbook or a CSV each."""
    thresholds = [_cells(row) for row in threshold_rows(page.thresholds)]
    return [
        Table(TITLES[0], _THRESHOLD_HEADERS, thresholds),
        Table(TITLES[1], _HEIGHT_HEADERS, list(_heights(page))),
    ]


def _cells(row: ThresholdRow) -> list[Cell]:
    return [
        row.jurisdiction,
        row.words,
        row.side,
        "; ".join(row.claims),
        "; ".join(row.settles),
        row.triggers,
        row.note,
        row.in_force,
        row.status,
        row.source,
    ]


def _heights(page: BuildingPage) -> Iterator[list[Cell]]:
    for claim in page.known.height_claims:
        yield [
            claim.metres,
            claim.tolerance_m,
            claim.effective_tolerance_m,
            claim.method,
            claim.on,
            claim.source,
        ]

"""The list of tests as a table to download."""

from __future__ import annotations

from collections.abc import Sequence

from portfolio.services.evidence import EvidenceRow
from portfolio.sheets.writing import Table
from portfolio.web import labels

_HEADERS = (
    "Test",
    "Title",
    "Held by",
    "Standard",
    "Date",
    "Facing and insulation",
    "Outcome that counts",
    "Outcome by the criteria",
    "Outcome as printed",
    "These disagree",
    "Standing",
    "Held",
    "Consent",
    "Zones it covers",
    "Zones it speaks against",
    "Zones it could speak against",
    "Zones it comes nearest to",
)


def table(rows: Sequence[EvidenceRow]) -> Table:
    """One row for each test."""
    return Table(
        "Evidence",
        _HEADERS,
        [
            (
                row.ref,
                row.title,
                row.holder,
                row.standard,
                row.tested_on,
                row.wall,
                labels.word(row.outcome),
                labels.word(row.from_criteria),
                labels.word(row.printed),
                row.disagree,
                labels.word(row.standing),
                labels.word(row.holding),
                labels.word(row.consent),
                row.covers,
                row.against,
                row.in_doubt,
                row.nearest,
            )
            for row in rows
        ],
    )

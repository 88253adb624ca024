"""The comparison of a zone with one test as a table to download."""

from __future__ import annotations

from portfolio.services.zone_page import ZonePage
from portfolio.sheets.writing import Table

_HEADERS = (
    "Building",
    "Zone",
    "Test",
    "Parameter",
    "Zone has",
    "Test had",
    "Answer",
    "Decisive",
    "Seen, but not well enough",
    "Rule",
    "Source of the rule",
    "Beside a failing test: the milder side",
    "Where the zone's value comes from",
)


def tables(page: ZonePage) -> list[Table]:
    """The table of the chosen test; differences first, then what is unknown, then the rest."""
    rows = page.rows("differs") + page.rows("unknown") + page.rows("allowed") + page.rows("same")
    test = page.chosen.test.ref if page.chosen else ""
    return [
        Table(
            "Comparison",
            _HEADERS,
            [
                (
                    page.row.building.ref,
                    page.row.ref,
                    test,
                    row.title,
                    row.zone_value,
                    row.test_value,
                    row.answer,
                    row.is_decisive,
                    row.too_weak,
                    row.rule,
                    row.source,
                    row.side,
                    row.provenance,
                )
                for row in rows
            ],
        )
    ]

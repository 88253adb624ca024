"""Rows of works into drafts."""

from __future__ import annotations

import re

from portfolio.domain.works import Decided, WorksStatus
from portfolio.domain.works_money import read_money
from portfolio.sheets.cells import Cells
from portfolio.sheets.drafts import Key, WorksDraft

_CURRENCY = re.compile(r"[A-Z]{3}")


def works(cells: Cells, key: Key) -> WorksDraft:
    """The works of a row."""
    status_date = cells.day("works_status_date")
    if status_date is None and not cells.is_unknown("works_status") and not cells.problems:
        cells.refuse("works_status_date", "A status has a day.", "when it was reached")
    return WorksDraft(
        owner=key[0],
        building=key[1],
        works=key[2],
        works_title=cells.text("works_title"),
        works_zones=tuple(sorted(cells.references("works_zones"))),
        decided=cells.word("decided", Decided, Decided.NOT_DECIDED),
        decided_reason=cells.text("decided_reason"),
        works_status=cells.word("works_status", WorksStatus, WorksStatus.IDENTIFIED),
        works_status_date=status_date,
        built_on=cells.day("built_on"),
        programme=cells.text("programme"),
        responsible=cells.text("responsible"),
        funding_route=cells.text("funding_route"),
        currency=_currency(cells),
        funding=_money(cells, "funding"),
        cost_estimate=_money(cells, "cost_estimate"),
        cost_outturn=_money(cells, "cost_outturn"),
        due_on=cells.day("due_on"),
        due_reason=cells.text("due_reason"),
        residents_told_on=cells.day("residents_told_on"),
        residents_next_on=cells.day("residents_next_on"),
        works_note=cells.text("works_note"),
        columns=cells.columns - _unsaid(cells),
        at=cells.place,
    )


def _unsaid(cells: Cells) -> set[str]:
    """An empty cell takes no works back to their beginning."""
    said = {"works_status", "works_status_date", "decided"}
    return {column for column in said if cells.is_unknown(column)}


def _currency(cells: Cells) -> str:
    text = cells.raw("currency").upper()
    if not text:
        return "GBP"
    if not _CURRENCY.fullmatch(text):
        cells.refuse("currency", "This is no currency.", "three letters of ISO 4217, such as GBP")
    return text


def _money(cells: Cells, key: str) -> int | None:
    """An amount in minor units, or None for unknown."""
    if cells.is_unknown(key):
        return None
    try:
        return read_money(cells.raw(key))
    except ValueError as error:
        cells.refuse(key, "This is no amount of money.", f'{error}, or "unknown"')
        return None

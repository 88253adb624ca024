"""The workbook: its sheets in order, and how sheets and columns are recognised by their names."""

from __future__ import annotations

import re

from portfolio.sheets.columns import Column, Sheet
from portfolio.sheets.layout_buildings import BUILDINGS, HEIGHTS, ORGANISATIONS, ZONES
from portfolio.sheets.layout_logs import LOG_SHEETS
from portfolio.sheets.layout_tests import TESTED_LAYERS, TESTS
from portfolio.sheets.layout_walls import LAYERS
from portfolio.sheets.layout_works import WORKS

SHEETS: tuple[Sheet, ...] = (
    ORGANISATIONS,
    BUILDINGS,
    HEIGHTS,
    ZONES,
    LAYERS,
    TESTS,
    TESTED_LAYERS,
    WORKS,
)
"""Every sheet, in the order in which they are read and written."""

HELP_TITLE = "Help"
EXAMPLE_TITLE = "Example"
LISTS_TITLE = "Lists"
CAUTION_TITLE = "Caution"
IGNORED_TITLES = (HELP_TITLE, EXAMPLE_TITLE, LISTS_TITLE, CAUTION_TITLE)
"""Sheets that explain and are never read as records."""


_NUMBERED = re.compile(r"[ -]\d+$")


def folded(name: str) -> str:
    """A name without the differences of writing: case, underscores and runs of spaces."""
    return " ".join(name.casefold().replace("_", " ").split())


_SHEET_OF = {folded(name): sheet for sheet in SHEETS for name in (sheet.key, sheet.title)}
_IGNORED = frozenset(folded(title) for title in IGNORED_TITLES)
_COLUMN_OF = {
    sheet.key: {
        folded(name): column for column in sheet.columns for name in (column.key, column.header)
    }
    for sheet in (*SHEETS, *LOG_SHEETS)
}


def sheet_named(name: str) -> Sheet | None:
    """The sheet that a tab or a file name (without ".csv") means.

    A number may follow ("Layers 2"), because one tab takes only so many rows.
    """
    return _SHEET_OF.get(_NUMBERED.sub("", folded(name)))


def is_ignored(name: str) -> bool:
    """Whether a tab only explains the others."""
    return folded(name) in _IGNORED


def column_named(sheet: Sheet, name: str) -> Column | None:
    """The column that a header means: its header text or its key."""
    return _COLUMN_OF[sheet.key].get(folded(name))

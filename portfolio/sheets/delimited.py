"""Reads CSV files, and guards cells that a spreadsheet program would take for a formula."""

from __future__ import annotations

import csv
import io
import re

from portfolio.sheets.columns import Sheet
from portfolio.sheets.raw import MOST_COLUMNS, MOST_ROWS, GivenFile, Grid, refuse

# apostrophes that are already there get one more, or taking one off would not give them back
_RISKY = re.compile(r"'*[=+\-@\t\r]")
_GUARDED = re.compile(r"'+[=+\-@\t\r]")
_DELIMITERS = (",", ";", "\t")
_LINES_LOOKED_AT = 100
_TOO_LONG = "field limit"
"""What only this error of the reader says."""


def guarded(text: str) -> str:
    """The text with an apostrophe before it where a program might calculate it.

    >>> guarded("=1+1"), guarded("plain"), guarded("'=1+1")
    ("'=1+1", 'plain', "''=1+1")
    """
    return f"'{text}" if _RISKY.match(text) else text


def unguarded(text: str) -> str:
    """The text that `guarded` was given.

    >>> unguarded("'=1+1"), unguarded("-5"), unguarded("'tis")
    ('=1+1', '-5', "'tis")
    """
    return text[1:] if _GUARDED.match(text) else text


def grid_of(given: GivenFile, sheet: Sheet) -> Grid:
    """The rows of a CSV file that holds one sheet of the layout."""
    further = f'; let the rest go on in a further file, "{sheet.key}-2.csv"'
    return Grid(given.name, "", sheet, rows_of(given, further))


def rows_of(given: GivenFile, advice: str = "", header_starts: str = "") -> list[list[str]]:
    """The rows of a CSV file; a cell with line breaks in it is part of one row.

    `advice` says what to do with a file that is too long; `header_starts` how the line of headers
    begins, where lines without cells may stand above it.
    """
    text = _decoded(given)
    delimiter = max(_DELIMITERS, key=_header_line(text, header_starts).count)
    rows: list[list[str]] = []
    try:
        for row in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True):
            rows.append([unguarded(cell) for cell in row])
            if len(rows) > MOST_ROWS + 1 or len(row) > MOST_COLUMNS:
                raise refuse(
                    given.name,
                    f"Row {len(rows):,} is beyond what one file may hold.",
                    f"at most {MOST_ROWS:,} rows and {MOST_COLUMNS} columns{advice}",
                )
    except csv.Error as error:
        if _TOO_LONG in str(error):
            raise refuse(
                given.name,
                f"A cell of row {len(rows) + 1:,} is too long.",
                f"at most {csv.field_size_limit():,} characters in a cell; a quotation mark that "
                "is never closed makes one cell of everything after it",
            ) from error
        raise refuse(
            given.name,
            f"This is no CSV file that can be read: after row {len(rows):,}, {error}.",
            "a quotation mark within a cell to be written twice",
        ) from error
    return rows


def _header_line(text: str, starts: str) -> str:
    """The line by which the delimiter is told."""
    first, *others = text.split("\n", _LINES_LOOKED_AT)[:_LINES_LOOKED_AT]
    lines = (line for line in (first, *others) if line.strip('" ').casefold().startswith(starts))
    return next(lines, first)


def _decoded(given: GivenFile) -> str:
    if given.content.startswith(b"PK\x03\x04"):
        raise refuse(given.name, "This is a workbook, not a CSV file.", "its name to end in .xlsx")
    try:
        return given.content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise refuse(
            given.name,
            f"This is not text in UTF-8 (byte {error.start + 1:,} cannot be read).",
            'a file saved as "CSV UTF-8"',
        ) from error

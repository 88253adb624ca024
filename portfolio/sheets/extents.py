"""How far the cells of a workbook's parts reach, found before a reader makes room for them.

A file of a few kilobytes with one cell in the last corner of a sheet would otherwise ask for
hundreds of gigabytes, and end the program. Counting is strict: what is written in an odd way is
refused, so that nothing can be counted here as less than the reader would make of it.
"""

from __future__ import annotations

import re

# no part of a tag may hold "<", so that every byte is looked at once only
_START = re.compile(rb"<(?:[^\s<>/]*:)?(?:row|c)(?=[\s/>])")
_TAG = re.compile(
    rb"<(?:[^\s<>/]*:)?(row|c)(?=[\s/>])"
    rb"([^<>\"']*(?:(?:\"[^\"<]*\"|'[^'<]*')[^<>\"']*)*)>"
)
# as nearly every program writes it, which is counted in a third of the time
_PLAIN = re.compile(
    rb'<(?:row r="([0-9]{1,7})"|c r="([A-Z]{1,3})([0-9]{1,7})")'
    rb'(?: (?!r=)[a-zA-Z0-9:]+="[^"<]*")*/?>'
)
_PLACE = re.compile(rb"(?<![\w:.-])r\s*=\s*[\"']([^\"']*)[\"']")
_CELL = re.compile(rb"([A-Za-z]{1,3})([0-9]{1,7})")
_ROW = re.compile(rb"[0-9]{1,7}")
_A = ord("A") - 1


def extent_of(content: bytes) -> tuple[int, int]:
    """The last row and the last column that cells of this part reach, counted from 1.

    Raises ValueError where a row or a cell is written in a way that cannot be counted.

    >>> extent_of(b'<row r="2"><c r="B2"/><c/></row>')
    (2, 3)
    """
    if b"\x00" in content:
        # in two-byte encodings no tag would be recognised
        raise ValueError("the part is not in a one-byte encoding")
    tags = len(_START.findall(content))
    plain = _PLAIN.findall(content)
    if len(plain) == tags:
        return _plain_extent(plain)
    return _odd_extent(content, tags)


def _plain_extent(plain: list[tuple[bytes, bytes, bytes]]) -> tuple[int, int]:
    """Every row and cell says where it stands."""
    rows = {number for found in plain for number in (found[0], found[2])} - {b""}
    columns = {letters for _, letters, _ in plain} - {b""}
    return max(map(int, rows), default=0), max(map(_column, columns), default=0)


def _odd_extent(content: bytes, tags: int) -> tuple[int, int]:
    """Rows and cells that do not say where they stand follow the one before."""
    rows = columns = row = column = counted = 0
    for tag in _TAG.finditer(content):
        counted += 1
        places = _PLACE.findall(tag[2])
        if len(places) > 1:
            raise ValueError("a cell has two places")
        if tag[1] == b"row":
            row, column = (_row(places[0]) if places else row + 1), 0
        elif places:
            row_of_cell, column = _cell(places[0])
            rows = max(rows, row_of_cell)
        else:
            column += 1
        rows, columns = max(rows, row), max(columns, column)
    if counted != tags:
        raise ValueError("a row or a cell is not written in full")
    return rows, columns


def _row(text: bytes) -> int:
    if not _ROW.fullmatch(text):
        raise ValueError("a row has no number")
    return int(text)


def _cell(text: bytes) -> tuple[int, int]:
    found = _CELL.fullmatch(text)
    if found is None:
        raise ValueError("a cell has no place")
    return int(found[2]), _column(found[1])


def _column(letters: bytes) -> int:
    column = 0
    for letter in letters.upper():
        column = column * 26 + letter - _A
    return column

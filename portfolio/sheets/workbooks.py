"""Opens an .xlsx workbook safely and hands out its tabs as grids of text."""

from __future__ import annotations

import io
import zipfile
import zlib
from collections.abc import Iterator
from datetime import date, datetime

from python_calamine import CalamineError, CalamineSheet, CalamineWorkbook

from portfolio.domain.errors import Problem
from portfolio.sheets.layout import SHEETS, is_ignored, sheet_named
from portfolio.sheets.raw import (
    MOST_COLUMNS,
    MOST_ROWS,
    MOST_UNPACKED_BYTES,
    GivenFile,
    Grid,
    refuse,
)

MOST_TIMES_UNPACKED = 300
_HARMLESS_BYTES = 20_000_000
_CHUNK = 1 << 20
_WHOLE_NUMBERS_BELOW = 1e15
_NOT_A_WORKBOOK = "This is not a workbook, or it is damaged."
_EXPECTED = "an .xlsx workbook, saved without a password"


def grids_of(given: GivenFile) -> tuple[list[Grid], list[Problem]]:
    """The tabs that the layout knows, and a problem for every other one."""
    _check_archive(given)
    grids, problems = [], []
    try:
        with CalamineWorkbook.from_filelike(io.BytesIO(given.content)) as workbook:
            for tab in workbook.sheet_names:
                sheet = sheet_named(tab)
                if sheet is not None:
                    rows = _rows(given.name, tab, workbook.get_sheet_by_name(tab))
                    grids.append(Grid(given.name, tab, sheet, rows))
                elif not is_ignored(tab):
                    problems.append(unknown_sheet(given.name, tab))
    except CalamineError as error:
        raise refuse(given.name, _NOT_A_WORKBOOK, _EXPECTED) from error
    return grids, problems


def unknown_sheet(file: str, tab: str) -> Problem:
    """Says which names would have been understood."""
    titles = ", ".join(sheet.title for sheet in SHEETS)
    return Problem("There is no sheet of this name.", f"one of: {titles}", file, tab)


def _check_archive(given: GivenFile) -> None:
    """Unpack everything once, counting: what an archive says of its own sizes may be a lie."""
    try:
        with zipfile.ZipFile(io.BytesIO(given.content)) as archive:
            for unpacked in _growing_sizes(archive):
                ratio = unpacked / max(len(given.content), 1)
                is_bomb = unpacked > _HARMLESS_BYTES and ratio > MOST_TIMES_UNPACKED
                if unpacked > MOST_UNPACKED_BYTES or is_bomb:
                    raise refuse(
                        given.name,
                        "The workbook unpacks to far more than it should.",
                        f"at most {MOST_UNPACKED_BYTES // 1_000_000} MB unpacked, and at most "
                        f"{MOST_TIMES_UNPACKED} times its packed size",
                    )
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError) as error:
        raise refuse(given.name, _NOT_A_WORKBOOK, _EXPECTED) from error
    except (NotImplementedError, RuntimeError) as error:  # an odd packing, or a password
        raise refuse(given.name, "This workbook is packed in a way we cannot open.") from error


def _growing_sizes(archive: zipfile.ZipFile) -> Iterator[int]:
    total = 0
    for entry in archive.infolist():
        # reading stops at the size that the entry states, so state more than we would accept
        entry.file_size = MOST_UNPACKED_BYTES + _CHUNK
        with archive.open(entry) as member:
            while chunk := member.read(_CHUNK):
                total += len(chunk)
                yield total


def _rows(file: str, tab: str, sheet: CalamineSheet) -> list[list[str]]:
    last_row, last_column = sheet.end or (0, 0)  # both counted from 0
    if last_row > MOST_ROWS:
        raise refuse(
            file,
            f"The sheet has {last_row + 1:,} rows.",
            f'at most {MOST_ROWS:,} and a header; let the rest go on in a further sheet, "{tab} 2"',
            tab,
        )
    if last_column >= MOST_COLUMNS:
        raise refuse(
            file, f"The sheet has {last_column + 1:,} columns.", f"at most {MOST_COLUMNS}", tab
        )
    # without the empty area above it, the first filled row would be taken for row 1
    return [[_text(cell) for cell in row] for row in sheet.to_python(skip_empty_area=False)]


def _text(cell: object) -> str:
    """A cell as a person would type it."""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return _number(cell)
    if isinstance(cell, datetime):
        return cell.date().isoformat()
    return cell.isoformat() if isinstance(cell, date) else str(cell)


def _number(number: float) -> str:
    """Spreadsheets keep every number as a float of 15 digits; a reference 7 must not become 7.0."""
    if number.is_integer() and abs(number) < _WHOLE_NUMBERS_BELOW:
        return str(int(number))
    text = f"{number:.15g}"
    return text if "e" not in text else f"{number:.15f}".rstrip("0").rstrip(".")

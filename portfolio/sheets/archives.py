"""Unpacks a workbook within limits, and packs what was checked for the reader.

The reader gets the parts that were counted here, packed anew: what an archive says of itself, or
shows to one reader and not to another, is of no consequence.
"""

from __future__ import annotations

import io
import zipfile
import zlib

from portfolio.sheets.extents import extent_of
from portfolio.sheets.raw import (
    MOST_COLUMNS,
    MOST_ROWS,
    MOST_UNPACKED_BYTES,
    GivenFile,
    refuse,
)

MOST_TIMES_UNPACKED = 300
NOT_A_WORKBOOK = "This is not a workbook, or it is damaged."
EXPECTED = "an .xlsx workbook, saved without a password"
_HARMLESS_BYTES = 20_000_000
_CHUNK = 1 << 20
_START = b"PK\x03\x04"
_WORKBOOK = "xl/workbook.xml"
# the reader would go on to take a file for another kind of workbook, which nobody counted
_OF_OTHER_KINDS = ("xl/workbook.bin", "content.xml", "mimetype")


def checked_archive(given: GivenFile) -> io.BytesIO:
    """The workbook for the reader. Raises InputError for one that is broken or asks too much."""
    parts = _unpacked(given)
    for content in parts.values():
        _check_extent(given, content)
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_STORED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    stream.seek(0)
    return stream


def _unpacked(given: GivenFile) -> dict[str, bytes]:
    if not given.content.startswith(_START):
        raise refuse(given.name, NOT_A_WORKBOOK, EXPECTED)
    parts: dict[str, bytes] = {}
    total = 0
    try:
        with zipfile.ZipFile(io.BytesIO(given.content)) as archive:
            for entry in archive.infolist():
                content = _part(given, archive, entry, total)
                total += len(content)
                if parts.setdefault(entry.filename, content) is not content:
                    raise refuse(given.name, NOT_A_WORKBOOK, EXPECTED)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError) as error:
        raise refuse(given.name, NOT_A_WORKBOOK, EXPECTED) from error
    except (NotImplementedError, RuntimeError) as error:  # an odd packing, or a password
        message = "This workbook is packed in a way that cannot be opened."
        raise refuse(given.name, message, EXPECTED) from error
    names = {name.casefold() for name in parts}
    if _WORKBOOK not in names or names.intersection(_OF_OTHER_KINDS):
        raise refuse(given.name, NOT_A_WORKBOOK, EXPECTED)
    return parts


def _part(given: GivenFile, archive: zipfile.ZipFile, entry: zipfile.ZipInfo, before: int) -> bytes:
    """One part, read only as far as there is room for it."""
    # reading stops at the size that the entry states, so state more than would be accepted
    entry.file_size = MOST_UNPACKED_BYTES + _CHUNK
    content = bytearray()
    with archive.open(entry) as member:
        while chunk := member.read(_CHUNK):
            content += chunk
            unpacked = before + len(content)
            is_bomb = unpacked > max(_HARMLESS_BYTES, len(given.content) * MOST_TIMES_UNPACKED)
            if unpacked > MOST_UNPACKED_BYTES or is_bomb:
                raise refuse(
                    given.name,
                    "The workbook unpacks to far more than it should.",
                    f"at most {MOST_UNPACKED_BYTES // 1_000_000} MB unpacked, and at most "
                    f"{MOST_TIMES_UNPACKED} times its packed size",
                )
    return bytes(content)


def _check_extent(given: GivenFile, content: bytes) -> None:
    try:
        rows, columns = extent_of(content)
    except ValueError as error:
        raise refuse(given.name, NOT_A_WORKBOOK, EXPECTED) from error
    if rows * columns > (MOST_ROWS + 1) * MOST_COLUMNS:
        raise refuse(
            given.name,
            f"The cells of a sheet reach to row {rows:,} and to column {columns:,}.",
            f"at most {MOST_ROWS:,} rows and {MOST_COLUMNS} columns; look for stray cells far "
            "below or beside the others",
        )

"""Finds what a reader of values would take for empty: errors, and formulas never calculated."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from xml.etree import ElementTree

_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_RELATED = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_CELL = re.compile(r"([A-Z]{1,3})([0-9]{1,7})")
_LETTERS = 26

ERROR = "This cell holds an error of the spreadsheet."
NEVER_CALCULATED = "This cell holds a formula without a value."


def broken_cells(archive: io.BytesIO, tab: str) -> Iterator[tuple[int, int, str, str]]:
    """The broken cells of a tab: row and column from 0, what is wrong, and the error's name.

    The archive must have been checked, see archives. A workbook of another make is left to who
    reads its values.
    """
    # a stream of its own: who reads the values has a place in the other one
    with zipfile.ZipFile(io.BytesIO(archive.getbuffer())) as parts:
        path = _path_of(parts, tab)
        content = parts.read(path) if path in parts.namelist() else b""
    if b"<!DOCTYPE" in content or not (b't="e"' in content or b"<f" in content):
        return
    for _, cell in ElementTree.iterparse(io.BytesIO(content)):
        if cell.tag != f"{_MAIN}c":
            continue
        value = cell.find(f"{_MAIN}v")
        place = _CELL.fullmatch(cell.get("r", ""))
        if place is not None and cell.get("t") == "e":
            yield _row(place), _column(place), ERROR, "" if value is None else value.text or ""
        elif place is not None and _is_never_calculated(cell, value):
            yield _row(place), _column(place), NEVER_CALCULATED, ""
        cell.clear()


def _is_never_calculated(cell: ElementTree.Element, value: ElementTree.Element | None) -> bool:
    """A formula that comes to an empty text says so: its cell is a text."""
    if cell.find(f"{_MAIN}f") is None:
        return False
    return value is None or (not value.text and cell.get("t") != "str")


def _path_of(parts: zipfile.ZipFile, tab: str) -> str:
    names = parts.namelist()
    if "xl/workbook.xml" not in names or "xl/_rels/workbook.xml.rels" not in names:
        return ""
    book, related = (parts.read(name) for name in ("xl/workbook.xml", "xl/_rels/workbook.xml.rels"))
    if b"<!DOCTYPE" in book + related:
        return ""
    targets = {link.get("Id"): link.get("Target", "") for link in ElementTree.fromstring(related)}
    for sheet in ElementTree.fromstring(book).iter(f"{_MAIN}sheet"):
        if sheet.get("name") == tab:
            target = targets.get(sheet.get(_RELATED), "")
            return target.removeprefix("/") if target.startswith("/") else f"xl/{target}"
    return ""


def _row(place: re.Match[str]) -> int:
    return int(place[2]) - 1


def _column(place: re.Match[str]) -> int:
    found = 0
    for letter in place[1]:
        found = found * _LETTERS + ord(letter) - ord("A") + 1
    return found - 1

"""Tables that a narrow window shows row by row, each cell under the name of its column.

A template writes a plain table; here every cell is told its column, so that the style sheet can
print it beside the value. What is shown as blocks is no table any more to some browsers, so the
roles say it to screen readers.
"""

from __future__ import annotations

import html
import re

from markupsafe import Markup, escape

# a table with fewer columns fits into any window as it is
_FEWEST_COLUMNS = 3

_TAG = re.compile(r"<(table|thead|tbody|tfoot|tr|th|td)\b([^>]*)>")
_HEADER = re.compile(r"<th\b[^>]*>(.*?)</th>", re.DOTALL)
_SIGN = re.compile(r'<span\b[^>]*aria-hidden="true"[^>]*>.*?</span>', re.DOTALL)
_ACROSS = re.compile(r'\bcolspan="(\d+)"')
_ANY_TAG = re.compile(r"<[^>]*>")
_ROLES = {"table": "table", "tr": "row"}
_GROUP = "rowgroup"


def row_by_row(markup: Markup) -> Markup:
    """The same table, its cells with the names of their columns and everything with its role."""
    head, end, body = str(markup).partition("</thead>")
    names = [_words(header) for header in _HEADER.findall(head)]
    if len(names) < _FEWEST_COLUMNS:
        return markup
    cells = _Cells(names)
    body = cells.named(body)
    return Markup(_Headers(cells.row_names).named(head) + end + body)


def _words(header: str) -> str:
    """What a column is called: its text, without signs that only the eye gets."""
    return " ".join(html.unescape(_ANY_TAG.sub("", _SIGN.sub("", header))).split())


class _Headers:
    """The headers of columns; the one above the rows' own names stays in sight with them."""

    def __init__(self, row_names: int | None) -> None:
        self._row_names = row_names
        self._column = -1

    def named(self, head: str) -> str:
        return _TAG.sub(self._tag, head)

    def _tag(self, found: re.Match[str]) -> str:
        tag, attributes = found[1], found[2]
        if tag != "th":
            return f'<{tag}{attributes} role="{_ROLES.get(tag, _GROUP)}">'
        self._column += 1
        mark = " data-row-names" if self._column == self._row_names else ""
        return f'<th{attributes} role="columnheader"{mark}>'


class _Cells:
    """The cells of a body one after the other, each with the name of the column it stands in."""

    def __init__(self, names: list[str]) -> None:
        self.row_names: int | None = None
        self._names = names
        self._column = 0

    def named(self, body: str) -> str:
        return _TAG.sub(self._tag, body)

    def _tag(self, found: re.Match[str]) -> str:
        tag, attributes = found[1], found[2]
        if tag == "th":
            self.row_names = self._column
        if tag in ("th", "td"):
            role = "rowheader" if tag == "th" else "cell"
            return f'<{tag}{attributes} role="{role}"{self._name(attributes)}>'
        if tag == "tr":
            self._column = 0
        return f'<{tag}{attributes} role="{_ROLES.get(tag, _GROUP)}">'

    def _name(self, attributes: str) -> str:
        # a cell across several columns belongs to none of them
        if across := _ACROSS.search(attributes):
            self._column += int(across[1])
            return ""
        self._column += 1
        return f' data-column="{escape(self._names[self._column - 1])}"'

"""Reading a page as its reader does: text, headings, rows of tables."""

import html
import re
from html.parser import HTMLParser

_VOID = {
    "meta",
    "link",
    "input",
    "br",
    "hr",
    "img",
    "area",
    "base",
    "col",
    "embed",
    "source",
    "wbr",
}


class Page(HTMLParser):
    """What stands on a page: its elements with their attributes, and their text."""

    def __init__(self, markup: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str]]] = []
        self.texts: list[tuple[tuple[str, ...], str]] = []
        self._open: list[str] = []
        self.feed(markup)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, {name: value or "" for name, value in attrs}))
        if tag not in _VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        while self._open and self._open.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        self.texts.append((tuple(self._open), data))

    def all(self, tag: str) -> list[dict[str, str]]:
        """The attributes of every element of a kind."""
        return [attributes for name, attributes in self.elements if name == tag]

    def text(self, within: str = "body") -> str:
        """All words inside elements of a kind, spaces evened out."""
        return " ".join(" ".join(t for open_, t in self.texts if within in open_).split())


def rows(markup: str) -> list[list[str]]:
    """The cells of every row of every table body, as text."""
    bodies = re.findall(r"<tbody\b[^>]*>(.*?)</tbody>", markup, re.DOTALL)
    found = [
        row for body in bodies for row in re.findall(r"<tr\b[^>]*>(.*?)</tr>", body, re.DOTALL)
    ]
    cells = [re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row, re.DOTALL) for row in found]
    return [[_plain(cell) for cell in row] for row in cells]


def _plain(markup: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", markup)).split())

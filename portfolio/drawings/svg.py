"""The few SVG pieces every drawing is made of, on the standard library's ElementTree.

Colours are presentation attributes, so that a PDF keeps them, and every shape has a class, so
that a page's style sheet can override them. There is never a `style` attribute or element.
"""

import re
from collections.abc import Sequence
from typing import NamedTuple
from xml.etree.ElementTree import Element, SubElement, tostring

from portfolio.drawings import marks
from portfolio.drawings.text import clean

SVG_NAMESPACE = "http://www.w3.org/2000/svg"
FONT_SIZE = 12.0
NARROWEST, WIDEST = 200, 4000

_PREFIX = re.compile(r"[A-Za-z][A-Za-z0-9_-]*\Z")
_SAFE_LINK = re.compile(r"(?:https?://|/(?!/)|[#?]|\./)[^\s\\]*\Z", re.IGNORECASE)


def number_text(value: float) -> str:
    """Write a coordinate with at most two decimals and no trailing zeros.

    >>> number_text(12.0), number_text(-0.001), number_text(3.14159)
    ('12', '0', '3.14')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


class Box(NamedTuple):
    """A rectangle by its top left corner and its size, in drawing units."""

    x: float
    y: float
    width: float
    height: float

    @property
    def centre(self) -> float:
        """The middle, from left to right."""
        return self.x + self.width / 2

    @property
    def middle(self) -> float:
        """The middle, from top to bottom."""
        return self.y + self.height / 2


def add(
    parent: Element, tag: str, /, *, text: str | None = None, **attributes: str | float | None
) -> Element:
    """Append an element; `class_` and `stroke_width` become `class` and `stroke-width`."""
    child = SubElement(parent, tag)
    for name, value in attributes.items():
        if value is not None:
            shown = clean(value) if isinstance(value, str) else number_text(value)
            child.set(name.rstrip("_").replace("_", "-"), shown)
    if text is not None:
        child.text = clean(text)
    return child


def add_text(
    parent: Element,
    x: float,
    y: float,
    lines: Sequence[str],
    *,
    size: float = FONT_SIZE,
    anchor: str = "start",
    bold: bool = False,
    colour: str = marks.INK,
    class_: str = "drawing-text",
    full: str | None = None,
) -> Element:
    """Append lines of text, the first with its baseline at `y`; `full` is told on hovering."""
    element = add(
        parent,
        "text",
        class_=class_,
        fill=colour,
        font_size=size,
        font_weight="bold" if bold else None,
        text_anchor=None if anchor == "start" else anchor,
    )
    if full is not None:
        add(element, "title", text=full)
    for number, line in enumerate(lines):
        add(element, "tspan", x=x, y=y + number * line_height(size), text=line)
    return element


def add_box(parent: Element, box: Box, **attributes: str | float | None) -> Element:
    """Append a rectangle with the given attributes."""
    size = {"x": box.x, "y": box.y, "width": box.width, "height": box.height}
    return add(parent, "rect", text=None, **size, **attributes)


def add_outlined(
    parent: Element, box: Box, fill: str, class_: str, *, is_dashed: bool = False
) -> Element:
    """Append a filled rectangle with a thin dark outline."""
    return add_box(
        parent,
        box,
        class_=class_,
        fill=fill,
        stroke=marks.INK,
        stroke_width=1,
        stroke_dasharray="5 3" if is_dashed else None,
    )


def line_height(size: float) -> float:
    """The distance between two baselines for a font size, in drawing units."""
    return size * 1.3


class Canvas:
    """One drawing being made: its body, and the hatches it has used so far."""

    def __init__(self, *, id_prefix: str, width: float) -> None:
        if not _PREFIX.match(id_prefix):
            raise ValueError(
                f'The id prefix "{id_prefix}" cannot begin an id: use a letter, then letters, '
                "digits, hyphens or underscores."
            )
        if not NARROWEST <= width <= WIDEST:
            raise ValueError(
                f"A drawing {width} units wide cannot be laid out: use {NARROWEST} to {WIDEST}."
            )
        self.id_prefix = id_prefix
        self.width = width
        self._root = Element("svg", {"xmlns": SVG_NAMESPACE})
        self._title = SubElement(self._root, "title", {"id": f"{id_prefix}-title"})
        self._desc = SubElement(self._root, "desc", {"id": f"{id_prefix}-desc"})
        self._defs = SubElement(self._root, "defs")
        self._pattern_ids: set[str] = set()
        self._has_links = False
        self.body = SubElement(self._root, "g", {"class": "drawing-body"})

    def fill(self, mark: marks.Mark) -> str:
        """Give the paint reference for a mark, defining its hatch on first use."""
        pattern_id = f"{self.id_prefix}-{mark.css_class}"
        if pattern_id not in self._pattern_ids:
            self._pattern_ids.add(pattern_id)
            _add_pattern(self._defs, pattern_id, mark)
        return f"url(#{pattern_id})"

    def add_hatched(
        self,
        parent: Element,
        box: Box,
        mark: marks.Mark,
        class_: str,
        *,
        is_dashed: bool = False,
    ) -> Element:
        """Append a rectangle with the ground and hatch of a mark; give the hatched one.

        The ground lies beneath the hatch, not in its tiles: some PDF engines show the seams.
        """
        add_box(parent, box, class_=f"ground {mark.css_class}", fill=mark.ground)
        classes = f"{class_} {mark.css_class}-hatched"
        return add_outlined(parent, box, self.fill(mark), classes, is_dashed=is_dashed)

    def link(self, parent: Element, href: str | None, name: str) -> Element:
        """Give a link to draw into, or the parent itself where there is no address to go to.

        Only local paths, fragments and http addresses become links; a script in an address
        would run with the reader's rights.
        """
        if href is None or not _SAFE_LINK.match(href):
            return parent
        self._has_links = True
        return add(parent, "a", class_="drawing-link", href=href, aria_label=name)

    def finish(self, *, title: str, desc: str, height: float, kind: str) -> str:
        """Set title, description and size, and give the SVG as text."""
        self._title.text = clean(title)
        self._desc.text = clean(desc)
        root = self._root
        root.set("class", f"drawing drawing-{kind}")
        # An img hides its children from assistive technology, so a drawing with links is a group.
        root.set("role", "group" if self._has_links else "img")
        root.set("aria-labelledby", f"{self.id_prefix}-title")
        root.set("aria-describedby", f"{self.id_prefix}-desc")
        root.set("viewBox", f"0 0 {number_text(self.width)} {number_text(height)}")
        root.set("width", number_text(self.width))
        root.set("font-family", "sans-serif")
        root.set("font-size", number_text(FONT_SIZE))
        return tostring(root, encoding="unicode")


def _add_pattern(defs: Element, pattern_id: str, mark: marks.Mark) -> None:
    hatch = mark.hatch
    pattern = add(
        defs,
        "pattern",
        id=pattern_id,
        patternUnits="userSpaceOnUse",
        width=hatch.width,
        height=hatch.height,
    )
    # The classes stand on the shapes in the tile: a tile does not inherit from what it fills.
    for stroke in hatch.strokes:
        add(
            pattern,
            "path",
            class_="hatch-line",
            d=stroke,
            fill="none",
            stroke=marks.FAINT_INK,
            stroke_width=hatch.stroke_width,
        )
    for x, y, radius in hatch.dots:
        add(pattern, "circle", class_="hatch-dot", cx=x, cy=y, r=radius, fill=marks.FAINT_INK)

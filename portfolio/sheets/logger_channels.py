"""Where each channel of a logger is: told by its header, or by a list beside the log.

A header tells it as `TC7: L2 ext wing +150 mm cavity [°C]`: a name of the laboratory's if there is
one, the level, external or internal, the face, the position, and the layer.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from portfolio.domain.errors import InputError, Problem
from portfolio.domain.traces import Face, Side
from portfolio.sheets.cells import Cells
from portfolio.sheets.layout_logs import LOG_CHANNELS, USES
from portfolio.sheets.lists import meaning
from portfolio.sheets.raw import RawRow

EXPECTED_HEADER = (
    'a header such as "TC7: L2 ext wing 150 mm" or "L2 int main 0 mm cavity", or a list of channels'
)
EXPECTED_UNIT = "°C"
LEVELS = range(1, 10)
_UNIT = re.compile(r"\s*[\[(]\s*([^\])]*?)\s*[\])]\s*$")
_CELSIUS = frozenset({"°c", "ºc", "deg c", "degc", "c", "celsius", "℃"})
_HEADER = re.compile(
    r"(?:(?P<name>.+?)\s*:\s*)?(?:level\s*|l)(?P<level>[1-9])\s+(?P<side>ext|int)(?:ernal)?"
    r"(?:\s+(?P<face>main|wing))?(?:\s+(?P<position>[+-]?\d+(?:\.\d+)?)(?:\s*mm)?)?"
    r"(?:\s+(?P<layer>\D.*))?",
    re.IGNORECASE,
)
_POSITION = re.compile(r"[+-]?\d{1,5}(?:\.\d+)?")


@dataclass(frozen=True, slots=True)
class ChannelPlace:
    """Where a channel is, and whether it is used: `use` is "yes", "no" or "broken"."""

    name: str
    level: int
    side: Side
    face: Face | None = None
    position_mm: float | None = None
    layer: str = ""
    use: str = "yes"


def without_unit(header: str) -> tuple[str, str]:
    """A header's text and the unit in brackets at its end, if there is one.

    >>> without_unit("TC7 [°C]")
    ('TC7', '°C')
    """
    found = _UNIT.search(header)
    return (header[: found.start()].strip(), found[1]) if found else (header.strip(), "")


def is_celsius(unit: str) -> bool:
    """Whether a unit means °C."""
    return " ".join(unit.casefold().split()) in _CELSIUS


def place_in(header: str) -> ChannelPlace | None:
    """Where a header says that its channel is, or None when it does not say so."""
    found = _HEADER.fullmatch(header.strip())
    if found is None:
        return None
    return ChannelPlace(
        found["name"] or header.strip(),
        int(found["level"]),
        Side.EXTERNAL if found["side"].casefold() == "ext" else Side.INTERNAL,
        Face(found["face"].casefold()) if found["face"] else None,
        float(found["position"]) if found["position"] else None,
        (found["layer"] or "").strip(),
    )


def listed_places(rows: list[RawRow]) -> dict[str, ChannelPlace]:
    """The places that a list of channels gives, by channel, as written there.

    Raises InputError with every problem of the list.
    """
    problems: list[Problem] = []
    found: dict[str, ChannelPlace] = {}
    for row in rows:
        cells = Cells(row, LOG_CHANNELS)
        name = cells.reference("channel")
        if name in found:
            cells.refuse("channel", "This channel stands in the list twice.")
        place = _listed(cells, name)
        if place is not None:
            found[name] = place
        problems += cells.problems
    if problems:
        raise InputError(problems)
    return found


def _listed(cells: Cells, name: str) -> ChannelPlace | None:
    use = meaning(USES, cells.raw("use")) or ("yes" if not cells.raw("use") else "")
    if not use:
        cells.refuse("use", "This word is not known here.", f"one of: {', '.join(USES)}")
    if use == "no":
        return ChannelPlace(name, 0, Side.EXTERNAL, use="no")
    unit = cells.raw("unit")
    if unit and not is_celsius(unit):
        cells.refuse("unit", "This unit is not read.", EXPECTED_UNIT)
    level = cells.whole("level", least=LEVELS.start)
    if level is None or level not in LEVELS:
        if cells.is_unknown("level"):
            cells.refuse("level", "Where it is must be told, or that it is not used.", "1, 2 or 3")
        elif level is not None:
            cells.refuse("level", "There is no such level.", "1, 2 or 3")
        level = None
    side = _side(cells)
    face = cells.listed("face", tuple(Face))
    position = _position(cells)
    if level is None or side is None:
        return None
    layer = cells.text("layer")
    return ChannelPlace(
        name, level, side, Face(face) if face else None, position, layer, use or "yes"
    )


def _side(cells: Cells) -> Side | None:
    found = cells.listed("side", tuple(Side))
    if not found and cells.is_unknown("side"):
        expected = "external or internal"
        cells.refuse("side", "Where it is must be told, or that it is not used.", expected)
    return Side(found) if found else None


def _position(cells: Cells) -> float | None:
    if cells.is_unknown("position_mm"):
        return None
    text = cells.raw("position_mm")
    if not _POSITION.fullmatch(text):
        cells.refuse("position_mm", "This cannot be read.", "one number in mm, such as -500")
        return None
    return float(text)

"""How wide a text will be drawn, and how to break or shorten it so that it fits.

An SVG has no line breaking of its own and the reader's font is not known here, so widths are
estimated on the generous side, after DejaVu Sans, the widest of the common fallbacks.
"""

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

_NARROW = frozenset("iljI.,:;'|!()[]/ tfr-")
_WIDE = frozenset("mwMWO@%GQ—…≈≠=+<>")
_NARROW_EM, _WIDE_EM, _CAPITAL_EM, _OTHER_EM = 0.42, 0.98, 0.72, 0.635

# XML 1.0 section 2.2 has no way, not even an escape, to write these characters.
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def clean(text: str) -> str:
    """Replace what XML cannot hold with the replacement character, and squeeze white space.

    >>> clean("a\\x00  b")
    'a\ufffd b'
    """
    return " ".join(_NOT_XML.sub("\ufffd", text).split())


@lru_cache(maxsize=4096)
def _em(character: str) -> float:
    if character in _NARROW:
        return _NARROW_EM
    if character in _WIDE:
        return _WIDE_EM
    if unicodedata.combining(character):
        return 0.0
    if unicodedata.east_asian_width(character) in ("W", "F"):
        return 1.0
    if character.isascii():
        return _CAPITAL_EM if character.isupper() else _OTHER_EM
    return _CAPITAL_EM


def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Estimate the width of one line in drawing units at a font size in the same units."""
    return sum(_em(character) for character in text) * size * (1.1 if bold else 1.0)


@dataclass(frozen=True, slots=True)
class Wrapped:
    """Text broken into lines; `is_shortened` when some of it had to be left out."""

    lines: tuple[str, ...]
    is_shortened: bool


def shorten(text: str, width: float, size: float, *, bold: bool = False) -> str:
    """Cut a line so that it fits the width, ending in an ellipsis if anything was cut."""
    if text_width(text, size, bold=bold) <= width:
        return text
    room = width - text_width("…", size, bold=bold)
    end = 0
    # The whole text is wider than the room, so this ends before the text does.
    while (room := room - text_width(text[end], size, bold=bold)) >= 0:
        end += 1
    return text[:end].rstrip() + "…"


def shorten_alike(
    texts: Sequence[str], width: float, size: float, *, bold: bool = False
) -> tuple[str, ...]:
    """Cut lines that stand beside each other; where their beginnings are alike, keep their ends.

    >>> shorten_alike(("Channel 1", "Channel 2"), 40, 10)
    ('…nel 1', '…nel 2')
    """
    cut = tuple(shorten(text, width, size, bold=bold) for text in texts)
    if len(set(cut)) == len(set(texts)):
        return cut
    return tuple(shorten(text[::-1], width, size, bold=bold)[::-1] for text in texts)


def _pieces(word: str, width: float, size: float, *, bold: bool) -> list[str]:
    """Break a word that is wider than a whole line into pieces that fit."""
    pieces = [""]
    left = width
    for character in word:
        left -= text_width(character, size, bold=bold)
        if left < 0 and pieces[-1]:
            pieces.append("")
            left = width - text_width(character, size, bold=bold)
        pieces[-1] += character
    return pieces


def wrap(
    text: str, width: float, size: float, *, max_lines: int = 3, bold: bool = False
) -> Wrapped:
    """Break a text into at most `max_lines` lines no wider than `width` drawing units."""
    lines: list[str] = []
    for word in clean(text).split():
        for number, piece in enumerate(_pieces(word, width, size, bold=bold)):
            joined = f"{lines[-1]} {piece}" if lines and number == 0 else piece
            if lines and number == 0 and text_width(joined, size, bold=bold) <= width:
                lines[-1] = joined
            else:
                lines.append(piece)
    if len(lines) <= max_lines:
        return Wrapped(tuple(lines), is_shortened=False)
    last = shorten(lines[max_lines - 1] + "…", width, size, bold=bold)
    return Wrapped((*lines[: max_lines - 1], last), is_shortened=True)

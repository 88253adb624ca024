"""Characters that a text must not hold: those that cannot be kept, are not seen, or mislead.

Two references that look alike must not differ, and no text may be read in another order than it
stands. Spreadsheets and forms ask the same functions. Letters of different scripts that look alike
are not told apart here.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable

Check = Callable[[str], str]
"""What is wrong with a text, as a sentence; empty where nothing is."""

PLAIN = "letters, digits, signs and ordinary spaces"

_UNSTORABLE = re.compile("[\x00-\x08\x0b-\x1f\x7f\ud800-\udfff\ufffe\uffff]")
_REORDERS = re.compile("[\u202a-\u202e\u2066-\u2069]")
# letters and marks that leave no trace; what is a control or a space by its category is not here
_BLANK = re.compile(
    "[\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u2800\u3164\ufe00-\ufe0f\uffa0\U000e0100-\U000e01ef]"
)


def wrong_in_text(text: str) -> str:
    """What is wrong with any text: it cannot be kept, or is read in another order than it stands.

    >>> wrong_in_text("a\\u202eb")
    'This holds a character that changes the order of reading: U+202E, right-to-left override.'
    >>> wrong_in_text("two\\nlines")
    ''
    """
    if _UNSTORABLE.search(text):
        return "This holds a character that cannot be kept."
    if found := _REORDERS.search(text):
        return f"This holds a character that changes the order of reading: {_named(found[0])}."
    return ""


def wrong_in_name(text: str) -> str:
    """What is wrong with a name that is compared: also what is not seen, and unusual spaces.

    >>> wrong_in_name("B\\u200b-1")
    'This holds a character that is not seen or looks like another: U+200B, zero width space.'
    >>> wrong_in_name("B-1 é")
    ''
    """
    if wrong := wrong_in_text(text):
        return wrong
    found = next(filter(_is_hidden, text), None)
    if found is None:
        return ""
    return f"This holds a character that is not seen or looks like another: {_named(found)}."


def wrong_in_reference(text: str) -> str:
    """What is wrong with a reference: also what separates references from one another.

    >>> wrong_in_reference("A;B")
    'A reference holds no ";" and no line break.'
    """
    if ";" in text or "\n" in text:
        return 'A reference holds no ";" and no line break.'
    return wrong_in_name(text)


def wrong_in_references(text: str) -> str:
    """The first thing wrong with references that ";" separates."""
    return next(filter(None, (wrong_in_reference(part.strip()) for part in text.split(";"))), "")


def is_blank(text: str) -> bool:
    """Whether nothing of a text is seen: it is empty, or all spaces and what leaves no trace.

    >>> is_blank(" \u200b\u3164\u2800"), is_blank("E.\u200b")
    (True, False)
    """
    return all(character.isspace() or _is_hidden(character) for character in text)


def escaped(text: str) -> str:
    """The text with what is not seen in it made visible, but for line breaks.

    >>> escaped("B\\u202e-1")
    'B[U+202E]-1'
    """
    if text.isprintable() and not _BLANK.search(text):
        return text
    shown = (f"[{_code(c)}]" if c != "\n" and _is_hidden(c) else c for c in text)
    return "".join(shown)


def _is_hidden(character: str) -> bool:
    """Controls, formats, private, unassigned, and every space but the ordinary one."""
    return not character.isprintable() or _BLANK.fullmatch(character) is not None


def _named(character: str) -> str:
    name = unicodedata.name(character, "").lower()
    return f"{_code(character)}, {name}" if name else _code(character)


def _code(character: str) -> str:
    return f"U+{ord(character):04X}"

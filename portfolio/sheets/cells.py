"""Reads the cells of one row; what cannot be read becomes a problem, and reading goes on."""

from __future__ import annotations

import re
from datetime import date
from enum import StrEnum
from typing import TypeVar

from portfolio.domain.errors import Problem
from portfolio.domain.measures import read_number
from portfolio.domain.plain_text import (
    PLAIN,
    Check,
    escaped,
    wrong_in_name,
    wrong_in_reference,
    wrong_in_references,
    wrong_in_text,
)
from portfolio.domain.values import Range
from portfolio.domain.vocabulary import UNKNOWN_WORDS
from portfolio.sheets.columns import LONGEST_REF, Sheet
from portfolio.sheets.dates import EXPECTED, read_date
from portfolio.sheets.drafts import Place
from portfolio.sheets.lists import meaning
from portfolio.sheets.raw import RawRow

MOST = 1_000_000
_MOST_TEXT = 30_000
_SHORT = 10
"""No column takes less."""
_WHOLE = re.compile(r"[+-]?\d{1,9}")
_YES, _NO = frozenset({"yes", "y", "true"}), frozenset({"no", "n", "false"})
_Word = TypeVar("_Word", bound=StrEnum)


def _wrong_but_for_spaces(text: str) -> str:
    """Names are read with their spaces made alike, so that these may be any."""
    return wrong_in_name(" ".join(text.split()))


class Cells:
    """The cells of one row as values. `problems` collects what could not be read."""

    __slots__ = ("problems", "row", "sheet")

    def __init__(self, row: RawRow, sheet: Sheet) -> None:
        self.row = row
        self.sheet = sheet
        self.problems: list[Problem] = []

    @property
    def place(self) -> Place:
        """Where the row stands."""
        return Place(self.row.file, self.row.tab, self.row.row)

    @property
    def columns(self) -> frozenset[str]:
        """The columns that the file had."""
        return frozenset(self.row.cells)

    def raw(self, key: str) -> str:
        """The text as it stands, empty when the column is missing."""
        return self.row.cells.get(key, "")

    def is_unknown(self, key: str) -> bool:
        """Whether the cell is empty or holds a word for unknown."""
        text = self.raw(key)
        return not text or text.casefold() in UNKNOWN_WORDS

    def refuse(self, key: str, message: str, expected: str = "") -> None:
        """Note that this cell cannot be used."""
        self.problems.append(
            self.row.problem(
                message,
                column=self.sheet.column(key).header,
                value=escaped(self.raw(key)),
                expected=expected,
            )
        )

    def text(self, key: str) -> str:
        """Any text, as long as it can be kept."""
        return self._checked(key, wrong_in_text, "plain text")

    def name(self, key: str) -> str:
        """A name that is compared, whatever spaces it is written with."""
        return self._checked(key, _wrong_but_for_spaces, PLAIN)

    def _checked(self, key: str, wrong_in: Check, expected: str) -> str:
        text = self.raw(key)
        if not text:
            return text
        # most texts are short, and need no look at the column's limit
        longest = _SHORT if len(text) <= _SHORT else self.sheet.column(key).longest or _MOST_TEXT
        if len(text) > longest:
            self.refuse(key, f"This is {len(text):,} characters.", f"at most {longest:,}")
        elif wrong := wrong_in(text):
            self.refuse(key, wrong, expected)
        return text

    def reference(self, key: str) -> str:
        """The reference of a record, which a row cannot do without."""
        text = self._checked(key, wrong_in_reference, PLAIN)
        if not text:
            self.refuse(key, "This cell is empty.", self.sheet.column(key).help)
        return text

    def references(self, key: str) -> tuple[str, ...]:
        """References separated by ";", each once."""
        text = self._checked(key, wrong_in_references, PLAIN)
        parts = tuple(dict.fromkeys(filter(None, map(str.strip, text.split(";")))))
        if too_long := [part for part in parts if len(part) > LONGEST_REF]:
            message = f"A reference here is {len(too_long[0]):,} characters."
            self.refuse(key, message, f"at most {LONGEST_REF} for each")
        return parts

    def whole(self, key: str, least: int = 0) -> int | None:
        """A whole number from `least` up, or None for unknown."""
        if self.is_unknown(key):
            return None
        text = self.raw(key)
        if _WHOLE.fullmatch(text) and least <= int(text) <= MOST:
            return int(text)
        self.refuse(
            key,
            "This is not a number that fits here.",
            f'a whole number from {least}, or "unknown"',
        )
        return None

    def measure(self, key: str) -> float | None:
        """One number in the column's unit, never below 0, or None for unknown."""
        unit = self.sheet.column(key).unit
        try:
            value = read_number(self.raw(key), unit)
        except ValueError:
            self.refuse(key, "This cannot be read.", f'one number in {unit}, or "unknown"')
            return None
        if isinstance(value, Range):
            if value.is_known and value.high <= MOST:
                return value.low
            self.refuse(key, "This is not one number.", f'one number in {unit}, or "unknown"')
        return None

    def day(self, key: str) -> date | None:
        """A date, or None for unknown."""
        if self.is_unknown(key):
            return None
        try:
            return read_date(self.raw(key))
        except ValueError as error:
            self.refuse(key, str(error), EXPECTED)
            return None

    def yes(self, key: str) -> bool:
        """Whether the cell says yes; empty and unknown are no."""
        word = self.raw(key).casefold()
        if word in _YES:
            return True
        if word not in _NO and not self.is_unknown(key):
            self.refuse(key, "This word is not known here.", "yes or no")
        return False

    def word(
        self, key: str, words: type[_Word], default: _Word, *, must_say: bool = False
    ) -> _Word:
        """A word of a closed list; empty means `default`, and so does unknown unless `must_say`."""
        text = self.raw(key)
        found = meaning(tuple(words), text)
        if found is not None:
            return words(found)
        if text and (must_say or not self.is_unknown(key)):
            self.refuse(key, "This word is not known here.", f"one of: {', '.join(words)}")
        return default

    def listed(self, key: str, allowed: tuple[str, ...]) -> str:
        """A word of a list, or "" for unknown."""
        if self.is_unknown(key):
            return ""
        found = meaning(allowed, self.raw(key))
        if found is None:
            self.refuse(
                key, "This word is not known here.", f'one of: {", ".join(allowed)}, or "unknown"'
            )
        return found or ""

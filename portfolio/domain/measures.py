"""Reading and writing single values as text: what a cell, a form field or the store holds.

A text that cannot be read raises ValueError with what was expected; nothing is guessed.
"""

from __future__ import annotations

import math
import re

from portfolio.domain import reaction
from portfolio.domain.parameters import Attribute, Kind
from portfolio.domain.values import UNKNOWN, Named, OneOf, Range, Value, exactly, one_of
from portfolio.domain.vocabulary import UNKNOWN_WORDS, Vocabulary

_LENGTHS_IN_MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0}
_LENGTHS_IN_M = {"mm": 0.001, "cm": 0.01, "m": 1.0}
UNITS: dict[str, dict[str, float]] = {
    "mm": _LENGTHS_IN_MM,
    "m": _LENGTHS_IN_M,
    "m2": {"m2": 1.0, "m²": 1.0, "sqm": 1.0},
    "MJ/kg": {"mj/kg": 1.0},
}
"""By unit kept: the spellings understood, with their factor. Feet and inches are not among them."""

_EXPECTED_IDENTITY = (
    'one product\'s identity as your organisation writes it, without "|", or "unknown"'
)
_NO_IDENTITY = UNKNOWN_WORDS | frozenset(
    {
        "0",
        "any",
        "as drawing",
        "as per drawing",
        "as per test",
        "as specified",
        "as test",
        "as tested",
        "equivalent",
        "generic",
        "illegible",
        "mixed",
        "n.a",
        "n/a",
        "na",
        "nil",
        "no",
        "no label",
        "none",
        "none found",
        "not found",
        "not legible",
        "not marked",
        "not seen",
        "not applicable",
        "not available",
        "not identified",
        "not specified",
        "null",
        "other",
        "see drawing",
        "see report",
        "similar",
        "similar or equal",
        "standard",
        "tbd",
        "to be advised",
        "to be confirmed",
        "to be determined",
        "unbranded",
        "unidentified",
        "unknown product",
        "unmarked",
        "unspecified",
        "varied",
        "various",
        "varies",
        "x",
    }
)
"""What people write in a product's column when they do not know it (common practice, no source)."""

_NUMBER = r"(\d+(?:\.\d+)?|\.\d+|\d+,\d{1,2})"
_UNIT = r"\s*([a-zA-Z²/]+[2]?)?"
_ONE = re.compile(rf"{_NUMBER}{_UNIT}")
_OR = re.compile(r"\b(?:or|and/or)\b", re.IGNORECASE)
"""One of two products is none that anybody has identified."""
_BETWEEN = re.compile(rf"{_NUMBER}{_UNIT}\s*(?:-|–|\.\.|to)\s*{_NUMBER}{_UNIT}")
_PLUS_MINUS = re.compile(rf"{_NUMBER}{_UNIT}\s*(?:±|\+/-)\s*{_NUMBER}{_UNIT}")


def read_number(text: str, unit: str) -> Value:
    """A measure in `unit`: "12.5", "12,5 mm", "50-75", "50 ± 5", or a word for unknown.

    A unit written at one of two numbers is meant for both.

    >>> read_number("12,5 mm", "mm")
    Range(low=12.5, high=12.5)
    >>> read_number("10 cm", "mm")
    Range(low=100.0, high=100.0)
    """
    text = text.strip()
    if not text or text.casefold() in UNKNOWN_WORDS:
        return UNKNOWN
    if found := _ONE.fullmatch(text):
        return exactly(_scaled(found[1], found[2], unit))
    if found := _BETWEEN.fullmatch(text):
        low = _scaled(found[1], found[2] or found[4], unit)
        high = _scaled(found[3], found[4] or found[2], unit)
        if low <= high:
            return Range(low, high)
    if found := _PLUS_MINUS.fullmatch(text):
        middle = _scaled(found[1], found[2] or found[4], unit)
        off = _scaled(found[3], found[4] or found[2], unit)
        if off <= middle:
            return Range(middle - off, middle + off)
    raise ValueError(_expected_number(unit))


def _expected_number(unit: str) -> str:
    return f'a number in {unit}, a range such as "50-75", "50 ± 5", or "unknown"'


def _scaled(number: str, spelling: str | None, unit: str) -> float:
    factors = UNITS.get(unit, {unit.casefold(): 1.0})
    if spelling is not None and spelling.casefold() not in factors:
        raise ValueError(_expected_number(unit))
    value = float(number.replace(",", ".")) * (factors[spelling.casefold()] if spelling else 1.0)
    if not math.isfinite(value):
        raise ValueError(_expected_number(unit))
    return round(value, 6)


def write_number(value: Range) -> str:
    """The text that `read_number` reads as the same measure."""
    if value.is_known:
        return _plain(value.low)
    return f"{_plain(value.low)}..{_plain(value.high)}"


def _plain(number: float) -> str:
    text = f"{number:.6f}".rstrip("0").rstrip(".")
    return text or "0"


def read_value(attribute: Attribute, text: str, vocabulary: Vocabulary) -> Value:
    """What a cell says of an attribute. Raises ValueError saying what was expected."""
    if attribute.kind is Kind.NUMBER:
        return read_number(text, attribute.unit)
    if not text.strip() or text.strip().casefold() in UNKNOWN_WORDS:
        return UNKNOWN
    if attribute.kind is Kind.IDENTITY:
        return _read_identity(text)
    if attribute.category == "fire-class":
        return _read_class(text)
    try:
        return vocabulary[attribute.category].read(text)
    except ValueError as error:
        raise ValueError(expected_words(attribute, vocabulary)) from error


def _read_identity(text: str) -> Value:
    """A product's identity; what people write where they have none is unknown, never a name."""
    if "|" in text:
        raise ValueError(_EXPECTED_IDENTITY)
    name = " ".join(text.split())
    if name.startswith("?") or not any(letter.isalnum() for letter in name):
        return UNKNOWN
    if name.casefold().strip(" .") in _NO_IDENTITY or _OR.search(name):
        return UNKNOWN
    return Named(name)


def expected_words(attribute: Attribute, vocabulary: Vocabulary) -> str:
    """What may stand in a cell of this attribute, for a message or a help sheet."""
    if attribute.kind is Kind.NUMBER:
        return _expected_number(attribute.unit)
    if attribute.kind is Kind.IDENTITY:
        return _EXPECTED_IDENTITY
    if attribute.category == "fire-class":
        return 'a class of EN 13501-1 such as "A2-s1,d0", or "unknown"'
    return f'one of: {", ".join(vocabulary[attribute.category].terms)}, or "unknown"'


def _read_class(text: str) -> Value:
    try:
        keys: set[str] = set()
        for part in text.split("|"):
            keys |= reaction.classes_meant(part)
    except ValueError as error:
        raise ValueError('a class of EN 13501-1 such as "A2-s1,d0", or "unknown"') from error
    return one_of(keys)


def write_value(attribute: Attribute, value: Value, vocabulary: Vocabulary) -> str:
    """The text that `read_value` reads as the same value; empty for what carries no content."""
    if isinstance(value, Range):
        return write_number(value)
    if isinstance(value, Named):
        return value.name
    if isinstance(value, OneOf):
        return vocabulary[attribute.category].write(value)
    return ""


def show_value(attribute: Attribute, value: Value, vocabulary: Vocabulary) -> str:
    """The value for a reader, with its unit."""
    if isinstance(value, Range):
        numbers = write_number(value).replace("..", " to ")
        return f"{numbers} {attribute.unit}".strip()
    if isinstance(value, OneOf):
        if attribute.category == "fire-class":
            return _show_classes(value)
        return vocabulary[attribute.category].label(value)
    return value.name if isinstance(value, Named) else value.value


def _show_classes(value: OneOf) -> str:
    """One class, or the main classes that are left open."""
    if value.is_known:
        return next(iter(value.keys))
    mains = [main for main in reaction.MAIN if value.keys & reaction.classes_meant(main)]
    whole = all(reaction.classes_meant(main) <= value.keys for main in mains)
    suffix = ", s and d not known" if whole else ", partly known"
    return " or ".join(mains) + suffix

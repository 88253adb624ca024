"""The words that may stand in a column, and what a written word means."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from portfolio.domain.parameters import ROLE_ATTRIBUTES
from portfolio.reference.loader import Reference
from portfolio.sheets.columns import Column
from portfolio.sheets.layout_walls import LAYER_MATERIAL


def words_for(column: Column, reference: Reference) -> tuple[str, ...]:
    """The words to offer in a drop-down; empty where a column takes any text."""
    if column.words:
        return tuple(str(word) for word in column.words)
    if column.category == "jurisdiction":
        return jurisdictions(reference)
    if column.category == "use":
        return tuple(reference.uses)
    if column.category == LAYER_MATERIAL:
        categories = [attributes[0].category for attributes in ROLE_ATTRIBUTES.values()]
        return _unique(word for key in categories for word in reference.vocabulary[key].terms)
    if column.category:
        return tuple(reference.vocabulary[column.category].terms)
    return ()


def jurisdictions(reference: Reference) -> tuple[str, ...]:
    """The jurisdictions that the reference data speaks of; a building may name another."""
    routes = [route.jurisdiction for route in reference.routes if route.jurisdiction]
    return _unique(sorted([*routes, *(one.jurisdiction for one in reference.thresholds)]))


def _unique(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(words))


@cache
def folded_word(word: str) -> str:
    """A word without the differences of writing: case, hyphens, underscores, runs of spaces."""
    return " ".join(word.casefold().replace("-", " ").replace("_", " ").split())


@cache
def meaning(allowed: tuple[str, ...], text: str) -> str | None:
    """The word of a closed list that a text means, or None."""
    folded = folded_word(text)
    return next((str(word) for word in allowed if folded_word(str(word)) == folded), None)

"""What to find out about a zone, cheapest first, and the usual way to find it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from enum import IntEnum

from portfolio.domain.parameters import PARAMETERS, Kind, Parameter, Strength


class Way(IntEnum):
    """The usual way to find something out, cheapest first (common practice, no source)."""

    PAPERS = 0
    FROM_OUTSIDE = 1
    OPENING_UP = 2
    LABORATORY = 3

    @property
    def words(self) -> str:
        return _WORDS[self]


_WORDS = {
    Way.PAPERS: "drawings, as-built records or a maker's certificate",
    Way.FROM_OUTSIDE: "a look from outside at close range",
    Way.OPENING_UP: "opening up the wall where the zone is typical, and at its edges",
    Way.LABORATORY: "a sample from an opening-up, identified by a laboratory",
}


@dataclass(frozen=True, slots=True)
class Finding:
    """One fact that is missing."""

    parameter: str
    title: str
    way: Way


def findings(unknown: Collection[str]) -> tuple[Finding, ...]:
    """The missing facts, cheapest way first, each once."""
    found = [Finding(key, PARAMETERS[key].title, _way(PARAMETERS[key])) for key in set(unknown)]
    places = {key: place for place, key in enumerate(PARAMETERS)}
    return tuple(sorted(found, key=lambda f: (f.way, places[f.parameter])))


def _way(parameter: Parameter) -> Way:
    attribute = parameter.attribute
    if attribute.key in ("core_category", "calorific_value"):
        return Way.LABORATORY
    if attribute.least is Strength.OPENED_UP:
        return Way.OPENING_UP
    if attribute.least is Strength.SEEN_FROM_OUTSIDE and attribute.kind is not Kind.IDENTITY:
        return Way.FROM_OUTSIDE
    return Way.PAPERS

"""What to find out about a zone, cheapest first, and the usual way to find it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from enum import IntEnum

from portfolio.domain.parameters import PARAMETERS, Kind, Role, Strength


class Way(IntEnum):
    """The usual way to find something out, cheapest first (common practice, no source)."""

    SETTLING = 0
    PAPERS = 1
    FROM_OUTSIDE = 2
    OPENING_UP = 3
    LABORATORY = 4

    @property
    def words(self) -> str:
        return _WORDS[self]

    @property
    def key(self) -> str:
        """The way as files and scripts name it."""
        return self.name.lower().replace("_", "-")


_WORDS = {
    Way.SETTLING: "a named person settles which of the surveys is right",
    Way.PAPERS: "drawings, as-built records or a maker's certificate",
    Way.FROM_OUTSIDE: "a look from outside at close range",
    Way.OPENING_UP: "opening up the wall where the zone is typical, and at its edges",
    Way.LABORATORY: "a sample from an opening-up, identified by a laboratory",
}


_WHERE = {
    Way.SETTLING: "from the surveys that disagree",
    Way.PAPERS: "in the records of the building",
    Way.FROM_OUTSIDE: "on the zone, where it can be reached",
    Way.OPENING_UP: "where the zone is typical, and at its edges",
    Way.LABORATORY: "a sample taken at the opening",
}
_BARRIERS = (Role.BARRIER_HORIZONTAL, Role.BARRIER_VERTICAL)
_AT_BARRIERS = "at a floor line, and beside a window"


@dataclass(frozen=True, slots=True)
class Finding:
    """One fact that is missing."""

    parameter: str
    title: str
    way: Way


def findings(unknown: Collection[str]) -> tuple[Finding, ...]:
    """The missing facts, cheapest way first, each once."""
    found = [Finding(key, PARAMETERS[key].title, usual_way(key)) for key in set(unknown)]
    places = {key: place for place, key in enumerate(PARAMETERS)}
    return tuple(sorted(found, key=lambda f: (f.way, places[f.parameter])))


def usual_way(key: str) -> Way:
    """The usual way to find a parameter out; how well it must be known decides."""
    parameter = PARAMETERS[key]
    attribute = parameter.attribute
    if attribute.key in ("core_category", "calorific_value"):
        return Way.LABORATORY
    if attribute.least is Strength.OPENED_UP:
        return Way.OPENING_UP
    if attribute.least is Strength.SEEN_FROM_OUTSIDE and attribute.kind is not Kind.IDENTITY:
        return Way.FROM_OUTSIDE
    return Way.PAPERS


def where_to_look(key: str, way: Way) -> str:
    """Where on the zone a parameter is found out this way (common practice, no source)."""
    if way is Way.OPENING_UP and PARAMETERS[key].role in _BARRIERS:
        return _AT_BARRIERS
    return _WHERE[way]

"""The facts of a building that orders of gaps ask about, and what each is at its mildest.

Every order counts what is unknown with the worst. A completion of the unknown facts can only be
as bad as that or milder, since no criterion puts a milder building first: so the mildest
completion is the other end of where a gap could stand.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from portfolio.domain.buildings import Building
from portfolio.domain.heights import exact, span_of

NOT_SLEEPING = "not-sleeping"
EVACUATION = ("stay-put", "progressive", "phased", "simultaneous")
SPRINKLERS = ("none", "parts", "throughout")
COMPOSITE = ("yes", "no")


class Fact(StrEnum):
    """One fact that an order may ask of a building."""

    USE = "use"
    HEIGHT = "height"
    EVACUATION = "evacuation"
    SPRINKLERS = "sprinklers"
    PEOPLE = "people"
    HOMES = "homes"
    HOMES_IN_REACH = "homes-in-reach"
    METAL_COMPOSITE = "metal-composite"

    @property
    def words(self) -> str:
        """The fact as a sentence names it."""
        return _FACTS[self].words


@dataclass(frozen=True, slots=True)
class _Told:
    """A fact in words, and what to change so that it is the mildest it could be."""

    words: str
    mildest: Callable[[Building, Mapping[str, str]], Mapping[str, Any]]


def milder(
    building: Building, facts: Collection[Fact], sleeping_by_use: Mapping[str, str]
) -> Building:
    """The building with these facts at the mildest that they could be; what is known stays."""
    changes: dict[str, Any] = {}
    for fact in facts:
        changes |= _FACTS[fact].mildest(building, sleeping_by_use)
    return replace(building, **changes) if changes else building


def _use(building: Building, sleeping_by_use: Mapping[str, str]) -> Mapping[str, Any]:
    if building.use in sleeping_by_use:
        return {}
    return {"use": next(use for use, how in sleeping_by_use.items() if how == NOT_SLEEPING)}


def _height(building: Building, sleeping_by_use: Mapping[str, str]) -> Mapping[str, Any]:
    del sleeping_by_use
    span = span_of(building.height_claims)
    if span is not None and span[0] == span[1]:
        return {}
    return {"heights": (exact(span[0] if span else 0.0),)}


def _one_of(name: str, words: tuple[str, ...]) -> Callable[..., Mapping[str, Any]]:
    """Of words that stand worst first."""

    def mildest(building: Building, sleeping_by_use: Mapping[str, str]) -> Mapping[str, Any]:
        del sleeping_by_use
        return {} if getattr(building, name) in words else {name: words[-1]}

    return mildest


def _people(building: Building, sleeping_by_use: Mapping[str, str]) -> Mapping[str, Any]:
    del sleeping_by_use
    return {"people": 0} if building.people_estimate is None else {}


def _number(name: str) -> Callable[..., Mapping[str, Any]]:
    def mildest(building: Building, sleeping_by_use: Mapping[str, str]) -> Mapping[str, Any]:
        del sleeping_by_use
        return {name: 0} if getattr(building, name) is None else {}

    return mildest


_FACTS: dict[Fact, _Told] = {
    Fact.USE: _Told("the use", _use),
    Fact.HEIGHT: _Told("the height of the top floor", _height),
    Fact.EVACUATION: _Told("how people leave", _one_of("evacuation", EVACUATION)),
    Fact.SPRINKLERS: _Told("the sprinklers", _one_of("sprinklers", SPRINKLERS)),
    Fact.PEOPLE: _Told("the number of people", _people),
    Fact.HOMES: _Told("the number of homes", _number("homes")),
    Fact.HOMES_IN_REACH: _Told(
        "how many homes a cladding fire could reach", _number("homes_in_reach")
    ),
    Fact.METAL_COMPOSITE: _Told(
        "whether a facing is a combustible metal composite", _one_of("metal_composite", COMPOSITE)
    ),
}

"""Places and ranges in words, for pages, files and the shell."""

from __future__ import annotations

from collections.abc import Sequence

from portfolio.domain.order_facts import Fact
from portfolio.domain.placing import Telling
from portfolio.services.orders.placed import Place

_TEENS = (11, 12, 13)
_ENDINGS = {1: "st", 2: "nd", 3: "rd"}


def ordinal(number: int) -> str:
    """A place in figures.

    >>> [ordinal(n) for n in (1, 2, 3, 4, 11, 112, 1023)]
    ['1st', '2nd', '3rd', '4th', '11th', '112th', '1,023rd']
    """
    ending = "th" if number % 100 in _TEENS else _ENDINGS.get(number % 10, "th")
    return f"{number:,}{ending}"


def facts_in_words(facts: Sequence[Fact]) -> str:
    """The facts as a list in a sentence."""
    words = [fact.words for fact in facts]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def place_in_words(place: Place) -> str:
    """Where a gap stands, where it could, and what leaves that open."""
    return f"{ordinal(place.place)} of {place.gaps:,}; {range_in_words(place)}"


def range_in_words(place: Place) -> str:
    """The places that a gap could take, and what leaves them open."""
    if place.is_certain:
        return "whatever is found of the buildings, it stays there"
    between = f"between {ordinal(place.first)} and {ordinal(place.last)}"
    if not place.unknown:
        return f"{between}, by what is found of other buildings"
    open_facts = facts_in_words(place.unknown)
    return f"{between}, since nobody knows for certain {open_facts}"


def telling_in_words(told: Telling) -> str:
    """What finding one fact would tell of a place."""
    earliest, latest = ordinal(told.first_if_mildest), ordinal(told.last_if_worst)
    return (
        f"found the mildest it could be, the gap would come {earliest} at the earliest; "
        f"found the worst, {latest} at the latest"
    )

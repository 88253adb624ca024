"""What a ruling rested on, thing by thing as texts, and what of it has changed since."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from portfolio.domain.parameters import PARAMETERS

Basis = Mapping[str, str]
"""What a ruling rests on: the name of each thing, and what was known of it."""

FACT = "fact "
TEST, RECORD = "test ", "record of test "
PAPER, SURVEY = "document ", "survey "
_FIRST = ("coverage", TEST, RECORD, PAPER, SURVEY, FACT)
"""What a reader is told first; the rest follows by name."""


@dataclass(frozen=True, slots=True)
class Change:
    """One thing of a basis that is another one now; "" where it was, or is, not there."""

    what: str
    before: str
    after: str


def changes(before: Basis, now: Basis) -> tuple[Change, ...]:
    """What differs between two bases, what weighs most first.

    >>> changes({"a": "1", "b": "2"}, {"b": "3"})
    (Change(what='a', before='1', after=''), Change(what='b', before='2', after='3'))
    """
    return tuple(
        Change(key, before.get(key, ""), now.get(key, ""))
        for key in in_order(before.keys() | now.keys())
        if before.get(key, "") != now.get(key, "")
    )


def in_order(names: Iterable[str]) -> list[str]:
    """The names of things, what weighs most first."""
    return sorted(names, key=_place)


def _place(what: str) -> tuple[int, str]:
    ranks = (i for i, start in enumerate(_FIRST) if what.startswith(start))
    return next(ranks, len(_FIRST)), what


def with_changes(basis: Basis, since: Iterable[Change]) -> dict[str, str]:
    """The basis as it is known to be after some changes, in their order."""
    found = dict(basis)
    for change in since:
        found[change.what] = change.after
    return {key: value for key, value in found.items() if value}


def fingerprint(basis: Basis) -> str:
    """Short, and another one for every other basis; "" where nothing was kept."""
    text = json.dumps(dict(basis), sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:16] if basis else ""


def refs_of_tests(basis: Basis) -> frozenset[str]:
    """The references of the tests that stand in a basis."""
    return frozenset(key.removeprefix(TEST) for key in basis if key.startswith(TEST))


def named(what: str) -> str:
    """The name of a thing for a reader: a fact of the wall by its title.

    >>> named("fact cavity.1.depth"), named("test T-1")
    ('cavity: depth', 'test T-1')
    """
    key = what.removeprefix(FACT)
    return PARAMETERS[key].title if what.startswith(FACT) and key in PARAMETERS else what

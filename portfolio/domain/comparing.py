"""Any two walls against each other, with the rules and tables of the matching engine.

Here neither wall stands behind the other: what is told is where they are alike, never cover. A
value from a source too weak to lean on leaves the answer open, on whichever side it is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from portfolio.domain.columns import Answer, Column
from portfolio.domain.evidence import TestRecord
from portfolio.domain.matching import Compared, Tests, compile_walls, explain_pair
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.readings import ALL, Readings, read_walls
from portfolio.domain.rules import RuleSet
from portfolio.domain.surveys import Basis, Survey, Wall, resolve
from portfolio.domain.values import NOT_APPLICABLE

_ORDER = (Answer.DIFFERS, Answer.UNKNOWN, Answer.ALLOWED, Answer.SAME)


@dataclass(frozen=True, slots=True)
class Likeness:
    """How many things two walls have alike, and how many not. `decisive` are of those that differ.

    >>> Likeness(same=41, allowed=0, differs=3, decisive=1, unknown=5).in_words
    'The same in 41 things, differing in 3, of which 1 decisive; 5 unknown.'
    """

    same: int
    allowed: int
    differs: int
    decisive: int
    unknown: int

    @property
    def in_words(self) -> str:
        """One plain sentence."""
        things = "1 thing" if self.same == 1 else f"{self.same} things"
        told = f"The same in {things}"
        if self.allowed:
            told += f", within a rule in {self.allowed}"
        told += f", differing in {self.differs or 'nothing that is known'}"
        if self.differs:
            told += f", of which {self.decisive or 'none'} decisive"
        return f"{told}; {self.unknown or 'nothing'} unknown."


def wall_as_tested(test: TestRecord) -> Wall:
    """The wall of a test as a zone's is known: it was built for the test and seen, so everything
    that its record says can be leaned on."""
    # a single survey is never weighed against another, so its day decides nothing
    told = Survey(test.ref, Basis.OPENING_UP, test.tested_on or date.min, "", test.build_up)
    return resolve([told])


def compare_walls(
    left: Wall, right: Wall, rules: RuleSet, jurisdiction: str = ""
) -> tuple[Compared, ...]:
    """Every parameter that means something for either wall, differences first.

    `zone_value` is the left wall's, `test_value` the right one's, as resolved; `jurisdiction` is
    where the left one stands. With the shipped rules the answers are the same whichever is left.
    """
    read = read_walls([right])
    compiled = compile_walls(read_walls([left]), Tests((), _columns(read)), rules, [jurisdiction])
    found = explain_pair(compiled, left, 0, 0)
    told = [
        _weakened(replace(row, test_value=right.as_resolved(row.parameter)), weak=bool(weak))
        for row, weak in zip(found, read.too_weak[0], strict=True)
    ]
    return in_order([row for row in told if means_something(row)])


def in_order(rows: list[Compared]) -> tuple[Compared, ...]:
    """Differences first, then what is unknown, allowed, the same; decisive ones first of each."""
    place = {answer: at for at, answer in enumerate(_ORDER)}
    return tuple(
        sorted(rows, key=lambda r: (place[r.answer], not PARAMETERS[r.parameter].is_decisive))
    )


def likeness(rows: tuple[Compared, ...]) -> Likeness:
    """What the comparison of two walls adds up to."""
    counts = {answer: sum(row.answer is answer for row in rows) for answer in Answer}
    decisive = sum(r.answer is Answer.DIFFERS and PARAMETERS[r.parameter].is_decisive for r in rows)
    return Likeness(
        counts[Answer.SAME],
        counts[Answer.ALLOWED],
        counts[Answer.DIFFERS],
        decisive,
        counts[Answer.UNKNOWN],
    )


def means_something(row: Compared) -> bool:
    """A layer that neither wall has, and nobody doubts it, has nothing to compare."""
    both_off = row.zone_value is NOT_APPLICABLE and row.test_value is NOT_APPLICABLE
    return not both_off


def _columns(read: Readings) -> tuple[Column, ...]:
    shown = read.shown
    return tuple(
        Column(np.ascontiguousarray(shown[:, place]), read.uniques[place])
        for place in range(len(ALL))
    )


def _weakened(row: Compared, *, weak: bool) -> Compared:
    """Same or allowed by a source that nobody may lean on is not known."""
    if not weak or row.answer > Answer.ALLOWED:
        return row
    return replace(row, answer=Answer.UNKNOWN, rule=None, too_weak=True)

"""The passing tests nearest to each wall, for one wall or for millions of them.

Tests that no decisive difference and no shut gate sets apart are found once for all walls with the
same decisive layers; their other parameters are then counted for each wall. A wall that has none
is told the usable test with the fewest decisive differences.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from portfolio.domain.alike import alike
from portfolio.domain.arrays import Bools, Codes
from portfolio.domain.columns import Answer
from portfolio.domain.evidence import Answer3, EvidenceKind
from portfolio.domain.gates import Gate, Setting, together
from portfolio.domain.matching import DECISIVE, Compiled, decisive_differences
from portfolio.domain.readings import ALL

NEAREST = 3
"""How many tests are named beside a wall."""
NOBODY = -1
_CHUNK_PAIRS = 2_000_000

Keys = npt.NDArray[np.int64]
"""Sorts tests beside one wall, nearest first: the verdict, how many parameters differ, how many are
unknown, and last the place of the test."""
Ints = npt.NDArray[Any]
Counts = npt.NDArray[np.uint16]
_LAST = np.int64(np.iinfo(np.int64).max)
_UNKNOWN, _DIFFERS, _VERDICT = 32, 40, 48
_ONE_UNKNOWN = np.uint16(1 << 8)


class Verdict(IntEnum):
    """What one passing test says of one wall, nearest first."""

    COVERS = 0
    ASSESSABLE = 1
    OPEN = 2
    APART = 3


@dataclass(frozen=True, slots=True)
class Ranked:
    """`keys` [walls, NEAREST], best first; _LAST where there are fewer tests."""

    keys: Keys

    @property
    def tests(self) -> Codes:
        """The places of the tests, NOBODY where there are fewer [walls, NEAREST]."""
        places = (self.keys & np.int64(0xFFFFFFFF)).astype(np.int32)
        return np.where(self.keys == _LAST, np.int32(NOBODY), places)

    @property
    def is_apart(self) -> Bools:
        """Walls whose tests are all set apart by something decisive, or shut out [walls]."""
        return np.asarray(self.verdicts[:, 0] == Verdict.APART, dtype=np.bool_)

    @property
    def verdicts(self) -> npt.NDArray[np.int8]:
        """What each says; APART where there are fewer [walls, NEAREST]."""
        found: npt.NDArray[np.int8] = np.minimum(self.keys >> _VERDICT, Verdict.APART)
        return found.astype(np.int8)


@dataclass(frozen=True, slots=True)
class Usable:
    """Which tests may stand behind walls of each setting [settings, tests], and which tests are
    only assessments [tests]."""

    shut: Bools
    ajar: Bools
    assessments: Bools


def usable(
    compiled: Compiled,
    settings: Sequence[Setting],
    gates: Mapping[Setting, Mapping[str, tuple[Gate, ...]]],
) -> Usable:
    """What the gates say of the compiled tests, in each of the settings."""
    records = compiled.tests.records
    answers = [[together(gates[setting][test.ref]) for test in records] for setting in settings]
    shape = len(settings), len(records)
    return Usable(
        np.array([[a is Answer3.NOT_MET for a in row] for row in answers], bool).reshape(shape),
        np.array([[a is Answer3.UNKNOWN for a in row] for row in answers], bool).reshape(shape),
        np.array([record.kind is EvidenceKind.ASSESSMENT for record in records], dtype=np.bool_),
    )


def rank(compiled: Compiled, setting: Codes, use: Usable) -> Ranked:
    """The nearest tests of every wall; `setting` is the place of each wall's own."""
    walls, tests = len(setting), len(compiled.tests.records)
    keys = np.full((walls, NEAREST), _LAST, dtype=np.int64)
    if not walls or not tests:
        return Ranked(keys)
    counting = Counting(compiled)
    firsts, group_of = alike(*_decisive(compiled), setting[:, None])
    by_group = np.argsort(group_of, kind="stable").astype(np.int32)
    starts = np.searchsorted(group_of[by_group], np.arange(len(firsts) + 1))
    step = max(1, _CHUNK_PAIRS // tests)
    for start in range(0, len(firsts), step):
        first = firsts[start : start + step]
        members = by_group[starts[start] : starts[min(start + step, len(firsts))]]
        shut = use.shut[setting[first]]
        apart = decisive_differences(compiled.of(first))
        group, candidates = np.nonzero((apart == 0) & ~shut)
        ends = np.searchsorted(group, np.arange(len(first) + 1))
        many = np.diff(ends)
        here = group_of[members] - start
        alone = many[here] == 0
        keys[members[alone], 0] = _farthest(apart, shut)[here[alone]]
        for part in _parts(members[~alone], many[here[~alone]]):
            place = group_of[part] - start
            pairs = _pairs_of(ends[place], many[place])
            wall, test = np.repeat(part, many[place]), candidates[pairs].astype(np.int32)
            found = counting.keys(wall, test, use.ajar[setting[wall], test], use.assessments[test])
            keys[part] = _best(found, many[place])
    return Ranked(keys)


def _decisive(compiled: Compiled) -> Iterator[Codes | Bools]:
    """What decides which tests are apart from a wall, as matrices with a row for each."""
    yield np.stack([compiled.walls[place].codes for place in DECISIVE], axis=1)
    for place in DECISIVE:
        for rule in compiled.conditional.get(place, ()):
            yield rule.walls.could[:, None]


def _farthest(apart: npt.NDArray[np.uint8], shut: Bools) -> Keys:
    """For each group the key of the usable test that is least apart; _LAST where none is."""
    counts = np.where(shut, np.uint8(255), apart)
    test = counts.argmin(axis=1)
    least = counts[np.arange(len(counts)), test].astype(np.int64)
    keys = _key(np.full_like(least, Verdict.APART), least, np.zeros_like(least), test)
    return np.where(shut.all(axis=1), _LAST, keys)


def _key(verdict: Ints, differs: Ints, unknown: Ints, test: Ints) -> Keys:
    found: Keys = verdict.astype(np.int64) << _VERDICT
    found |= differs.astype(np.int64) << _DIFFERS
    found |= unknown.astype(np.int64) << _UNKNOWN
    found |= test
    return found


def _parts(walls: Codes, many: npt.NDArray[np.int64]) -> Iterator[Codes]:
    """The walls in pieces of about as many pairs as are worked on at once."""
    piece = (np.cumsum(many) - 1) // _CHUNK_PAIRS
    for part in np.split(walls, np.flatnonzero(np.diff(piece)) + 1):
        if len(part):
            yield part


def _pairs_of(starts: npt.NDArray[np.int64], many: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """The places from each start on, as many as each has, one after the other."""
    before = np.cumsum(many) - many
    found: npt.NDArray[np.int64] = np.repeat(starts - before, many)
    found += np.arange(len(found))
    return found


def _best(keys: Keys, many: npt.NDArray[np.int64]) -> Keys:
    """The least few keys of each wall, whose pairs follow each other."""
    starts = np.cumsum(many) - many
    found = np.empty((len(many), NEAREST), dtype=np.int64)
    for place in range(NEAREST):
        found[:, place] = np.minimum.reduceat(keys, starts)
        keys[keys == np.repeat(found[:, place], many)] = _LAST
    return found


class Asked(NamedTuple):
    """One parameter that tests differ in: what it counts by row and column, the row of each wall
    (a further set of rows for sources too weak to lean on) and the column of each test."""

    table: Counts
    rows: Codes
    columns: Codes


class Counting:
    """Counts what differs and what is unknown of pairs of walls and tests.

    An answer counts as a number of its own, so that one sum counts both. `alike` [walls] has what
    is the same for a wall whichever test stands beside it.
    """

    def __init__(self, compiled: Compiled) -> None:
        self._compiled = compiled
        self.alike: Counts = np.zeros(len(compiled.weak), dtype=np.uint16)
        self.asked: list[Asked] = []
        for place in range(len(ALL)):
            if place not in compiled.conditional:
                self._compile(place)
        self._flat = [
            (table.ravel(), rows.astype(np.intp) * table.shape[1], columns)
            for table, rows, columns in self.asked
        ]

    def _compile(self, place: int) -> None:
        answers = self._compiled.tables[place].answers
        tests = self._compiled.tests.columns[place].codes
        weak = np.where(answers <= Answer.ALLOWED, np.uint8(Answer.UNKNOWN), answers)
        table = np.concatenate([_counted(answers), _counted(weak)])
        further = self._compiled.weak[:, place] * np.int32(len(answers))
        rows = self._compiled.walls[place].codes + further
        used = table[:, np.unique(tests)]
        if (used == used[:, :1])[np.unique(rows)].all():
            self.alike += used[rows, 0]
        else:
            self.asked.append(Asked(table, rows, tests))

    def keys(self, wall: Codes, test: Codes, ajar: Bools, assessment: Bools) -> Keys:
        """The keys of pairs that nothing decisive sets apart.

        COVERS only where nothing differs, nothing is unknown, every gate is met, and a wall was
        tested: an assessment ranks below a test and leaves the last word to the zone's engineer.
        """
        found = self.alike[wall]
        for table, rows, tests in self._flat:
            found += table[rows[wall] + tests[test]]
        for place in self._compiled.conditional:
            found += _counted(self._compiled.answers(place, wall, test))
        unknown, differs = found >> 8, found & 0xFF
        verdict = np.select(
            [(unknown > 0) | ajar, (differs > 0) | assessment],
            [np.int8(Verdict.OPEN), np.int8(Verdict.ASSESSABLE)],
            np.int8(Verdict.COVERS),
        )
        return _key(verdict, differs, unknown, test)


def _counted(answers: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint16]:
    differs = (answers == Answer.DIFFERS).astype(np.uint16)
    return np.where(answers == Answer.UNKNOWN, _ONE_UNKNOWN, differs).astype(np.uint16)

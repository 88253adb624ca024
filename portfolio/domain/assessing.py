"""The coverage of zones with everything it rests on, spelled out for people.

What adds up is worked out in columns (`judging.py`); here it is told by name.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np

from portfolio.domain.adverse import Against
from portfolio.domain.arrays import Codes
from portfolio.domain.columns import Answer
from portfolio.domain.coverage import Library, TestVerdict, ZoneCase, ZoneCoverage
from portfolio.domain.evidence import Answer3
from portfolio.domain.gates import Gate, Setting
from portfolio.domain.judging import (
    COVERAGES,
    DECISIVE_LAYERS,
    Judged,
    Walls,
    compile_kinds,
    decisive_unknowns,
    judge_kinds,
)
from portfolio.domain.matching import Compiled
from portfolio.domain.nearest import NOBODY, Verdict
from portfolio.domain.readings import ALL, read_walls

_KEYS = np.array([parameter.key for parameter in ALL], dtype=object)


def assess(cases: Sequence[ZoneCase], library: Library) -> list[ZoneCoverage]:
    """The coverage of each zone, in the order given; equal walls are compared once."""
    if not cases:
        return []
    walls = walls_of(cases)
    kinds, firsts, kind = walls.kinds()
    told = [cases[first] for first in firsts.tolist()]
    found = _spelled(told, kinds, library)
    return [found[place] for place in kind.tolist()]


def walls_of(cases: Sequence[ZoneCase]) -> Walls:
    """The zones' walls as columns."""
    places: dict[Setting, int] = {}
    setting = [places.setdefault(case.setting, len(places)) for case in cases]
    readings = read_walls([case.wall for case in cases])
    return Walls(readings, np.array(setting, dtype=np.int32), tuple(places))


def _spelled(cases: Sequence[ZoneCase], kinds: Walls, library: Library) -> list[ZoneCoverage]:
    walls = [case.wall for case in cases]
    failing = library.judge.against(walls, library.failing)
    undone = library.judge.against(walls, library.undone)
    compiled = compile_kinds(kinds, library)
    judged = judge_kinds(kinds, library, compiled)
    nearest = _nearest(compiled, judged, cases, library.gates)
    unknown = _decisive_words(kinds)
    found = []
    for i, case in enumerate(cases):
        coverage = COVERAGES[judged.coverage[i]]
        against = failing[i].tested or failing[i].inferred
        doubts = _doubts(failing[i], undone[i], library) if judged.in_doubt[i] else ()
        found.append(
            ZoneCoverage(
                coverage,
                by_inference=bool(judged.by_inference[i]),
                covered_too=bool(judged.covered_too[i]),
                nearest=nearest[i],
                against=tuple(library.failing[place].ref for place in against),
                conflicts=case.wall.conflicts,
                unknown_decisive=unknown[i],
                doubts=doubts,
            )
        )
    return found


def _doubts(failing: Against, undone: Against, library: Library) -> tuple[str, ...]:
    possible = [library.failing[place].ref for place in failing.possible]
    return tuple(sorted(possible + [library.undone[place].ref for place in undone.any_way]))


def _decisive_words(kinds: Walls) -> list[tuple[str, ...]]:
    unknown = decisive_unknowns(kinds.readings).tolist()
    return [
        tuple(k for k, is_so in zip(DECISIVE_LAYERS, row, strict=True) if is_so) for row in unknown
    ]


def _nearest(
    compiled: Compiled,
    judged: Judged,
    cases: Sequence[ZoneCase],
    gates: Mapping[Setting, Mapping[str, tuple[Gate, ...]]],
) -> list[tuple[TestVerdict, ...]]:
    """The nearest passing tests of each wall, best first."""
    places, verdicts = judged.ranked.tests, judged.ranked.verdicts
    walls, columns = np.nonzero(places != NOBODY)
    tests = places[walls, columns]
    records = compiled.tests.records
    found: list[list[TestVerdict]] = [[] for _ in cases]
    spelled = _spelled_out(compiled, walls.astype(np.int32), tests)
    for i, j, word, parts in zip(
        walls.tolist(), tests.tolist(), verdicts[walls, columns].tolist(), spelled, strict=True
    ):
        ref = records[j].ref
        ajar = (g.name for g in gates[cases[i].setting][ref] if g.answer is Answer3.UNKNOWN)
        found[i].append(TestVerdict(ref, Verdict(word), *parts, tuple(ajar)))
    return [tuple(verdict) for verdict in found]


_Parts = tuple[tuple[str, ...], tuple[str, ...], tuple[tuple[str, str], ...]]


def _spelled_out(compiled: Compiled, wall: Codes, test: Codes) -> list[_Parts]:
    """For each pair: what differs, what is unknown, what a rule allows."""
    answers = np.array([compiled.answers(place, wall, test) for place in range(len(ALL))]).T
    differs, unknown = _keys_by_row(answers, Answer.DIFFERS), _keys_by_row(answers, Answer.UNKNOWN)
    allowed: list[tuple[tuple[str, str], ...]] = [()] * len(answers)
    for k in np.flatnonzero((answers == Answer.ALLOWED).any(axis=1)).tolist():
        i, j = int(wall[k]), int(test[k])
        allowed[k] = tuple(
            (ALL[place].key, _rule_id(compiled, place, i, j))
            for place in np.flatnonzero(answers[k] == Answer.ALLOWED).tolist()
        )
    return list(zip(differs, unknown, allowed, strict=True))


def _rule_id(compiled: Compiled, place: int, wall: int, test: int) -> str:
    rule = compiled.rule_told(place, wall, test)
    return "" if rule is None else rule.id


def _keys_by_row(answers: np.ndarray, wanted: Answer) -> list[tuple[str, ...]]:
    """For each row of answers, the keys of the parameters with the wanted one."""
    rows, places = np.nonzero(answers == wanted)
    keys = _KEYS[places].tolist()
    ends = np.searchsorted(rows, np.arange(len(answers) + 1)).tolist()
    return [tuple(keys[start:end]) for start, end in pairwise(ends)]

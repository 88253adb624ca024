"""Coverage: what the comparisons add up to for a zone, and for a building.

Contradicted outranks covered; both are said. Covered needs one passing test that every gate lets
through, every parameter same or allowed, and no conflict. Too little known means that nothing
known rules out a test that could yet cover, that the decisive layers are not known well enough to
say what would be relevant, or that a failing test could have been of this wall.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from itertools import pairwise

import numpy as np

from portfolio.domain.adverse import Judge
from portfolio.domain.arrays import Codes
from portfolio.domain.columns import Answer
from portfolio.domain.evidence import (
    Answer3,
    EvidenceKind,
    Outcome,
    Standing,
    TestRecord,
    outcome_of,
)
from portfolio.domain.gates import Gate, Setting, together
from portfolio.domain.matching import (
    Compiled,
    Pairs,
    Tests,
    Verdict,
    compile_walls,
    count_answers,
    decisive_differences,
)
from portfolio.domain.parameters import folded
from portfolio.domain.readings import ALL, distinct, read_walls
from portfolio.domain.rules import RuleSet
from portfolio.domain.surveys import Wall
from portfolio.domain.values import OneOf
from portfolio.domain.walls import COMPOSITES, parameters_of

NEAREST = 3
_CHUNK_PAIRS = 2_000_000
_KEYS = np.array([parameter.key for parameter in ALL], dtype=object)


class Coverage(StrEnum):
    """The coverage of a zone."""

    COVERED = "covered"
    CONTRADICTED = "contradicted"
    TO_ASSESS = "to-assess"
    TOO_LITTLE_KNOWN = "too-little-known"
    NO_MATCHING_EVIDENCE = "no-matching-evidence"

    @property
    def is_gap(self) -> bool:
        return self is not Coverage.COVERED


WORST_FIRST: tuple[tuple[Coverage, bool], ...] = (
    (Coverage.CONTRADICTED, False),
    (Coverage.CONTRADICTED, True),
    (Coverage.TOO_LITTLE_KNOWN, False),
    (Coverage.NO_MATCHING_EVIDENCE, False),
    (Coverage.TO_ASSESS, False),
    (Coverage.COVERED, False),
)
"""Coverage with "by inference", worst first: what is unknown before a known milder state (ours)."""


@dataclass(frozen=True, slots=True)
class ZoneCase:
    """One zone to judge: its wall, and the setting that its gates depend on."""

    wall: Wall
    setting: Setting


@dataclass(frozen=True, slots=True)
class Library:
    """Everything that walls are judged by. `gates` has, by setting, the gates of each test ref."""

    compiled: Tests
    gates: Mapping[Setting, Mapping[str, tuple[Gate, ...]]]
    rules: RuleSet
    judge: Judge

    @property
    def tests(self) -> tuple[TestRecord, ...]:
        """The tests, in the order of their references."""
        return self.compiled.records


@dataclass(frozen=True, slots=True)
class TestVerdict:
    """One passing test's word on a zone, with the parameters behind it."""

    __test__ = False

    test: str
    verdict: Verdict
    differs: tuple[str, ...]
    unknown: tuple[str, ...]
    allowed: tuple[tuple[str, str], ...]
    open_gates: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ZoneCoverage:
    """The coverage of a zone with everything it rests on; equal walls share one and the same."""

    coverage: Coverage
    by_inference: bool
    covered_too: bool
    nearest: tuple[TestVerdict, ...]
    against: tuple[str, ...]
    conflicts: tuple[str, ...]
    unknown_decisive: tuple[str, ...]
    doubts: tuple[str, ...] = ()
    """Tests that alone keep the zone from a better coverage: they failed, or nobody tells what came
    of them, and they could be of its wall."""

    @property
    def tests(self) -> tuple[str, ...]:
        """The tests that the coverage rests on: the failing ones where contradicted."""
        if self.coverage is Coverage.CONTRADICTED:
            return self.against
        if self.doubts:
            return self.doubts
        covering = [v.test for v in self.nearest if v.verdict is Verdict.COVERS]
        return tuple(covering or [v.test for v in self.nearest])

    @property
    def differences(self) -> tuple[str, ...]:
        return self.nearest[0].differs if self.nearest else ()

    @property
    def unknowns(self) -> tuple[str, ...]:
        """What nobody knows: of the nearest test's parameters, and of the decisive layers.

        Where nobody knows whether a layer is there, its thickness is not asked for yet.
        """
        nearest = self.nearest[0].unknown if self.nearest else ()
        return folded({*nearest, *self.unknown_decisive})


def worst(found: Collection[tuple[Coverage, bool]]) -> tuple[Coverage, bool]:
    """The worst of several zones' coverage: the building's. An empty building is unknown."""
    return min(found, key=WORST_FIRST.index, default=(Coverage.TOO_LITTLE_KNOWN, False))


def decisive_unknowns(wall: Wall) -> tuple[str, ...]:
    """The decisive layers not known from a source that cover can lean on."""
    found = [
        key
        for key in ("facing.1.material", "insulation.1.material")
        if not _is_known(wall.as_relied_on(key))
    ]
    facing = wall.as_resolved("facing.1.material")
    composite = isinstance(facing, OneOf) and bool(facing.keys & COMPOSITES)
    if composite and not _is_known(wall.as_relied_on("facing.1.core_category")):
        found.append("facing.1.core_category")
    return tuple(found)


def _is_known(value: object) -> bool:
    return isinstance(value, OneOf) and value.is_known


def assess(cases: Sequence[ZoneCase], library: Library) -> list[ZoneCoverage]:
    """The coverage of each zone, in the order given; equal walls are compared once."""
    keys = [(id(case.wall), case.setting) for case in cases]
    shared = dict(zip(keys, cases, strict=True))
    found = dict(zip(shared, _assess(list(shared.values()), library), strict=True))
    return [found[key] for key in keys]


def _assess(cases: Sequence[ZoneCase], library: Library) -> list[ZoneCoverage]:
    readings = read_walls([case.wall for case in cases])
    kept, places = distinct(readings, [case.setting for case in cases])
    readings, kinds = readings.of(kept), [cases[i] for i in kept]
    passing = [i for i, t in enumerate(library.tests) if outcome_of(t) is not Outcome.FAILED]
    failing = [t for t in library.tests if speaks_against(t)]
    walls = [case.wall for case in kinds]
    against = library.judge.against(walls, failing)
    undone = [t for t in library.tests if _leaves_in_doubt(t, library.rules.on)]
    doubted = library.judge.against(walls, undone) if undone else None
    tests = library.compiled.of(passing)
    compiled = compile_walls(
        readings, tests, library.rules, [case.setting.jurisdiction for case in kinds]
    )
    step = max(1, _CHUNK_PAIRS // max(1, len(tests.records)))
    judged: list[ZoneCoverage] = []
    for start in range(0, len(kinds), step):
        part = kinds[start : start + step]
        nearest = _nearest(compiled.of(start, start + step), part, library.gates)
        for i, case in enumerate(part):
            adverse = against[start + i]
            possible = [failing[j].ref for j in adverse.possible]
            if doubted is not None:
                possible += [undone[j].ref for j in doubted[start + i].any_way]
            found = _Adverse(
                tuple(failing[j].ref for j in adverse.tested or adverse.inferred),
                tuple(sorted(possible)),
                inferred=not adverse.tested,
            )
            judged.append(_add_up(case, nearest[i], found))
    return [judged[place] for place in places]


def speaks_against(test: TestRecord) -> bool:
    """A failing test counts unless it was withdrawn: neither doubt nor a later paper acquits."""
    return outcome_of(test) is Outcome.FAILED and test.standing is not Standing.WITHDRAWN


def _leaves_in_doubt(test: TestRecord, on: date) -> bool:
    """Whether a wall burnt, and nobody tells or stands by what came of it (ours).

    A withdrawn failure contradicts nothing for certain, and nobody has shown either that the wall
    would not burn so. Nor does an outcome that nobody tells acquit: else not to tell that a wall
    failed would. A test to come, or one of a facing that nobody recorded, says nothing of any wall.
    """
    outcome = outcome_of(test)
    if outcome is Outcome.FAILED:
        return test.standing is Standing.WITHDRAWN
    if outcome is Outcome.PASSED or (test.tested_on is not None and test.tested_on > on):
        return False
    return isinstance(parameters_of(test.build_up).get("facing.1.material"), OneOf)


def _nearest(
    compiled: Compiled,
    cases: Sequence[ZoneCase],
    gates: Mapping[Setting, Mapping[str, tuple[Gate, ...]]],
) -> list[tuple[TestVerdict, ...]]:
    """The nearest passing tests of each wall, best first."""
    records = compiled.tests.records
    if not records:
        return [() for _ in cases]
    apart = decisive_differences(compiled)
    settings = {case.setting for case in cases}
    shut = {s: _gate_row(records, gates[s], Answer3.NOT_MET) for s in settings}
    ajar = {s: _gate_row(records, gates[s], Answer3.UNKNOWN) for s in settings}
    closed = np.array([shut[case.setting] for case in cases])
    wall, test = np.nonzero((apart == 0) & ~closed)
    pairs = count_answers(compiled, wall.astype(np.int32), test.astype(np.int32))
    unsure = np.array([ajar[case.setting] for case in cases])[pairs.wall, pairs.test]
    judged = np.array([record.kind is EvidenceKind.ASSESSMENT for record in records])
    verdicts = _verdicts(pairs, unsure, judged[pairs.test])
    chosen = _first_few(pairs, verdicts)
    alone = np.setdiff1d(np.arange(len(cases)), pairs.wall)
    far_wall, far_test = _least_apart(apart, closed, alone)
    walls = np.concatenate([pairs.wall[chosen], far_wall])
    tests = np.concatenate([pairs.test[chosen], far_test])
    words = np.concatenate([verdicts[chosen], np.full(len(far_wall), Verdict.APART)])
    found: list[list[TestVerdict]] = [[] for _ in cases]
    spelled = _spelled_out(compiled, walls.astype(np.int32), tests.astype(np.int32))
    for i, j, word, parts in zip(walls.tolist(), tests.tolist(), words, spelled, strict=True):
        ref = records[j].ref
        ajar_gates = (g.name for g in gates[cases[i].setting][ref] if g.answer is Answer3.UNKNOWN)
        found[i].append(TestVerdict(ref, Verdict(int(word)), *parts, tuple(ajar_gates)))
    return [tuple(verdict) for verdict in found]


def _gate_row(
    records: Sequence[TestRecord], gates: Mapping[str, tuple[Gate, ...]], answer: Answer3
) -> list[bool]:
    return [together(gates[record.ref]) is answer for record in records]


def _verdicts(pairs: Pairs, unsure: np.ndarray, judged: np.ndarray) -> np.ndarray:
    """COVERS only where nothing differs, nothing is unknown, every gate is met, and a wall was
    tested: an assessment ranks below a test and leaves the last word to the zone's engineer."""
    is_open = (pairs.unknown > 0) | unsure
    return np.select(
        [is_open, (pairs.differs > 0) | judged],
        [np.int8(Verdict.OPEN), np.int8(Verdict.ASSESSABLE)],
        np.int8(Verdict.COVERS),
    )


def _first_few(pairs: Pairs, verdicts: np.ndarray) -> np.ndarray:
    """The places of each wall's best pairs, in a total order that the tests' order decides last."""
    order = np.lexsort((pairs.test, pairs.unknown, pairs.differs, verdicts, pairs.wall))
    wall = pairs.wall[order]
    starts = np.searchsorted(wall, wall, side="left")
    return order[np.arange(len(order)) - starts < NEAREST]


def _least_apart(
    apart: np.ndarray, closed: np.ndarray, walls: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """For walls without a match: the usable test with the fewest decisive differences."""
    walls = walls[~closed[walls].all(axis=1)]
    if not len(walls):
        return walls, walls
    return walls, np.where(closed[walls], 255, apart[walls]).argmin(axis=1)


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


@dataclass(frozen=True, slots=True)
class _Adverse:
    """The failing tests that contradict a wall, and those that could."""

    against: tuple[str, ...]
    possible: tuple[str, ...]
    inferred: bool


def _add_up(case: ZoneCase, nearest: tuple[TestVerdict, ...], adverse: _Adverse) -> ZoneCoverage:
    against = adverse.against
    conflicts = case.wall.conflicts
    unknown_decisive = decisive_unknowns(case.wall)
    best = nearest[0].verdict if nearest else Verdict.APART
    covered = best is Verdict.COVERS and not conflicts
    if against:
        coverage = Coverage.CONTRADICTED
    elif covered:
        coverage = Coverage.COVERED
    elif best is Verdict.ASSESSABLE and not conflicts:
        coverage = Coverage.TO_ASSESS
    elif best is not Verdict.APART or unknown_decisive or conflicts:
        coverage = Coverage.TOO_LITTLE_KNOWN
    else:
        coverage = Coverage.NO_MATCHING_EVIDENCE
    doubts: tuple[str, ...] = ()
    if coverage not in (Coverage.CONTRADICTED, Coverage.TOO_LITTLE_KNOWN) and adverse.possible:
        coverage, doubts = Coverage.TOO_LITTLE_KNOWN, adverse.possible
    return ZoneCoverage(
        coverage,
        by_inference=bool(against) and adverse.inferred,
        covered_too=bool(against) and covered,
        nearest=nearest,
        against=against,
        conflicts=conflicts,
        unknown_decisive=unknown_decisive,
        doubts=doubts,
    )

"""Judges walls as columns: any number of them, each kind once.

This is the one place in which comparisons are added up; `assess` spells the same out for people.
When a test changes, only the kinds that the old or the new record bears on are judged again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from portfolio.domain.adverse import CORE, FACING, INSULATION, Spoken
from portfolio.domain.arrays import Bools, Codes
from portfolio.domain.coverage import Coverage, Library
from portfolio.domain.gates import Setting
from portfolio.domain.matching import Compiled, compile_walls
from portfolio.domain.nearest import Ranked, Verdict, rank, usable
from portfolio.domain.readings import PLACE, Readings, distinct
from portfolio.domain.values import OneOf
from portfolio.domain.walls import COMPOSITES

COVERAGES: tuple[Coverage, ...] = tuple(Coverage)
"""What the numbers of `Judged.coverage` stand for."""
DECISIVE_LAYERS = (FACING, INSULATION[0], CORE)
"""What has to be known, and leant on, before anybody can say which tests are relevant."""
_CODE = {coverage: np.uint8(place) for place, coverage in enumerate(COVERAGES)}


@dataclass(frozen=True, slots=True)
class Walls:
    """Walls to judge, each in one of `settings`, by its place there."""

    readings: Readings
    setting: Codes
    settings: tuple[Setting, ...]

    def kinds(self) -> tuple[Walls, Codes, Codes]:
        """One wall of each kind, which one it is, and for every wall the place of its kind."""
        firsts, kind = distinct(self.readings, self.setting)
        return self.of(firsts), firsts, kind

    def of(self, places: Codes) -> Walls:
        """Some of the walls."""
        return Walls(self.readings.of(places), self.setting[places], self.settings)


@dataclass(frozen=True, slots=True)
class Judged:
    """What came out for each wall [walls]: its coverage, as a place in COVERAGES, whether only by
    inference, whether it is covered too, whether only a doubt keeps it from better; and the
    nearest tests among the compiled ones that have not failed."""

    coverage: npt.NDArray[np.uint8]
    by_inference: Bools
    covered_too: Bools
    in_doubt: Bools
    ranked: Ranked

    def of(self, places: Codes) -> Judged:
        """The same for some walls, or for each of many the outcome of its kind."""
        return Judged(
            self.coverage[places],
            self.by_inference[places],
            self.covered_too[places],
            self.in_doubt[places],
            Ranked(self.ranked.keys[places]),
        )


def compile_kinds(kinds: Walls, library: Library) -> Compiled:
    """The walls beside the tests that may stand behind them."""
    jurisdictions = [kinds.settings[place].jurisdiction for place in kinds.setting.tolist()]
    return compile_walls(kinds.readings, library.passing, library.rules, jurisdictions)


def judge_kinds(kinds: Walls, library: Library, compiled: Compiled | None = None) -> Judged:
    """The coverage of walls that are best all different."""
    if compiled is None:
        compiled = compile_kinds(kinds, library)
    gates = usable(compiled, kinds.settings, library.gates)
    ranked = rank(compiled, kinds.setting, gates)
    speaks = library.judge.spoken(kinds.readings, library.failing)
    doubts = library.judge.spoken(kinds.readings, library.undone)
    any_doubt = speaks.possible | doubts.tested | doubts.inferred | doubts.possible
    return add_up(kinds.readings, ranked, speaks, any_doubt)


def judge_all(walls: Walls, library: Library) -> Judged:
    """The coverage of any number of walls, as columns in their order."""
    kinds, _, kind = walls.kinds()
    return judge_kinds(kinds, library).of(kind)


def add_up(readings: Readings, ranked: Ranked, speaks: Spoken, doubted: Bools) -> Judged:
    """Contradicted outranks covered; doubts keep from anything better than too little known."""
    in_conflict = readings.conflicts.any(axis=1)
    best = ranked.verdicts[:, 0]
    covered = (best == Verdict.COVERS) & ~in_conflict
    contradicted = speaks.tested | speaks.inferred
    open_still = (best != Verdict.APART) | decisive_unknowns(readings).any(axis=1) | in_conflict
    coverage = np.select(
        [contradicted, covered, (best == Verdict.ASSESSABLE) & ~in_conflict, open_still],
        [
            _CODE[Coverage.CONTRADICTED],
            _CODE[Coverage.COVERED],
            _CODE[Coverage.TO_ASSESS],
            _CODE[Coverage.TOO_LITTLE_KNOWN],
        ],
        _CODE[Coverage.NO_MATCHING_EVIDENCE],
    )
    too_little = _CODE[Coverage.TOO_LITTLE_KNOWN]
    in_doubt = doubted & ~contradicted & (coverage != too_little)
    coverage = np.where(in_doubt, too_little, coverage).astype(np.uint8)
    return Judged(coverage, contradicted & ~speaks.tested, contradicted & covered, in_doubt, ranked)


def decisive_unknowns(readings: Readings) -> Bools:
    """Which of DECISIVE_LAYERS are not known from a source that cover can lean on [walls, layers];
    a core category is asked only of a facing that could be a composite panel."""
    unknown = [~_is_known(readings, PLACE[key]) for key in DECISIVE_LAYERS]
    facings = readings.uniques[PLACE[FACING]]
    composites = [isinstance(v, OneOf) and bool(v.keys & COMPOSITES) for v in facings]
    unknown[-1] &= np.array(composites, dtype=np.bool_)[readings.codes[:, PLACE[FACING]]]
    return np.stack(unknown, axis=1)


def _is_known(readings: Readings, place: int) -> Bools:
    known = [isinstance(value, OneOf) and value.is_known for value in readings.uniques[place]]
    told = np.array(known, dtype=np.bool_)[readings.codes[:, place]]
    return np.asarray(told & readings.relied_on[:, place], dtype=np.bool_)

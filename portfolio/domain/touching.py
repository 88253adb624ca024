"""Which walls a test could bear on at all: after a change only these are judged again."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from portfolio.domain.adverse import Judge
from portfolio.domain.arrays import Bools
from portfolio.domain.coverage import leaves_in_doubt, speaks_against
from portfolio.domain.evidence import Outcome, TestRecord, outcome_of
from portfolio.domain.judging import Walls
from portfolio.domain.matching import compile_tests, compile_walls, decisive_differences
from portfolio.domain.rules import RuleSet


def borne_on(walls: Walls, records: Sequence[TestRecord], rules: RuleSet, judge: Judge) -> Bools:
    """The walls [walls] whose coverage could name one of the records, whatever its gates say.

    Give a changed test as it was and as it is. Left out are walls that are told the least different
    of all tests for want of a nearer one: any change may concern those.
    """
    found = np.zeros(len(walls.setting), dtype=np.bool_)
    failing = [record for record in records if speaks_against(record)]
    undone = [record for record in records if leaves_in_doubt(record, rules.on)]
    for speaking in (failing, undone):
        if speaking:
            told = judge.spoken(walls.readings, speaking)
            found |= told.tested | told.inferred | told.possible
    standing = [record for record in records if outcome_of(record) is not Outcome.FAILED]
    if standing:
        tests = compile_tests(standing)
        places = [walls.settings[place].jurisdiction for place in walls.setting.tolist()]
        compiled = compile_walls(walls.readings, tests, rules, places)
        found |= (decisive_differences(compiled) == 0).any(axis=1)
    return found

"""The matching engine: many walls against many tests, parameter by parameter.

The same tables serve the whole portfolio (`verdicts`) and the explanation of a single zone
(`explain`). Nothing here says "covered" on anything but same-or-allowed for every parameter.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from portfolio.domain.arrays import Bools, Codes
from portfolio.domain.columns import Answer, Column, Table, answer_table, column
from portfolio.domain.conditional import Conditional, conditional_rules
from portfolio.domain.evidence import TestRecord
from portfolio.domain.readings import ALL, Readings
from portfolio.domain.rules import ApplicationRule, RuleSet
from portfolio.domain.surveys import Wall
from portfolio.domain.values import UNKNOWN, Value
from portfolio.domain.walls import BuildUp, parameters_of

DECISIVE: tuple[int, ...] = tuple(i for i, p in enumerate(ALL) if p.is_decisive)


@dataclass(frozen=True, slots=True)
class Compared:
    """One parameter of one wall against one test. `rule` is the one that allows a difference;
    `too_weak` marks an answer that would have been same or allowed, had the source been good
    enough to lean on."""

    parameter: str
    zone_value: Value
    test_value: Value
    answer: Answer
    rule: ApplicationRule | None
    too_weak: bool


@dataclass(frozen=True, slots=True)
class Tests:
    """A library of tests as columns, one per parameter in the order of `ALL`."""

    __test__ = False

    records: tuple[TestRecord, ...]
    columns: tuple[Column, ...]

    @property
    def shown(self) -> Bools:
        """Which tests' walls may be shown [tests]; walls that stand for themselves always."""
        if not self.records:
            return np.ones(len(self.columns[0].codes), dtype=np.bool_)
        return np.array([record.wall_is_shown for record in self.records], dtype=np.bool_)

    def of(self, places: Sequence[int]) -> Tests:
        """Some of the tests, in the order of `places`."""
        chosen = np.array(places, dtype=np.int32)
        records = tuple(self.records[place] for place in places)
        return Tests(records, tuple(Column(c.codes[chosen], c.uniques) for c in self.columns))


def compile_tests(records: Sequence[TestRecord]) -> Tests:
    """The tests' build-ups as columns, in the order of their references."""
    ordered = tuple(sorted(records, key=lambda record: record.ref))
    rows = [_row_of(record.build_up) for record in ordered]
    return Tests(ordered, tuple(column(row[place] for row in rows) for place in range(len(ALL))))


@lru_cache(maxsize=50_000)
def _row_of(build_up: BuildUp) -> tuple[Value, ...]:
    """The value of every parameter, in the order of `ALL`: tests are compiled again and again."""
    values = parameters_of(build_up)
    return tuple(values.get(p.key, UNKNOWN) for p in ALL)


@dataclass(frozen=True, slots=True)
class Compiled:
    """Walls and tests with the answer table of every parameter; `weak` is [walls, parameters].

    `conditional` has, by parameter, the rules that hold for some walls and tests only.
    """

    walls: tuple[Column, ...]
    tests: Tests
    tables: tuple[Table, ...]
    weak: Bools
    rules: RuleSet
    conditional: Mapping[int, tuple[Conditional, ...]]

    def answers(self, place: int, wall: Codes, test: Codes) -> npt.NDArray[np.uint8]:
        """The answers of parameter `place` for pairs of walls and tests given by index."""
        found = self.answers_if_sure(place, wall, test)
        doubtful = (found <= Answer.ALLOWED) & self.weak[wall, place]
        return np.where(doubtful, np.uint8(Answer.UNKNOWN), found)

    def answers_if_sure(self, place: int, wall: Codes, test: Codes) -> npt.NDArray[np.uint8]:
        """The same, as they would be if every source were good enough to lean on."""
        codes = self.walls[place].codes[wall], self.tests.columns[place].codes[test]
        found = self.tables[place].answers[codes]
        for rule in self.conditional.get(place, ()):
            could, holds = (
                ask(*codes, wall, test) & (found != Answer.SAME)
                for ask in (rule.could_hold, rule.holds)
            )
            unsure = could & (found == Answer.DIFFERS)
            found = np.where(unsure, np.uint8(Answer.UNKNOWN), found)
            found = np.where(holds, np.uint8(Answer.ALLOWED), found)
        return found

    def of(self, places: Codes) -> Compiled:
        """The same tables, for some of the walls."""
        walls = tuple(Column(c.codes[places], c.uniques) for c in self.walls)
        conditional = {
            place: tuple(rule.of(places) for rule in rules)
            for place, rules in self.conditional.items()
        }
        weak = self.weak[places]
        return Compiled(walls, self.tests, self.tables, weak, self.rules, conditional)

    def rule_told(self, place: int, wall: int, test: int) -> ApplicationRule | None:
        """The rule that allows a difference; None where none was needed."""
        codes = self.walls[place].codes[wall], self.tests.columns[place].codes[test]
        used = int(self.tables[place].rules[codes])
        for rule in self.conditional.get(place, ()) if used < 0 else ():
            if rule.holds(*codes, wall, test):
                used = rule.place
        return self.rules.rules[used] if used >= 0 else None


def compile_walls(
    walls: Readings, tests: Tests, rules: RuleSet, places: Sequence[str] = ()
) -> Compiled:
    """Evaluate every rule on the distinct values of these walls and tests.

    `places` names for each wall the jurisdiction it stands in; without them no rule holds that
    asks for one.
    """
    shown = walls.shown
    columns = tuple(
        Column(np.ascontiguousarray(shown[:, place]), walls.uniques[place])
        for place in range(len(ALL))
    )
    tables = tuple(
        answer_table(p, columns[i].uniques, tests.columns[i].uniques, rules)
        for i, p in enumerate(ALL)
    )
    conditional = conditional_rules(
        columns, walls.too_weak, tests.columns, rules, places, shown=tests.shown
    )
    return Compiled(columns, tests, tables, walls.too_weak, rules, conditional)


def decisive_differences(compiled: Compiled) -> npt.NDArray[np.uint8]:
    """How many decisive parameters differ, as [walls, tests]."""
    walls, tests = compiled.weak.shape[0], len(compiled.tests.records)
    count = np.zeros((walls, tests), dtype=np.uint8)
    for place in DECISIVE:
        by_wall = compiled.tables[place].answers[compiled.walls[place].codes]
        differs = (by_wall == Answer.DIFFERS)[:, compiled.tests.columns[place].codes]
        for rule in compiled.conditional.get(place, ()):
            differs &= ~rule.could_hold_anywhere(
                compiled.walls[place].codes, compiled.tests.columns[place].codes
            )
        count += differs
    return count


def explain_pair(compiled: Compiled, wall: Wall, wall_index: int, test: int) -> list[Compared]:
    """Every parameter of one pair; those that mean nothing on either side are left out."""
    found = []
    for place, parameter in enumerate(ALL):
        here = np.array([wall_index], dtype=np.int32), np.array([test], dtype=np.int32)
        answer = Answer(int(compiled.answers(place, *here)[0]))
        tested = compiled.tests.columns[place]
        before = Answer(int(compiled.answers_if_sure(place, *here)[0]))
        rule = compiled.rule_told(place, wall_index, test) if answer is Answer.ALLOWED else None
        found.append(
            Compared(
                parameter.key,
                wall.as_resolved(parameter.key),
                tested.uniques[tested.codes[test]],
                answer,
                rule,
                too_weak=answer is Answer.UNKNOWN and before <= Answer.ALLOWED,
            )
        )
    return found

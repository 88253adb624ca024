"""Worked examples of a rule: what it is meant to answer, run by the rule alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from portfolio.domain.columns import Answer, Column, column
from portfolio.domain.matching import Tests, compile_walls
from portfolio.domain.parameters import PLACE_OF, Strength
from portfolio.domain.readings import ALL, Readings
from portfolio.domain.rules import ApplicationRule, RuleSet
from portfolio.domain.values import UNKNOWN, Value


@dataclass(frozen=True, slots=True)
class RuleExample:
    """A zone's value, a test's, and the answer that the rule is to give.

    `others` are further parameters, alike in the zone and in the test; what is not said is
    unknown. `jurisdiction` is where the zone stands.
    """

    zone: Value
    tested: Value
    expect: Answer
    others: Mapping[str, Value] = field(default_factory=dict)
    jurisdiction: str = ""


def answer_of(rule: ApplicationRule, example: RuleExample) -> Answer:
    """What comes out, by the tables by which whole portfolios are compared."""
    [parameter] = rule.parameters
    wall = {**example.others, parameter: example.zone}
    tested = {**example.others, parameter: example.tested}
    rules = RuleSet((rule,), rule.effective_from)
    tests = Tests((), _columns(tested))
    compiled = compile_walls(_opened_up(wall), tests, rules, [example.jurisdiction])
    here = np.zeros(1, dtype=np.int32)
    return Answer(int(compiled.answers(PLACE_OF[parameter], here, here)[0]))


def _columns(values: Mapping[str, Value]) -> tuple[Column, ...]:
    return tuple(column([values.get(parameter.key, UNKNOWN)]) for parameter in ALL)


def _opened_up(values: Mapping[str, Value]) -> Readings:
    """One wall that was opened up, of which no more is known."""
    codes = np.array([[parameter.key in values for parameter in ALL]], dtype=np.int32)
    strengths = np.where(codes, Strength.OPENED_UP, -1).astype(np.int8)
    uniques = tuple((UNKNOWN, values.get(parameter.key, UNKNOWN)) for parameter in ALL)
    return Readings(codes, strengths, np.zeros_like(codes, dtype=np.bool_), uniques)

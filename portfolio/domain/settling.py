"""What would settle a zone that is too little known: the smallest sets of facts, either way.

A set belongs to one passing test. Found as in that test, at a basis good enough to lean on, its
facts could leave the zone covered or to be assessed; the engine judges that, over all tests and
with their gates, before a set is named. A fact that is found otherwise rules tests out, and may let
failing ones speak. Nothing here is a promise: nobody knows yet what will be found.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from portfolio.domain.adverse import CORE, FACING, INSULATION, Judge
from portfolio.domain.allowing import reach
from portfolio.domain.assessing import assess
from portfolio.domain.coverage import (
    Coverage,
    Library,
    TestVerdict,
    ZoneCase,
    ZoneCoverage,
    speaks_against,
)
from portfolio.domain.evidence import TestRecord
from portfolio.domain.findings import Way, usual_way, where_to_look
from portfolio.domain.nearest import Verdict
from portfolio.domain.parameters import ASKED_AFTER, PARAMETERS, PLACE_OF
from portfolio.domain.rules import RuleSet
from portfolio.domain.surveys import Basis, Claim, Fact, Survey, Wall
from portfolio.domain.values import (
    NOT_APPLICABLE,
    UNKNOWN,
    Named,
    OneOf,
    Range,
    Value,
    agree,
    known,
)
from portfolio.domain.walls import CORE_LIMITS_MJ_PER_KG, NONE, BuildUp, parameters_of

_BETTER_FIRST = (Coverage.COVERED, Coverage.TO_ASSESS)
_JOINT, _JOINT_WIDTH = "facing.1.joint", "facing.1.joint_width"
# only its strength is ever asked: a fact that was opened up for, whoever will do it
_FOUND = Survey("", Basis.OPENING_UP, date.min, "", BuildUp())


@dataclass(frozen=True, slots=True)
class ToFind:
    """One fact to find out, and the usual way to it."""

    parameter: str
    way: Way

    @property
    def where(self) -> str:
        """Where to look for it."""
        return where_to_look(self.parameter, self.way)


@dataclass(frozen=True, slots=True)
class SettlingSet:
    """Facts that could settle a zone if each is found as in `test`; `outcome` is then its coverage.

    For that test none of them can be left out. `facts` are cheapest way first.
    """

    test: str
    outcome: Coverage
    facts: tuple[ToFind, ...]

    @property
    def cost(self) -> tuple[tuple[Way, ...], int, str]:
        """Sorts sets: the ways they need, dearest first, then how many facts, then the test."""
        ways = sorted({fact.way for fact in self.facts}, reverse=True)
        return tuple(ways), len(self.facts), self.test


@dataclass(frozen=True, slots=True)
class Otherwise:
    """A decisive fact that settles things by itself when it is found otherwise than tested.

    `rules_out` are the near tests that are then of another wall; `against` the failing ones that
    would speak for something that it could be.
    """

    fact: ToFind
    rules_out: tuple[str, ...]
    against: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Settling:
    """What would settle one zone, cheapest first; empty where nothing about its wall would."""

    sets: tuple[SettlingSet, ...] = ()
    otherwise: tuple[Otherwise, ...] = ()


@dataclass(frozen=True, slots=True)
class _Plan:
    """The facts that one test asks for, with its values, and the wall once they are found so."""

    test: str
    facts: Mapping[str, Value]
    filled: Wall


def smallest_sets(
    cases: Sequence[ZoneCase], found: Sequence[ZoneCoverage], library: Library
) -> list[tuple[SettlingSet, ...]]:
    """For each zone, in the order given, the smallest sets; `found` is its coverage.

    Zones that share a coverage, as `assess` gives it to equal ones, are asked about once.
    """
    asked = {
        id(coverage): (case, coverage)
        for case, coverage in zip(cases, found, strict=True)
        if coverage.coverage is Coverage.TOO_LITTLE_KNOWN
    }
    records = {test.ref: test for test in library.tests}
    near = {v.test for _, coverage in asked.values() for v in coverage.nearest if _could_settle(v)}
    tested = {ref: parameters_of(records[ref].build_up) for ref in near}
    plans = [
        (key, case, plan)
        for key, (case, coverage) in asked.items()
        for plan in _plans(case.wall, coverage, tested, library.rules)
    ]
    judged = assess([ZoneCase(plan.filled, case.setting) for _, case, plan in plans], library)
    kept: dict[int, list[tuple[_Plan, SettlingSet]]] = {}
    for (key, case, plan), then in zip(plans, judged, strict=True):
        if then.coverage in _BETTER_FIRST:
            facts = _in_order(
                ToFind(fact, _way(case.wall, fact, value)) for fact, value in plan.facts.items()
            )
            told = plan, SettlingSet(plan.test, then.coverage, facts)
            kept.setdefault(key, []).append(told)
    sets = {key: _cheapest_first(told) for key, told in kept.items()}
    return [sets.get(id(coverage), ()) for coverage in found]


def with_found(wall: Wall, values: Mapping[str, Value]) -> Wall:
    """The wall once these values are found, by opening it up, and nobody disagrees any more."""
    return Wall({**wall.facts, **{key: _found(key, value) for key, value in values.items()}})


@lru_cache(maxsize=50_000)
def _found(key: str, value: Value) -> Fact:
    """Many walls are asked the same of one test: each of its facts is made once."""
    return Fact(key, value, Claim(key, value, _FOUND))


def with_what_follows(keys: Collection[str], tested: Mapping[str, Value]) -> dict[str, Value]:
    """The values of a test for `keys`, and for what means nothing because of one of them: whoever
    finds that there is no second board need not look for its thickness."""
    values = {key: tested.get(key, UNKNOWN) for key in keys}
    for key, value in tested.items():
        if value is NOT_APPLICABLE and _because_of(key, tested) in values:
            values[key] = value
    return values


def _because_of(key: str, tested: Mapping[str, Value]) -> str:
    """Which parameter of a test makes `key` mean nothing there."""
    presence = ASKED_AFTER.get(key, "")
    if key == _JOINT_WIDTH and tested.get(presence) != known(NONE):
        return _JOINT
    return presence


def _plans(
    wall: Wall,
    coverage: ZoneCoverage,
    tested_walls: Mapping[str, Mapping[str, Value]],
    rules: RuleSet,
) -> Iterator[_Plan]:
    for verdict in coverage.nearest:
        if not _could_settle(verdict):
            continue
        tested = tested_walls[verdict.test]
        keys = _to_ask({*verdict.unknown, *coverage.conflicts}, wall, tested, rules)
        facts = {
            key: tested.get(key, UNKNOWN)
            for key in keys or ()
            if tested.get(key) is not NOT_APPLICABLE or _because_of(key, tested) not in (keys or ())
        }
        # what the record of the test itself leaves open, nobody can find out on a zone
        if facts and UNKNOWN not in facts.values():
            yield _Plan(verdict.test, facts, with_found(wall, with_what_follows(facts, tested)))


def _to_ask(
    keys: Collection[str], wall: Wall, tested: Mapping[str, Value], rules: RuleSet
) -> set[str] | None:
    """What to find out where these answers are unknown; None where nobody can.

    What is known for certain to differ is unknown only for want of what a rule asks besides: then
    that is to be found, and never the fact itself once more.
    """
    found: set[str] = set()
    for key in keys:
        if not _is_firm(wall, key):
            found.add(key)
            continue
        asked = _asked_by_rules(key, wall, tested, rules)
        if asked is None:
            return None
        found |= asked
    return found


def _is_firm(wall: Wall, key: str) -> bool:
    """Known exactly, from a source that cover can lean on, and nobody disagrees."""
    fact, value = wall.facts.get(key), wall.as_relied_on(key)
    is_exact = isinstance(value, Named) or (isinstance(value, OneOf | Range) and value.is_known)
    return is_exact and fact is not None and not fact.in_conflict


def _asked_by_rules(
    key: str, wall: Wall, tested: Mapping[str, Value], rules: RuleSet
) -> set[str] | None:
    """The fewest facts that one of the rules asks for which could allow the difference."""
    pair = [wall.as_relied_on(key)], [tested.get(key, UNKNOWN)]
    asked = [
        {c.parameter for c in rule.all_conditions if not _is_firm(wall, c.parameter)}
        for _, rule in rules.for_parameter(key, conditional=True)
        if reach(rule, PARAMETERS[key], *pair).whole[0, 0]
    ]
    return min(asked, key=lambda parameters: (len(parameters), sorted(parameters)), default=None)


def _could_settle(verdict: TestVerdict) -> bool:
    """Whether nothing but facts of the wall keeps the test from covering it, or nearly."""
    return verdict.verdict is not Verdict.APART and not verdict.open_gates


def _cheapest_first(told: Sequence[tuple[_Plan, SettlingSet]]) -> tuple[SettlingSet, ...]:
    """Without sets that ask for the same as another and for more, to come to nothing better."""
    kept = [
        found
        for plan, found in told
        if not any(_is_within(other, by, plan, found) for other, by in told)
    ]
    return tuple(sorted(kept, key=lambda found: found.cost))


def _is_within(less: _Plan, by: SettlingSet, more: _Plan, found: SettlingSet) -> bool:
    is_as_good = _BETTER_FIRST.index(by.outcome) <= _BETTER_FIRST.index(found.outcome)
    return (
        is_as_good
        and len(less.facts) < len(more.facts)
        and less.facts.items() <= (more.facts.items())
    )


def _way(wall: Wall, key: str, tested: Value) -> Way:
    """Where surveys disagree and one of them has it as tested, a person can settle it."""
    fact = wall.facts.get(key)
    if fact is not None and fact.in_conflict:
        claims = (fact.claim, *fact.in_conflict)
        if any(claim.value is not UNKNOWN and agree(claim.value, tested) for claim in claims):
            return Way.SETTLING
    return usual_way(key)


def _in_order(facts: Iterator[ToFind]) -> tuple[ToFind, ...]:
    return tuple(sorted(facts, key=lambda fact: (fact.way, PLACE_OF[fact.parameter])))


# --- found otherwise -----------------------------------------------------------------------------


def found_otherwise(
    wall: Wall, coverage: ZoneCoverage, failing: Sequence[TestRecord], judge: Judge
) -> tuple[Otherwise, ...]:
    """The decisive facts that settle a zone by themselves when they are found otherwise.

    `failing` are tests of failed walls; those that were withdrawn speak against nothing.
    """
    if coverage.coverage is not Coverage.TOO_LITTLE_KNOWN:
        return ()
    speaking = [test for test in failing if speaks_against(test)]
    could_be = _could_be(speaking, judge)
    tried = [
        (parameter, with_found(wall, {parameter: value}))
        for parameter in _decisive(wall, coverage)
        for value in _left_open(wall, parameter, could_be)
    ]
    against: dict[str, set[str]] = {}
    judged = judge.against([found for _, found in tried], speaking)
    for (parameter, _), then in zip(tried, judged, strict=True):
        refs = {speaking[place].ref for place in then.tested or then.inferred}
        against.setdefault(parameter, set()).update(refs)
    found = (
        Otherwise(
            ToFind(parameter, usual_way(parameter)),
            _ruled_out(coverage.nearest, parameter),
            tuple(sorted(against.get(parameter, ()))),
        )
        for parameter in _decisive(wall, coverage)
    )
    return tuple(one for one in found if one.rules_out or one.against)


def _decisive(wall: Wall, coverage: ZoneCoverage) -> list[str]:
    """The decisive parameters that somebody has yet to find out, whichever near test asks."""
    unknown = {key for verdict in coverage.nearest for key in verdict.unknown}
    unknown |= {*coverage.unknown_decisive, *coverage.conflicts}
    unknown = {key for key in unknown if not _is_firm(wall, key)}
    return sorted((k for k in unknown if PARAMETERS[k].is_decisive), key=PLACE_OF.__getitem__)


def _ruled_out(nearest: Sequence[TestVerdict], parameter: str) -> tuple[str, ...]:
    could_be_alike = (v for v in nearest if v.verdict is not Verdict.APART)
    return tuple(v.test for v in could_be_alike if parameter in v.unknown)


def _could_be(failing: Sequence[TestRecord], judge: Judge) -> dict[str, Sequence[Value]]:
    """What the materials could be, as far as failing tests tell it apart: one of each family."""
    families: dict[str, str] = {}
    for key, family in sorted(judge.families.items()):
        families.setdefault(family, key)
    burnt = {parameters_of(test.build_up).get(FACING, UNKNOWN) for test in failing}
    facings = sorted({key for value in burnt if isinstance(value, OneOf) for key in value.keys})
    insulation: list[Value] = [known(key) for key in (*families.values(), NONE)]
    return {
        FACING: [known(key) for key in facings],
        CORE: [known(key) for key in CORE_LIMITS_MJ_PER_KG],
        **dict.fromkeys(INSULATION, insulation),
    }


def _left_open(
    wall: Wall, parameter: str, could_be: Mapping[str, Sequence[Value]]
) -> Sequence[Value]:
    """What could be found: of a value that can be leaned on, no more than it leaves open."""
    relied = wall.as_relied_on(parameter)
    values = could_be.get(parameter, [])
    if relied is UNKNOWN:
        return values
    return [value for value in values if agree(relied, value)]

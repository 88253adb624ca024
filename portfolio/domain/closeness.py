"""Failing tests from which one thing alone keeps a wall: told beside coverage, never part of it.

A failing test is close where all but one of these hold: it was of the same facing, the core or the
class is at least as onerous, so is the insulation, and nothing known makes the wall milder. The one
that does not hold may be milder, of no known order, or simply unknown. Nothing follows from it but
that the wall should be looked at: to be far from every failing test is no merit.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cache

from portfolio.domain import reaction
from portfolio.domain.adverse import CLASS, CORE, FACING, INSULATION, Judge
from portfolio.domain.coverage import Coverage, ZoneCoverage, speaks_against
from portfolio.domain.evidence import TestRecord
from portfolio.domain.onerous import CategoryOrder
from portfolio.domain.surveys import Wall
from portfolio.domain.values import UNKNOWN, OneOf, Value
from portfolio.domain.walls import COMPOSITES, CORE_LIMITS_MJ_PER_KG, NONE, parameters_of

CALORIFIC = "facing.1.calorific_value"


class Apart(StrEnum):
    """How the one thing keeps the failing test from speaking against the wall."""

    UNKNOWN = "unknown"
    OTHER = "other"
    MILDER = "milder"


@dataclass(frozen=True, slots=True)
class CloseFailure:
    """A failing test, and the parameter that alone keeps it from contradicting the wall."""

    test: str
    parameter: str
    apart: Apart


@dataclass(frozen=True, slots=True)
class _Rung:
    """One condition of a contradiction: whether it holds, or else what keeps it from holding.

    `is_recorded` says that the test's own record tells exactly what was tested there.
    """

    parameter: str
    holds: bool
    could_hold: bool = False
    is_milder: bool = False
    is_recorded: bool = True

    @property
    def apart(self) -> Apart:
        if self.is_milder:
            return Apart.MILDER
        return Apart.UNKNOWN if self.could_hold else Apart.OTHER


def close_failures(
    wall: Wall, coverage: ZoneCoverage, failing: Iterable[TestRecord], judge: Judge
) -> tuple[CloseFailure, ...]:
    """The failing tests that one thing alone keeps from the wall: what is unknown comes first.

    `coverage` is the wall's own. A contradicted wall has none: what failed is not close to it, it
    is the case. Those that were withdrawn are left out, as is one whose facing nobody recorded.
    """
    if coverage.coverage is Coverage.CONTRADICTED:
        return ()
    beside = _Beside(wall, judge)
    found = []
    for test in failing:
        if speaks_against(test) and (only := beside.only_rung(parameters_of(test.build_up))):
            found.append(CloseFailure(test.ref, only.parameter, only.apart))
    order = list(Apart)
    return tuple(sorted(found, key=lambda one: (order.index(one.apart), one.parameter, one.test)))


class _Beside:
    """A wall beside tested ones; what is asked of one tested value is asked once."""

    def __init__(self, wall: Wall, judge: Judge) -> None:
        self._wall, self._judge = wall, judge
        self._every = frozenset({*judge.families.values(), NONE})
        self._others = [(o, key) for o in judge.orders.others for key in o.parameters]
        first, second = (self._families(wall.as_resolved(key)) for key in INSULATION)
        # a second layer that may not be there, or of which nobody has said anything, says nothing
        self._layers = [first] if NONE in second else [first, second]
        # but somebody may have said what it is, if it is there
        is_said = wall.as_resolved(INSULATION[1]) is not UNKNOWN
        self._could_be_too = [second - {NONE}] if is_said and len(second) > 1 else []
        self._facing = cache(self._facing_rung)
        self._severity = cache(self._severity_rung)
        self._insulation = cache(self._insulation_rung)
        self._acquits = cache(self._is_milder)

    def only_rung(self, tested: Mapping[str, Value]) -> _Rung | None:
        """The one condition that does not hold; None where there are more, or none.

        Where the test's own record leaves it open, the test is in doubt, and named for that.
        """
        facing = tested.get(FACING, UNKNOWN)
        if not (isinstance(facing, OneOf) and facing.is_known):
            return None
        severity = CORE if facing.keys & COMPOSITES else CLASS
        rungs = [self._facing(facing), self._severity(severity, tested.get(severity, UNKNOWN))]
        rungs.append(self._insulation(*(tested.get(key, UNKNOWN) for key in INSULATION)))
        missing = [rung for rung in rungs if not rung.holds]
        if len(missing) > 1:
            return None
        milder = [
            key
            for place, (_, key) in enumerate(self._others)
            if self._acquits(place, tested.get(key, UNKNOWN))
        ]
        if missing and missing[0].parameter == CORE:
            # less heat in a milder core is the same thing said twice
            milder = [key for key in milder if key != CALORIFIC]
        missing += [_Rung(key, holds=False, is_milder=True) for key in milder]
        return missing[0] if len(missing) == 1 and missing[0].is_recorded else None

    def _facing_rung(self, tested: OneOf) -> _Rung:
        mine = self._wall.as_resolved(FACING)
        could = mine is UNKNOWN or (isinstance(mine, OneOf) and bool(mine.keys & tested.keys))
        return _Rung(FACING, mine == tested, could)

    def _severity_rung(self, key: str, tested: Value) -> _Rung:
        """The core of a composite panel, the class of any other facing."""
        orders = self._judge.orders
        order = orders.core if key == CORE else orders.facing_class
        every = tuple(CORE_LIMITS_MJ_PER_KG) if key == CORE else reaction.CLASSES
        mine, theirs = (_could_be(v, every) for v in (self._wall.as_resolved(key), tested))
        rung = _rung(key, mine, theirs, order, is_recorded=len(theirs) == 1)
        # of a worse main class nobody says that nothing orders the two: smoke and droplets tell
        # nothing of spread
        worse = key == CLASS and any(
            reaction.at_least_in_main_class(here, there) for here in mine for there in theirs
        )
        return replace(rung, could_hold=True) if worse and not rung.is_milder else rung

    def _insulation_rung(self, first: Value, second: Value) -> _Rung:
        """One layer at least as onerous as every layer that failed, or the very layers of it."""
        failed = [self._families(first)]
        if isinstance(second, OneOf) and second.keys != {NONE}:
            failed.append(self._families(second))
        burnt = frozenset[str]().union(*failed)
        told, key = _of_one(failed), INSULATION[0]
        if told and told <= _of_one(self._layers):
            return _Rung(key, holds=True)
        is_recorded = all(len(layer) == 1 for layer in failed)
        order = self._judge.orders.insulation
        rungs = [_rung(key, layer, burnt, order) for layer in self._layers]
        possible = [*rungs, *(_rung(key, layer, burnt, order) for layer in self._could_be_too)]
        return _Rung(
            key,
            any(rung.holds for rung in rungs),
            any(rung.could_hold for rung in possible),
            all(rung.is_milder for rung in possible),
            is_recorded,
        )

    def _is_milder(self, place: int, tested: Value) -> bool:
        """Milder in one thing, from a source good enough to lean on."""
        order, key = self._others[place]
        return order.strictly_milder(self._wall.as_relied_on(key), tested)

    def _families(self, value: Value) -> frozenset[str]:
        if isinstance(value, OneOf):
            return frozenset(self._judge.families.get(key, key) for key in value.keys)
        return self._every if value is UNKNOWN else frozenset()


def _of_one(layers: Iterable[Collection[str]]) -> frozenset[str]:
    """The families of those layers whose family is known."""
    return frozenset(key for layer in layers if len(layer) == 1 for key in layer)


def _rung(
    key: str,
    mine: Collection[str],
    theirs: Collection[str],
    order: CategoryOrder,
    *,
    is_recorded: bool = True,
) -> _Rung:
    """Holds where everything that is here could be is at least as onerous as all that was there."""
    reaches = [all(order.at_least(here, there) for there in theirs) for here in mine]
    holds = bool(mine) and bool(theirs) and all(reaches)
    milder = bool(mine) and bool(theirs)
    milder = milder and all(
        order.at_least(there, here) and not order.at_least(here, there)
        for here in mine
        for there in theirs
    )
    return _Rung(key, holds, bool(theirs) and any(reaches), milder, is_recorded)


def _could_be(value: Value, every: Sequence[str]) -> Collection[str]:
    """Another facing has no core: found to be a composite panel, it could have any."""
    return value.keys if isinstance(value, OneOf) else every

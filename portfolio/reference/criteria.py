"""The criteria of classification documents as domain records."""

from __future__ import annotations

from portfolio.domain.exceeding import Limit
from portfolio.domain.limits import (
    Basis,
    BurnThroughRule,
    CriteriaSet,
    RigLevel,
    SeenRule,
    SpreadRule,
    StartRule,
)
from portfolio.domain.traces import Face, Side
from portfolio.reference import schema

_SECONDS_A_MINUTE = 60.0


def criteria_sets(file: schema.CriteriaFile) -> tuple[CriteriaSet, ...]:
    """Every set of the file, windows and durations in seconds."""
    return tuple(_set(entry) for entry in file.sets)


def rig_levels(file: schema.CriteriaFile) -> tuple[RigLevel, ...]:
    """How high the levels of the rig are."""
    return tuple(
        RigLevel(entry.level, entry.above_opening_m, _basis(entry)) for entry in file.levels
    )


def _set(entry: schema.CriteriaEntry) -> CriteriaSet:
    burn = entry.burn_through
    return CriteriaSet(
        entry.document,
        entry.document_edition,
        entry.annex,
        entry.part,
        _start(entry.start),
        tuple(_spread(spread) for spread in entry.spreads),
        None if burn is None else _burn_through(burn),
        SeenRule(entry.flames_above_rig.title, _basis(entry.flames_above_rig)),
        SeenRule(entry.early_end.title, _basis(entry.early_end)),
        entry.fire_min * _SECONDS_A_MINUTE,
        _basis(entry),
    )


def _start(entry: schema.StartEntry) -> StartRule:
    return StartRule(
        Limit(entry.rise_k, entry.hold_s, inclusive=True),
        entry.level,
        Side(entry.side),
        tuple(Face(face) for face in entry.faces),
        entry.mean_over_s,
        _basis(entry),
    )


def _spread(entry: schema.SpreadEntry) -> SpreadRule:
    return SpreadRule(
        entry.key,
        entry.title,
        Limit(entry.rise_k, entry.hold_s),
        entry.level,
        Side(entry.side),
        tuple(Face(face) for face in entry.faces),
        entry.window_min * _SECONDS_A_MINUTE,
        _basis(entry),
    )


def _burn_through(entry: schema.BurnThroughEntry) -> BurnThroughRule:
    return BurnThroughRule(
        entry.title,
        entry.longer_than_s,
        entry.least_height_m,
        entry.window_min * _SECONDS_A_MINUTE,
        _basis(entry),
    )


def _basis(entry: schema.Sourced) -> Basis:
    return Basis(entry.source, entry.status)

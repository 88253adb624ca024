"""The height thresholds of a jurisdiction, from its file into domain records."""

from __future__ import annotations

from portfolio.domain.heights import Operator
from portfolio.domain.thresholds import (
    Condition,
    ConditionGroup,
    Joined,
    JurisdictionThreshold,
    Measure,
)
from portfolio.reference import schema

_NOT_STATED = "not stated"


def thresholds_of(file: schema.ThresholdsFile) -> tuple[JurisdictionThreshold, ...]:
    """The thresholds of one checked file, in its order."""
    return tuple(
        JurisdictionThreshold(
            entry.key,
            file.jurisdiction,
            tuple(_group(group) for group in entry.groups),
            entry.triggers,
            entry.source,
            entry.status,
            entry.effective_from,
            entry.start_is_known,
            entry.effective_to,
            entry.note,
        )
        for entry in file.thresholds
    )


def _group(entry: schema.ConditionGroupEntry) -> ConditionGroup:
    joined = Joined.UNSTATED if entry.joined == _NOT_STATED else Joined.OR
    return ConditionGroup(tuple(_condition(one) for one in entry.conditions), joined)


def _condition(entry: schema.ConditionEntry) -> Condition:
    operator = None if entry.operator == _NOT_STATED else Operator(entry.operator)
    return Condition(Measure(entry.measure), entry.value, operator)

"""The workbook of a classified log, for handing over."""

from __future__ import annotations

import math

from portfolio.domain.caution import CAUTION
from portfolio.services.classified_drawings import limits_of
from portfolio.services.classified_groups import groups_of
from portfolio.services.classified_tables import readings_of, tables_of
from portfolio.services.classifying import ClassifiedLog
from portfolio.sheets.logger_workbook import Line, PlottedGroup, logger_workbook

READINGS_A_SECOND = 200_000
"""How many are read, judged and written in a second, on two quiet cores (tests/benchmarks)."""


def seconds_for(classified: ClassifiedLog) -> int:
    """About how long a workbook of a log takes, in whole seconds from one on."""
    log = classified.log
    readings = len(log.times_s) * len(log.channels)
    return max(1, math.ceil(readings / READINGS_A_SECOND))


def classified_workbook(classified: ClassifiedLog) -> bytes:
    """Results, charts and readings as the bytes of a workbook."""
    found = classified.found
    groups = [
        PlottedGroup(
            group.title,
            tuple(at + 1 for at in group.places),
            tuple(
                Line(limit.words, limit.celsius, limit.from_s, limit.until_s)
                for limit in limits_of(found, group)
            ),
        )
        for group in groups_of(found)
    ]
    return logger_workbook(tables_of(classified), readings_of(classified), groups, CAUTION)

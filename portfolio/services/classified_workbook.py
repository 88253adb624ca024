"""The workbook of a classified log, for handing over."""

from __future__ import annotations

import math

from portfolio.domain.caution import CAUTION
from portfolio.services.classified_groups import groups_of, limit_words
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
    mean = found.start_temperature.mean_c
    groups = [
        PlottedGroup(
            group.title,
            tuple(at + 1 for at in group.places),
            (Line(limit_words(group.limit_k, mean), group.limit_k + mean),)
            if group.limit_k is not None and mean is not None
            else (),
        )
        for group in groups_of(found)
    ]
    return logger_workbook(tables_of(classified), readings_of(classified), groups, CAUTION)

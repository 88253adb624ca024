"""Classifies the files of a logger: reads them, judges them, stores nothing."""

from __future__ import annotations

from dataclasses import dataclass

from portfolio.domain.classified import Classified
from portfolio.domain.classifying import classify
from portfolio.domain.errors import InputError, Problem
from portfolio.domain.evidence import Answer3, Classification, TestRecord
from portfolio.domain.gates import Gate, pairing_gate
from portfolio.domain.limits import CriteriaSet
from portfolio.domain.traces import Log
from portfolio.domain.walls import BuildUp
from portfolio.reference.loader import Reference, load_reference
from portfolio.sheets.logger import read_log
from portfolio.sheets.logger_observations import read_observations
from portfolio.sheets.raw import GivenFile

STANDARD = "BS 8414"


@dataclass(frozen=True, slots=True)
class Asked:
    """By which criteria to judge; empty where nobody said so.

    `edition` is the classification document's, `test_edition` the one that the test was done to.
    """

    document: str = ""
    edition: str = ""
    annex: str = ""
    test_edition: str = ""


@dataclass(frozen=True, slots=True)
class LoggerFiles:
    """What was handed in: the log, where its channels are, and what was seen."""

    log: GivenFile
    channels: GivenFile | None = None
    observations: GivenFile | None = None
    ignition: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class ClassifiedLog:
    """A log with what it comes to, and how its file was read."""

    name: str
    log: Log
    found: Classified
    notes: tuple[str, ...]


def classify_files(files: LoggerFiles, asked: Asked) -> ClassifiedLog:
    """Read and judge. Raises InputError with every problem of the first file that has some."""
    reference = load_reference()
    criteria_set = _criteria_set(reference, asked)
    read = read_log(files.log, files.channels, files.ignition)
    seen = read_observations(files.observations) if files.observations else ()
    gate = _pairing(reference, criteria_set, asked)
    found = classify(read.log, criteria_set, seen, pairing=gate)
    return ClassifiedLog(files.log.name, read.log, found, read.notes)


def _criteria_set(reference: Reference, asked: Asked) -> CriteriaSet:
    """The set that was asked for; of several that it could be, the one that asks most."""
    could_be = [
        one
        for one in reference.criteria
        if all(
            not wanted or wanted.casefold() == has.casefold()
            for wanted, has in (
                (asked.document, one.document),
                (asked.edition, one.edition),
                (asked.annex, one.annex),
            )
        )
    ]
    if not could_be:
        known = "; ".join(one.name for one in reference.criteria)
        message = "No criteria are recorded for this document, edition and annex."
        raise InputError([Problem(message, f"one of: {known}")])
    return max(could_be, key=lambda one: one.burn_through is not None)


def _pairing(reference: Reference, criteria_set: CriteriaSet, asked: Asked) -> Gate:
    if not asked.annex:
        reason = f"the annex is not told: judged by {criteria_set.name}, which asks most"
        return Gate("pairing", Answer3.UNKNOWN, reason)
    if not asked.test_edition:
        reason = "the edition that the test was done to is not told"
        return Gate("pairing", Answer3.UNKNOWN, reason)
    test = TestRecord(
        "",
        "",
        STANDARD,
        criteria_set.part,
        asked.test_edition,
        None,
        BuildUp(),
        classification=Classification(
            criteria_set.document, criteria_set.edition, criteria_set.annex
        ),
    )
    return pairing_gate(test, reference.pairings)

"""What must hold between the entries of a reference file, beyond its shape; else it is refused.

A misspelt word in an order would be silently missing, and with it a contradiction; an amount in
another unit would allow too much. So everything that can be looked up is.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise

from portfolio.domain.criteria import TABLE
from portfolio.domain.errors import ReferenceDataError
from portfolio.domain.parameters import PARAMETERS, Kind
from portfolio.domain.vocabulary import Vocabulary
from portfolio.reference import schema

_CLASSES = "fire-class"


def _refuse_if(wrong: object, name: str, reason: str) -> None:
    if wrong:
        raise ReferenceDataError(f"{name}: {reason}")


def _twice(words: Sequence[str]) -> list[str]:
    return sorted({word for word in words if words.count(word) > 1})


def not_twice(name: str, word: str, known: Collection[str]) -> None:
    """No other file has already spoken for `word`."""
    _refuse_if(word in known, name, f"{word} is in another file too")


def category(name: str, file: schema.CategoryFile) -> None:
    """Terms stand once, and groups are groups of single terms."""
    keys = [term.key for term in file.terms]
    _refuse_if(twice := _twice(keys), name, f"these terms stand twice: {twice}")
    singles = {term.key for term in file.terms if not term.members}
    for term in file.terms:
        strange = sorted(set(term.members) - singles)
        _refuse_if(strange, name, f"{term.key} lists what is no single term: {strange}")


def rule(name: str, file: schema.RuleFile) -> None:
    """A rule speaks of measures in their own unit, with one version a day."""
    _known_parameters(name, file.parameters)
    for key in file.parameters:
        attribute = PARAMETERS[key].attribute
        is_measure = attribute.kind is Kind.NUMBER and attribute.unit == file.unit
        _refuse_if(not is_measure, name, f"{key} is no measure in {file.unit}")
    strange = sorted({e.parameter for e in file.examples} - set(file.parameters))
    _refuse_if(strange, name, f"examples of other parameters: {strange}")
    versions = sorted(file.versions, key=lambda version: version.effective_from)
    for version in versions:
        backwards = version.effective_to and version.effective_to <= version.effective_from
        _refuse_if(
            backwards, name, f"the version of {version.effective_from} ends before it starts"
        )
    for one, following in pairwise(versions):
        same = one.effective_from == following.effective_from
        _refuse_if(same, name, "two versions start on the same day")
        overlap = one.effective_to and one.effective_to > following.effective_from
        _refuse_if(overlap, name, f"the versions overlap from {following.effective_from}")


def onerousness(name: str, file: schema.OrderFile, vocabulary: Vocabulary) -> None:
    """An order is of measures, or of words that the vocabulary has."""
    _known_parameters(name, file.parameters)
    kind = Kind.NUMBER if file.more_is else Kind.CATEGORY
    other = [key for key in file.parameters if PARAMETERS[key].kind is not kind]
    _refuse_if(other, name, f"no {kind.value}: {other}")
    said = [bool(file.more_is), bool(file.steps), bool(file.by)]
    _refuse_if(sum(said) != 1, name, "it says nothing, or two things")
    _refuse_if(file.acquits == bool(file.why), name, "an order that acquits nothing says why")
    classless = [key for key in file.parameters if PARAMETERS[key].attribute.category != _CLASSES]
    _refuse_if(file.by and classless, name, f"no {file.by}: {classless}")
    for key in file.parameters if file.steps else ():
        words = vocabulary[PARAMETERS[key].attribute.category]
        known = {words.family(single) for single in words.singles}
        strange = sorted({word for step in file.steps for word in step} - known)
        _refuse_if(strange, name, f"{key} has no {strange}")


def milder_sides(
    name: str, file: schema.NoMilderSideFile, ordered: Collection[Collection[str]]
) -> None:
    """Every parameter has one word on which side of it is milder, or that none is."""
    entries = [entry.key for entry in file.entries]
    _refuse_if(twice := _twice(entries), name, f"these entries stand twice: {twice}")
    told = [key for keys in (*ordered, *(e.parameters for e in file.entries)) for key in keys]
    _known_parameters(name, told)
    _refuse_if(twice := _twice(told), name, f"more than one word on {twice}")
    missing = sorted(PARAMETERS.keys() - set(told))
    _refuse_if(missing, name, f"no word on which side is milder of {missing}")


def gap_order(name: str, file: schema.GapOrderFile, values: Mapping[str, Collection[str]]) -> None:
    """Each step orders every value that its criterion can have; `values` has none for a number."""
    _refuse_if(twice := _twice([band.key for band in file.bands]), name, f"bands twice: {twice}")
    _refuse_if(not file.then and not file.bands, name, "it needs bands of height")
    for step in file.steps:
        if step.criterion == TABLE:
            _table(name, step)
            continue
        can_be = values.get(step.criterion)
        _refuse_if(can_be is None, name, f"no such criterion: {step.criterion}")
        usable = sorted(step.values) == sorted(can_be or ()) and len(step.values) == len(
            step.labels
        )
        _refuse_if(not usable, name, f"step {step.criterion} must order {sorted(can_be or ())}")


def routes(name: str, file: schema.RoutesFile, uses: Collection[str]) -> None:
    """One route a jurisdiction, kind of work and first day; a height has its operator and uses."""
    starts = [f"{r.jurisdiction}, {r.work}, {r.effective_from}" for r in file.routes]
    _refuse_if(twice := _twice(starts), name, f"these stand twice: {twice}")
    for route, start in zip(file.routes, starts, strict=True):
        backwards = route.effective_to and route.effective_to <= route.effective_from
        _refuse_if(backwards, name, f"{start} ends before it starts")
        strange = sorted(set(route.uses) - set(uses))
        _refuse_if(strange, name, f"{start} names no use: {strange}")
        told = {bool(route.operator), bool(route.uses), bool(route.uses_source)}
        wrong = told != {route.from_height_m is not None}
        _refuse_if(
            wrong, name, f"{start} must have height, operator, uses and their source or none"
        )


def thresholds(name: str, file: schema.ThresholdsFile) -> None:
    """Each version of a threshold starts on its own day and ends after it; counts are whole."""
    starts = [f"{entry.key} from {entry.effective_from}" for entry in file.thresholds]
    _refuse_if(twice := _twice(starts), name, f"these stand twice: {twice}")
    for entry in file.thresholds:
        backwards = entry.effective_to and entry.effective_to <= entry.effective_from
        _refuse_if(backwards, name, f"{entry.key} ends before it starts")
        counted = [
            condition.value
            for group in entry.groups
            for condition in group.conditions
            if condition.measure in ("storeys", "homes")
        ]
        broken = [value for value in counted if not value.is_integer()]
        _refuse_if(broken, name, f"{entry.key} counts in parts: {broken}")


def _table(name: str, step: schema.StepEntry) -> None:
    """The rows of a table come worst first, and its last value is for what none of them says."""
    told = [row.value for row in step.rows]
    strange = sorted(set(told) ^ set(step.values[:-1]))
    _refuse_if(strange, name, f"rows and values of {step.title} differ in {strange}")
    _refuse_if(len(step.values) != len(step.labels), name, f"{step.title} needs a label a value")
    _refuse_if(told != sorted(told, key=step.values.index), name, f"{step.title}: worst rows first")


def criteria(name: str, file: schema.CriteriaFile) -> None:
    """One set a document, edition and annex, in which both kinds of spread stand once."""
    levels = [str(entry.level) for entry in file.levels]
    _refuse_if(twice := _twice(levels), name, f"these levels stand twice: {twice}")
    sets = [f"{s.document}, {s.document_edition}, annex {s.annex}" for s in file.sets]
    _refuse_if(twice := _twice(sets), name, f"these stand twice: {twice}")
    for entry, title in zip(file.sets, sets, strict=True):
        keys = sorted(spread.key for spread in entry.spreads)
        wrong = keys != ["external-spread", "internal-spread"]
        _refuse_if(wrong, name, f"{title} must have external-spread and internal-spread once each")
        places = [(spread.level, spread.side) for spread in entry.spreads]
        places.append((entry.start.level, entry.start.side))
        _refuse_if(len(set(places)) < len(places), name, f"{title} looks twice at one place")


def _known_parameters(name: str, keys: Collection[str]) -> None:
    strange = sorted(set(keys) - PARAMETERS.keys())
    _refuse_if(strange, name, f"no such parameter: {strange}")

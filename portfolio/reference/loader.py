"""Loads the reference files into domain records, naming file and entry when one is refused."""

from __future__ import annotations

import tomllib
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import TypeVar

from pydantic import ValidationError

from portfolio.domain import reaction
from portfolio.domain.adverse import Judge
from portfolio.domain.coverage import WORST_FIRST
from portfolio.domain.errors import ReferenceDataError
from portfolio.domain.evidence import Answer3
from portfolio.domain.gates import GateFacts, Pairing, Route
from portfolio.domain.heights import HeightBand
from portfolio.domain.limits import CriteriaSet, RigLevel
from portfolio.domain.onerous import (
    CategoryOrder,
    NumberOrder,
    Order,
    Orders,
    class_order,
    closed_order,
)
from portfolio.domain.priorities import GapOrder, Step
from portfolio.domain.rules import ApplicationRule
from portfolio.domain.vocabulary import Category, Term, Vocabulary
from portfolio.domain.works_due import Deadline, DeadlineKind
from portfolio.reference import checks, schema
from portfolio.reference.criteria import criteria_sets, rig_levels

HERE = Path(__file__).parent
_File = TypeVar("_File", bound=schema.Strict)

EVACUATION: dict[str, str] = {
    "stay-put": "stay put",
    "progressive": "progressive",
    "phased": "phased",
    "simultaneous": "simultaneous",
}
SLEEPING = ("needs-help", "sleeping", "not-sleeping")
SPRINKLERS: dict[str, str] = {"none": "none", "parts": "in parts", "throughout": "throughout"}


@dataclass(frozen=True, slots=True)
class Reference:
    """All reference data of one folder, ready for the domain."""

    vocabulary: Vocabulary
    rules: tuple[ApplicationRule, ...]
    rule_examples: tuple[tuple[str, schema.RuleExample], ...]
    judge: Judge
    order: GapOrder
    order_note: str
    uses: dict[str, schema.UseEntry]
    pairings: tuple[Pairing, ...]
    routes: tuple[Route, ...]
    criteria: tuple[CriteriaSet, ...]
    rig_levels: tuple[RigLevel, ...]
    deadlines: tuple[Deadline, ...]

    @property
    def gate_facts(self) -> GateFacts:
        """What the gates ask of the reference data."""
        return GateFacts(self.pairings, self.routes, self.criteria)


@cache
def load_reference(folder: Path = HERE) -> Reference:
    """Read and check every file below `folder`; raises ReferenceDataError naming the file."""
    vocabulary = _vocabulary(folder)
    rules, examples = _rules(folder)
    uses = _read(folder / "occupancy.toml", schema.OccupancyFile).uses
    order_file = _read(folder / "orders" / "house.toml", schema.GapOrderFile)
    families = vocabulary["insulation-material"]
    return Reference(
        vocabulary,
        rules,
        examples,
        Judge(_orders(folder, vocabulary), {key: families.family(key) for key in families.singles}),
        _gap_order(order_file, {use.key: use.sleeping for use in uses}),
        order_file.note,
        {use.key: use for use in uses},
        _pairings(folder),
        _routes(folder),
        *_criteria(folder),
        _deadlines(folder),
    )


def _read(path: Path, shape: type[_File]) -> _File:
    try:
        return shape.model_validate(tomllib.loads(path.read_text("utf-8")))
    except (OSError, tomllib.TOMLDecodeError, ValidationError) as error:
        raise ReferenceDataError(f"{path.name}: {error}") from error


def _vocabulary(folder: Path) -> Vocabulary:
    categories: dict[str, Category] = {}
    for path in sorted((folder / "vocabulary").glob("*.toml")):
        file = _read(path, schema.CategoryFile)
        checks.not_twice(path.name, file.key, categories)
        checks.category(path.name, file)
        terms = {
            entry.key: Term(
                entry.key,
                entry.label,
                entry.family,
                entry.section,
                frozenset(entry.members),
                tuple(entry.aliases),
            )
            for entry in file.terms
        }
        try:
            categories[file.key] = Category(file.key, file.title, terms)
        except ValueError as error:
            raise ReferenceDataError(f"{path.name}: {error}") from error
    classes = {name: Term(name, name) for name in reaction.CLASSES}
    categories["fire-class"] = Category("fire-class", "Reaction-to-fire class", classes)
    return Vocabulary(categories)


def _rules(
    folder: Path,
) -> tuple[tuple[ApplicationRule, ...], tuple[tuple[str, schema.RuleExample], ...]]:
    rules: list[ApplicationRule] = []
    examples = []
    for path in sorted((folder / "rules").glob("*.toml")):
        file = _read(path, schema.RuleFile)
        checks.not_twice(path.name, file.id, {rule.id for rule in rules})
        checks.rule(path.name, file)
        versions = sorted(file.versions, key=lambda version: version.effective_from)
        for version, following in zip(versions, [*versions[1:], None], strict=True):
            ends = version.effective_to or (following.effective_from if following else None)
            rules.append(_rule(file, version, ends))
        examples += [(file.id, example) for example in file.examples]
    return tuple(rules), tuple(examples)


def _rule(file: schema.RuleFile, version: schema.RuleVersion, ends: date | None) -> ApplicationRule:
    return ApplicationRule(
        file.id,
        file.title,
        tuple(file.parameters),
        version.amount,
        file.unit,
        version.source,
        version.status,
        version.effective_from,
        ends,
        share=version.share,
    )


def _orders(folder: Path, vocabulary: Vocabulary) -> Orders:
    found: dict[str, Order] = {}
    for path in sorted((folder / "onerousness").glob("*.toml")):
        file = _read(path, schema.OrderFile)
        checks.not_twice(path.name, file.key, found)
        checks.onerousness(path.name, file, vocabulary)
        if file.more_is:
            order: Order = NumberOrder(
                tuple(file.parameters), file.source, file.status, file.margin
            )
        else:
            order = closed_order(
                file.parameters, file.steps, source=file.source, status=file.status
            )
        found[file.key] = order
    insulation, core = found.pop("insulation", None), found.pop("core", None)
    if not (isinstance(insulation, CategoryOrder) and isinstance(core, CategoryOrder)):
        raise ReferenceDataError("onerousness: insulation and core must be orders of categories")
    facing_class = class_order(("facing.1.class",))
    return Orders(insulation, core, facing_class, tuple(found.values()))


def _gap_order(file: schema.GapOrderFile, sleeping_by_use: dict[str, str]) -> GapOrder:
    values: dict[str, Collection[str]] = {
        "coverage": [
            coverage.value + ("-by-inference" if by_inference else "")
            for coverage, by_inference in WORST_FIRST
            if coverage.is_gap
        ],
        "sleeping": SLEEPING,
        "height-band": [band.key for band in file.bands],
        "evacuation": EVACUATION,
        "sprinklers": SPRINKLERS,
        "people": (),
    }
    checks.gap_order("house.toml", file, values)
    return GapOrder(
        file.key,
        file.title,
        file.version,
        tuple(
            Step(
                step.criterion,
                step.title,
                tuple(step.values),
                dict(zip(step.values, step.labels, strict=True)),
                file.source,
                file.status,
            )
            for step in file.steps
        ),
        tuple(HeightBand(band.key, band.label, band.from_m) for band in file.bands),
        sleeping_by_use,
    )


def _pairings(folder: Path) -> tuple[Pairing, ...]:
    file = _read(folder / "pairings.toml", schema.PairingsFile)
    return tuple(
        Pairing(
            file.standard,
            pair.part,
            pair.edition,
            file.document,
            file.document_edition,
            pair.annex,
            pair.may,
            file.source,
        )
        for pair in file.pairs
    )


def _routes(folder: Path) -> tuple[Route, ...]:
    file = _read(folder / "routes.toml", schema.RoutesFile)
    return tuple(
        Route(
            route.jurisdiction,
            route.work,
            Answer3(route.accepts),
            route.effective_from,
            route.effective_to,
            route.reason,
            route.source,
        )
        for route in file.routes
    )


def _deadlines(folder: Path) -> tuple[Deadline, ...]:
    file = _read(folder / "deadlines.toml", schema.DeadlinesFile)
    keys: set[str] = set()
    for entry in file.deadlines:
        checks.not_twice("deadlines.toml", entry.key, keys)
        if entry.below_m is not None and entry.below_m <= entry.from_m:
            raise ReferenceDataError(f"deadlines.toml: {entry.key} holds for no height")
        keys.add(entry.key)
    return tuple(
        Deadline(
            entry.key,
            entry.title,
            DeadlineKind(entry.kind),
            entry.jurisdiction,
            entry.on,
            entry.from_m,
            entry.below_m,
            entry.effective_from,
            entry.source,
            entry.status,
        )
        for entry in file.deadlines
    )


def _criteria(folder: Path) -> tuple[tuple[CriteriaSet, ...], tuple[RigLevel, ...]]:
    file = _read(folder / "criteria.toml", schema.CriteriaFile)
    checks.criteria("criteria.toml", file)
    return criteria_sets(file), rig_levels(file)

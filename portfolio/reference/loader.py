"""Loads the reference files into domain records, naming file and entry when one is refused."""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import TypeVar

from pydantic import ValidationError

from portfolio.domain import reaction
from portfolio.domain.adverse import Judge
from portfolio.domain.coverage import WORST_FIRST
from portfolio.domain.criteria import CRITERIA, TABLE, TableRow
from portfolio.domain.errors import ReferenceDataError
from portfolio.domain.evidence import Answer3
from portfolio.domain.gates import GateFacts, Pairing
from portfolio.domain.heights import HeightBand, Operator, Threshold
from portfolio.domain.limits import CriteriaSet, RigLevel
from portfolio.domain.onerous import (
    CategoryOrder,
    MilderSide,
    NumberOrder,
    Order,
    Orders,
    class_order,
    closed_order,
)
from portfolio.domain.priorities import GapOrder, Step, coverage_word
from portfolio.domain.routes import Reach, Route
from portfolio.domain.rules import ApplicationRule
from portfolio.domain.thresholds import JurisdictionThreshold
from portfolio.domain.vocabulary import Category, Term, Vocabulary
from portfolio.domain.works_due import Deadline, DeadlineKind
from portfolio.reference import checks, schema
from portfolio.reference.criteria import criteria_sets, rig_levels
from portfolio.reference.thresholds import thresholds_of

HERE = Path(__file__).parent
_File = TypeVar("_File", bound=schema.Strict)

HOUSE = "house"
EVACUATION: dict[str, str] = {
    "stay-put": "stay put",
    "progressive": "progressive",
    "phased": "phased",
    "simultaneous": "simultaneous",
}
SPRINKLERS: dict[str, str] = {"none": "none", "parts": "in parts", "throughout": "throughout"}
COVERAGES: tuple[str, ...] = tuple(
    coverage_word(coverage, by_inference=by_inference)
    for coverage, by_inference in WORST_FIRST
    if coverage.is_gap
)
"""The coverages that a gap can have, worst first."""


@dataclass(frozen=True, slots=True)
class Reference:
    """All reference data of one folder, ready for the domain."""

    vocabulary: Vocabulary
    rules: tuple[ApplicationRule, ...]
    rule_examples: tuple[tuple[str, schema.RuleExample], ...]
    judge: Judge
    milder_sides: dict[str, MilderSide]
    order: GapOrder
    """The house order."""
    orders: dict[str, GapOrder]
    """All orders that the program ships, by key, the house order first."""
    uses: dict[str, schema.UseEntry]
    pairings: tuple[Pairing, ...]
    routes: tuple[Route, ...]
    thresholds: tuple[JurisdictionThreshold, ...]
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
    orders = _gap_orders(folder, {use.key: use.sleeping for use in uses})
    families = vocabulary["insulation-material"]
    order_files = _order_files(folder, vocabulary)
    return Reference(
        vocabulary,
        rules,
        examples,
        Judge(_orders(order_files), {key: families.family(key) for key in families.singles}),
        _milder_sides(folder, order_files),
        orders[HOUSE],
        orders,
        {use.key: use for use in uses},
        _pairings(folder),
        _routes(folder, {use.key for use in uses}),
        _thresholds(folder),
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


def _order_files(folder: Path, vocabulary: Vocabulary) -> dict[str, schema.OrderFile]:
    found: dict[str, schema.OrderFile] = {}
    for path in sorted((folder / "onerousness").glob("*.toml")):
        file = _read(path, schema.OrderFile)
        checks.not_twice(path.name, file.key, found)
        checks.onerousness(path.name, file, vocabulary)
        found[file.key] = file
    return found


def _order(file: schema.OrderFile) -> Order:
    if file.more_is:
        return NumberOrder(tuple(file.parameters), file.source, file.status, file.margin)
    if file.by:
        return class_order(file.parameters, file.source, file.status)
    return closed_order(file.parameters, file.steps, source=file.source, status=file.status)


def _orders(files: Mapping[str, schema.OrderFile]) -> Orders:
    found = {key: _order(file) for key, file in files.items() if file.acquits}
    needed = [found.pop(key, None) for key in ("insulation", "core", "facing-class")]
    insulation, core, facing_class = needed
    if not (
        isinstance(insulation, CategoryOrder)
        and isinstance(core, CategoryOrder)
        and isinstance(facing_class, CategoryOrder)
    ):
        raise ReferenceDataError(
            "onerousness: insulation and core, and facing-class, must be orders of categories"
        )
    return Orders(insulation, core, facing_class, tuple(found.values()))


def _milder_sides(folder: Path, files: Mapping[str, schema.OrderFile]) -> dict[str, MilderSide]:
    """By parameter, what is held of its milder side; there is a word on every parameter."""
    path = folder / "no-milder-side.toml"
    none = _read(path, schema.NoMilderSideFile)
    checks.milder_sides(path.name, none, [file.parameters for file in files.values()])
    found = {
        key: MilderSide(_order(file), file.acquits, file.why, file.source, file.status)
        for file in files.values()
        for key in file.parameters
    }
    for entry in none.entries:
        side = MilderSide(None, False, entry.why, entry.source, entry.status)
        found |= dict.fromkeys(entry.parameters, side)
    return found


def _gap_orders(folder: Path, sleeping_by_use: dict[str, str]) -> dict[str, GapOrder]:
    """The house order, and the published ones by their file names."""
    house = _gap_order(folder / "orders" / f"{HOUSE}.toml", sleeping_by_use, None)
    found = {HOUSE: house}
    for path in sorted((folder / "orders").glob("*.toml")):
        if path.stem != HOUSE:
            order = _gap_order(path, sleeping_by_use, house)
            checks.not_twice(path.name, order.key, found)
            found[order.key] = order
    return found


def _gap_order(path: Path, sleeping_by_use: dict[str, str], house: GapOrder | None) -> GapOrder:
    """One order; `house` has the steps to follow those of an order that leaves gaps level."""
    file = _read(path, schema.GapOrderFile)
    values: dict[str, Collection[str]] = {
        name: criterion.words for name, criterion in CRITERIA.items() if name != TABLE
    }
    values["coverage"] = COVERAGES
    values["height-band"] = [band.key for band in file.bands]
    checks.gap_order(path.name, file, values)
    steps = tuple(_step(file, entry) for entry in file.steps)
    bands = tuple(HeightBand(band.key, band.label, band.from_m) for band in file.bands)
    if file.then and house is not None:
        steps, bands = (*steps, *house.steps), house.bands
    return GapOrder(file.key, file.title, file.version, steps, bands, sleeping_by_use, file.note)


def _step(file: schema.GapOrderFile, entry: schema.StepEntry) -> Step:
    return Step(
        entry.criterion,
        entry.title,
        tuple(entry.values),
        dict(zip(entry.values, entry.labels, strict=True)),
        file.source,
        file.status,
        rows=tuple(TableRow(**row.model_dump()) for row in entry.rows),
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


def _routes(folder: Path, uses: Collection[str]) -> tuple[Route, ...]:
    file = _read(folder / "routes.toml", schema.RoutesFile)
    checks.routes("routes.toml", file, uses)
    return tuple(
        Route(
            route.jurisdiction,
            route.work,
            Answer3(route.accepts),
            route.effective_from,
            route.effective_to,
            route.reason,
            route.source,
            route.status,
            _reach(route),
        )
        for route in file.routes
    )


def _reach(route: schema.RouteEntry) -> Reach | None:
    if route.from_height_m is None:
        return None
    operator = Operator(route.operator)
    limit = Threshold(route.from_height_m, operator, route.jurisdiction, source=route.source)
    return Reach(limit, frozenset(route.uses), route.uses_source)


def _thresholds(folder: Path) -> tuple[JurisdictionThreshold, ...]:
    found: dict[str, tuple[JurisdictionThreshold, ...]] = {}
    for path in sorted((folder / "heights").glob("*.toml")):
        file = _read(path, schema.ThresholdsFile)
        checks.not_twice(path.name, file.jurisdiction, found)
        checks.thresholds(path.name, file)
        found[file.jurisdiction] = thresholds_of(file)
    return tuple(threshold for thresholds in found.values() for threshold in thresholds)


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

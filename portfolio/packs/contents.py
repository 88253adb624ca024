"""The contents of one building's evidence pack, as titled tables of plain values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple, dataclass
from datetime import date

from portfolio.domain.buildings import HOUSEHOLD_SIZE_SOURCE, Building, Zone
from portfolio.domain.caution import CAUTION
from portfolio.domain.coverage import ZoneCoverage, worst
from portfolio.domain.evidence import TestRecord, outcome_of
from portfolio.domain.findings import findings
from portfolio.domain.gates import Gate
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.rules import RuleSet
from portfolio.domain.surveys import Survey
from portfolio.packs.logs import PackLog
from portfolio.packs.sections import Cell, Section
from portfolio.packs.works import PackWorks, works_history, works_section


@dataclass(frozen=True, slots=True)
class Known:
    """One parameter of a zone as it is held to be, in words."""

    title: str
    value: str
    provenance: str


@dataclass(frozen=True, slots=True)
class Line:
    """One parameter of a zone against one test, in words."""

    test: str
    verdict: str
    parameter: str
    zone_value: str
    test_value: str
    answer: str
    rule: str
    source: str
    provenance: str


@dataclass(frozen=True, slots=True)
class CloseLine:
    """A failing test from which one parameter alone keeps a zone, in words."""

    test: str
    parameter: str
    apart: str
    zone_value: str
    test_value: str
    provenance: str


@dataclass(frozen=True, slots=True)
class PackZone:
    """Everything the pack says of one zone."""

    zone: Zone
    coverage: ZoneCoverage
    known: tuple[Known, ...]
    lines: tuple[Line, ...]
    surveys: tuple[Survey, ...]
    reasons: tuple[str, ...]
    decisions: tuple[tuple[Cell, ...], ...]
    work: str
    """The kind of work that the wall is looked at for, in words."""
    route: str
    """Which route was applied, from which day, by which source and why."""
    close: tuple[CloseLine, ...] = ()


@dataclass(frozen=True, slots=True)
class PackDocument:
    """A document and one fact that it supports. `size` in bytes; `on` an ISO day or ""."""

    supports: str
    kind: str
    reference: str
    on: str
    file_name: str
    size: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Pack:
    """One building's evidence on one day."""

    building: Building
    zones: tuple[PackZone, ...]
    tests: tuple[tuple[TestRecord, tuple[Gate, ...]], ...]
    rules: RuleSet
    made_on: date
    made_by: str
    documents: tuple[PackDocument, ...] = ()
    logs: tuple[PackLog, ...] = ()
    works: tuple[PackWorks, ...] = ()


def sections(pack: Pack) -> tuple[Section, ...]:
    """The pack's sheets, the caution first."""
    return (
        _about(pack),
        _facts(pack.building),
        _zones(pack.zones),
        _build_ups(pack.zones),
        _surveys(pack.zones),
        _comparisons(pack.zones),
        _gaps(pack.zones),
        _to_find_out(pack.zones),
        _close(pack.zones),
        _tests(pack),
        _decisions(pack.zones),
        works_section(pack.works),
        works_history(pack.works),
        _documents(pack.documents),
        _sources(pack),
    )


def coverage_words(found: ZoneCoverage) -> str:
    """The coverage with what must be said beside it."""
    words = found.coverage.value.replace("-", " ")
    if found.by_inference:
        words += " by inference"
    return words + (" (a passing test covers it too)" if found.covered_too else "")


def _about(pack: Pack) -> Section:
    coverage, inferred = worst([(z.coverage.coverage, z.coverage.by_inference) for z in pack.zones])
    rows: tuple[tuple[Cell, ...], ...] = (
        ("Caution", CAUTION),
        ("Building", f"{pack.building.ref} {pack.building.name}"),
        ("Owner", pack.building.owner),
        ("Made on", pack.made_on.isoformat()),
        ("Made by", pack.made_by),
        (
            "Coverage of the building (its worst zone's)",
            coverage.value.replace("-", " ") + (" by inference" if inferred else ""),
        ),
        ("Zones", len(pack.zones)),
        ("Gaps", sum(zone.coverage.coverage.is_gap for zone in pack.zones)),
        ("Rule set", f"version {pack.rules.version}, in force on {pack.rules.on.isoformat()}"),
    )
    return Section("About", ("What", "Value"), rows)


def _facts(building: Building) -> Section:
    people = building.people_estimate
    facts: list[tuple[Cell, ...]] = [
        ("Jurisdiction", building.jurisdiction or "unknown", ""),
        ("Use", building.use or "unknown", ""),
        ("Storeys above ground", _or_unknown(building.storeys), ""),
        ("Homes", _or_unknown(building.homes), ""),
        (
            "People",
            _or_unknown(people),
            f"estimated: {HOUSEHOLD_SIZE_SOURCE}" if building.people_are_estimated else "",
        ),
        ("Evacuation", building.evacuation or "unknown", ""),
        ("Sprinklers", building.sprinklers or "unknown", ""),
    ]
    for claim in building.height_claims:
        tolerance = (
            f"± {claim.tolerance_m:g} m stated"
            if claim.tolerance_m is not None
            else f"tolerance not stated, taken as ± {claim.effective_tolerance_m:g} m (ours)"
        )
        told = [claim.method, claim.on.isoformat() if claim.on else "", claim.source, tolerance]
        facts.append(
            ("Top floor height (m)", claim.metres, "; ".join(part for part in told if part))
        )
    if not building.height_claims:
        facts.append(("Top floor height (m)", "unknown", ""))
    return Section("Facts", ("Fact", "Value", "How it came about"), tuple(facts))


def _or_unknown(value: int | None) -> Cell:
    return "unknown" if value is None else value


def _zones(zones: Sequence[PackZone]) -> Section:
    headers = (
        "Zone",
        "Description",
        "Face",
        "From storey",
        "To storey",
        "Area (m2)",
        "Attachment",
        "Coverage",
        "Tests",
        "Conflicts",
        "Kind of work",
        "Route applied",
    )
    rows = tuple(
        (
            z.zone.ref,
            z.zone.description,
            z.zone.face,
            z.zone.from_storey,
            z.zone.to_storey,
            z.zone.area_m2,
            "yes" if z.zone.is_attachment else "no",
            coverage_words(z.coverage),
            ", ".join(z.coverage.tests),
            _titles(z.coverage.conflicts),
            z.work,
            z.route,
        )
        for z in zones
    )
    return Section("Zones", headers, rows)


def _titles(parameters: Sequence[str]) -> str:
    return "; ".join(PARAMETERS[key].title for key in parameters)


def _build_ups(zones: Sequence[PackZone]) -> Section:
    rows = tuple(
        (z.zone.ref, known.title, known.value, known.provenance) for z in zones for known in z.known
    )
    return Section("Build-ups", ("Zone", "Parameter", "Value", "Provenance"), rows)


def _surveys(zones: Sequence[PackZone]) -> Section:
    rows = tuple(
        (
            z.zone.ref,
            survey.ref,
            survey.basis.label,
            survey.on.isoformat(),
            survey.source,
            len(survey.build_up.layers),
            "yes" if survey.build_up.lists_all_layers else "no",
        )
        for z in zones
        for survey in z.surveys
    )
    headers = ("Zone", "Survey", "Basis", "Date", "Source", "Layers given", "All layers listed")
    return Section("Surveys", headers, rows)


def _comparisons(zones: Sequence[PackZone]) -> Section:
    headers = (
        "Zone",
        "Test",
        "What the test can do",
        "Parameter",
        "Zone",
        "Test",
        "Answer",
        "Rule",
        "Source of the rule",
        "Provenance",
    )
    rows = tuple(
        (
            z.zone.ref,
            line.test,
            line.verdict,
            line.parameter,
            line.zone_value,
            line.test_value,
            line.answer,
            line.rule,
            line.source,
            line.provenance,
        )
        for z in zones
        for line in z.lines
    )
    return Section("Comparison", headers, rows)


def _gaps(zones: Sequence[PackZone]) -> Section:
    rows = tuple(
        (
            z.zone.ref,
            coverage_words(z.coverage),
            "; ".join(z.reasons),
            _titles(z.coverage.differences),
            _titles(z.coverage.unknowns),
        )
        for z in zones
        if z.coverage.coverage.is_gap
    )
    headers = ("Zone", "Coverage", "What places it in the order", "Differs", "Unknown")
    return Section("Gaps", headers, rows)


def _to_find_out(zones: Sequence[PackZone]) -> Section:
    rows = tuple(
        (z.zone.ref, found.title, found.way.words)
        for z in zones
        for found in findings((*z.coverage.conflicts, *z.coverage.unknowns))
    )
    return Section("To find out", ("Zone", "Fact", "Usual way, cheapest first"), rows)


def _close(zones: Sequence[PackZone]) -> Section:
    """It changes no coverage; a zone without a row here is none the safer."""
    headers = ("Zone", "Failing test", "Kept apart by", "How", "Zone has", "Test had", "Provenance")
    rows = tuple((z.zone.ref, *astuple(line)) for z in zones for line in z.close)
    return Section("Close failures", headers, rows)


def _tests(pack: Pack) -> Section:
    headers = (
        "Test",
        "Title",
        "Standard",
        "Part",
        "Edition",
        "Date",
        "Outcome that counts",
        "Printed outcome",
        "Standing",
        "How held",
        "Consent",
        "Gates",
    )
    rows = tuple(
        (
            test.ref,
            test.title,
            test.standard,
            test.part,
            test.edition,
            test.tested_on.isoformat() if test.tested_on else "unknown",
            outcome_of(test).value,
            test.printed_outcome.value,
            test.standing.value,
            test.holding.value,
            test.consent.value,
            "; ".join(f"{gate.name}: {gate.answer.value} ({gate.reason})" for gate in gates),
        )
        for test, gates in pack.tests
    )
    return Section("Tests", headers, rows)


def _decisions(zones: Sequence[PackZone]) -> Section:
    headers = (
        "Zone",
        "Ruling",
        "By",
        "Qualification",
        "Date",
        "Valid from",
        "Valid until",
        "Reasons",
        "Documents",
        "Coverage then",
        "Ruled on",
        "How it stands",
        "Why to look at it again",
        "Confirmed since",
    )
    rows = tuple((z.zone.ref, *decision) for z in zones for decision in z.decisions)
    return Section("Decisions", headers, rows)


def _documents(documents: Sequence[PackDocument]) -> Section:
    rows = tuple(
        (d.supports, d.kind, d.reference, d.on, d.file_name, d.size, d.sha256) for d in documents
    )
    headers = ("Supports", "Kind", "Reference", "Date", "File", "Size (bytes)", "SHA-256")
    return Section("Documents", headers, rows)


def _sources(pack: Pack) -> Section:
    used = {line.rule for zone in pack.zones for line in zone.lines}
    # an organisation's own rule is only told where it bears on this building
    rules = [
        (rule.title, rule.authority, rule.status, rule.effective_from.isoformat())
        for rule in pack.rules.rules
        if not rule.is_own or rule.id in used
    ]
    gates = sorted({(g.name, g.source) for _, found in pack.tests for g in found if g.source})
    rows = (*rules, *((name, source, "see source", "") for name, source in gates))
    return Section("Sources", ("Rule or gate", "Source", "Status", "In force from"), rows)

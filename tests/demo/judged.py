"""The demo portfolio read from its files and judged by the domain, without a store."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import cache

from portfolio import paths
from portfolio.domain.assessing import assess
from portfolio.domain.buildings import Building, Zone
from portfolio.domain.coverage import Library, ZoneCase, ZoneCoverage
from portfolio.domain.evidence import (
    Classification,
    Consent,
    Criteria,
    TestRecord,
)
from portfolio.domain.gates import Setting, gates
from portfolio.domain.matching import compile_tests
from portfolio.domain.rules import RuleSet, rules_in_force
from portfolio.domain.shelf import shelf_of
from portfolio.domain.surveys import Survey, Wall, resolve
from portfolio.reference.loader import load_reference
from portfolio.sheets.converting import convert
from portfolio.sheets.drafts import BuildingDraft, Drafts, SurveyDraft, TestDraft, ZoneDraft
from portfolio.sheets.reading import read_paths

ON = date(2026, 12, 1)
ENGLAND = Setting("England")
FOLDER = paths.seed_demo_dir()


@dataclass(frozen=True)
class JudgedZone:
    """One zone with its building, its wall and its coverage."""

    building: Building
    zone: Zone
    wall: Wall
    coverage: ZoneCoverage


@cache
def drafts() -> Drafts:
    """What the files say."""
    return convert(read_paths([FOLDER]), load_reference())


@cache
def rules() -> RuleSet:
    return rules_in_force(load_reference().rules, ON)


@cache
def judged() -> dict[str, JudgedZone]:
    """Every zone by "building zone", as its own owner sees it."""
    found: dict[str, JudgedZone] = {}
    for owner in sorted({draft.owner for draft in drafts().buildings}):
        found |= _judged_of(owner)
    return found


def _judged_of(owner: str) -> dict[str, JudgedZone]:
    buildings = {d.building: _building(d) for d in drafts().buildings if d.owner == owner}
    zones = [draft for draft in drafts().zones if draft.owner == owner]
    surveys: dict[tuple[str, str], list[Survey]] = {}
    for draft in drafts().surveys:
        if draft.owner == owner:
            surveys.setdefault((draft.building, draft.zone), []).append(_survey(draft))
    walls = [resolve(surveys.get(z.key[1:], ()), (), rules().tolerances()) for z in zones]
    cases = [
        ZoneCase(wall, Setting(buildings[z.building].jurisdiction, z.attachment))
        for z, wall in zip(zones, walls, strict=True)
    ]
    covered = assess(cases, library(owner, {case.setting for case in cases}))
    return {
        f"{z.building} {z.zone}": JudgedZone(buildings[z.building], _zone(z), case.wall, coverage)
        for case, z, coverage in zip(cases, zones, covered, strict=True)
    }


def library(owner: str, settings: Iterable[Setting] = (ENGLAND,)) -> Library:
    """The tests that an owner may see, with their gates."""
    tests = [_record(draft, owner) for draft in drafts().tests if _may_see(draft, owner)]
    reference = load_reference()
    shelf = shelf_of(tests)
    by_setting = {
        setting: {test.ref: gates(test, reference.gate_facts, setting, shelf, ON) for test in tests}
        for setting in settings
    }
    return Library(compile_tests(tests), by_setting, rules(), reference.judge)


def _may_see(draft: TestDraft, owner: str) -> bool:
    given = owner in draft.consent_given_to
    return draft.held_by == owner or given or draft.consent is Consent.PUBLISHED


def _record(draft: TestDraft, owner: str) -> TestRecord:
    consent = Consent.GIVEN if owner in draft.consent_given_to else draft.consent
    paper = Classification(
        draft.class_document, draft.class_edition, draft.class_annex, draft.class_report
    )
    return TestRecord(
        draft.test,
        draft.title,
        draft.standard,
        draft.part,
        draft.edition,
        draft.tested_on,
        draft.build_up,
        Criteria(
            draft.external_spread,
            draft.internal_spread,
            draft.burn_through,
            draft.no_flames_above_rig,
            draft.no_early_end,
        ),
        draft.printed_outcome,
        paper if draft.class_document else None,
        draft.standing,
        draft.holding,
        consent,
        draft.leans_on,
        draft.source,
        holder=draft.held_by,
        sponsor=draft.sponsor,
        laboratory=draft.laboratory,
        report_ref=draft.report_ref,
        report_issue=draft.report_issue,
        report_on=draft.report_on,
        run_seconds=draft.run_seconds,
    )


def _survey(draft: SurveyDraft) -> Survey:
    return Survey(draft.survey, draft.basis, draft.survey_date, draft.survey_source, draft.build_up)


def _building(draft: BuildingDraft) -> Building:
    return Building(
        draft.building,
        draft.name,
        draft.owner,
        draft.jurisdiction,
        draft.use,
        draft.storeys,
        draft.heights,
        draft.homes,
        draft.people,
        draft.evacuation,
        draft.sprinklers,
    )


def _zone(draft: ZoneDraft) -> Zone:
    return Zone(
        draft.zone,
        draft.building,
        draft.description,
        draft.face,
        draft.from_storey,
        draft.to_storey,
        draft.area_m2,
        draft.attachment,
    )

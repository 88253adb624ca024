"""Decides what an import would do, from the drafts and what is stored; touches neither."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from itertools import chain
from typing import Any, TypeVar

from portfolio.domain.errors import Problem
from portfolio.domain.heights import HeightClaim
from portfolio.domain.vocabulary import Vocabulary
from portfolio.domain.walls import BuildUp
from portfolio.services.importing_checks import (
    HEIGHT_DATE,
    WORK_COUNTED_ON,
    of_a_day,
    problems_of,
)
from portfolio.services.importing_steps import (
    BUILDING,
    ORGANISATION,
    SURVEY,
    TEST,
    WORKS,
    ZONE,
    Changes,
    Create,
    Current,
    ImportPlan,
    Leave,
    Scope,
    Step,
    Update,
)
from portfolio.services.importing_words import height_words, layer_words, wall_words
from portfolio.services.importing_works import problems_of_works
from portfolio.services.stored import Stored
from portfolio.sheets.drafts import (
    LAYERS,
    BuildingDraft,
    Drafts,
    HeightDraft,
    Key,
    OrganisationDraft,
    Place,
    SurveyDraft,
    TestDraft,
    WorksDraft,
    ZoneDraft,
    field_names,
)

_D = TypeVar("_D", OrganisationDraft, BuildingDraft, ZoneDraft, TestDraft, WorksDraft)

_FIELDS = {
    OrganisationDraft: field_names(OrganisationDraft, 1),
    BuildingDraft: field_names(BuildingDraft, 2),
    ZoneDraft: field_names(ZoneDraft, 3),
    TestDraft: field_names(TestDraft, 2),
    WorksDraft: field_names(WorksDraft, 3),
}


def decide(
    drafts: Drafts, current: Current, vocabulary: Vocabulary, scope: Scope, on: date
) -> ImportPlan:
    """The plan of an import within a scope on the day `on`."""
    decision = _Decision(drafts, current, vocabulary, scope, on)
    steps = tuple(decision.steps())
    of_steps = chain.from_iterable(problems_of(step, on) for step in steps)
    problems = (*drafts.problems, *decision.problems, *of_steps)
    return ImportPlan(steps, problems, current, scope.organisation_id, scope.opened)


class _Decision:
    """One pass over the drafts; what leans on a record with a problem is not reported again."""

    def __init__(
        self, drafts: Drafts, current: Current, vocabulary: Vocabulary, scope: Scope, on: date
    ) -> None:
        self.drafts = drafts
        self.current = current
        self.vocabulary = vocabulary
        self.own = scope.own
        self.scope = scope
        self.on = on
        self.problems: list[Problem] = []
        self._organisations = {draft.key for draft in drafts.organisations}
        self._organisations |= current.organisations.keys()
        self._buildings = {draft.key for draft in drafts.buildings} | current.buildings.keys()
        self._zones = {draft.key for draft in drafts.zones} | current.zones.keys()

    def steps(self) -> Iterator[Step]:
        """One step a record, parents before what belongs to them."""
        yield from chain.from_iterable(map(self._organisation, self.drafts.organisations))
        yield from chain.from_iterable(map(self._building, self.drafts.buildings))
        yield from self._heights(self.drafts.heights)
        yield from chain.from_iterable(map(self._zone, self.drafts.zones))
        yield from chain.from_iterable(map(self._survey, self.drafts.surveys))
        yield from chain.from_iterable(map(self._test, self.drafts.tests))
        yield from chain.from_iterable(map(self._works, self.drafts.works))

    def _organisation(self, draft: OrganisationDraft) -> Iterator[Step]:
        stored = self.current.organisations.get(draft.key)
        if self.own not in (None, draft.organisation):
            self._refuse_organisation(draft.at, "Organisation", draft.organisation)
        elif stored is not None:
            # an empty kind says nothing; an organisation always has one
            wanted = replace(draft, kind=draft.kind or stored.draft.kind)
            changes = _changes(wanted, stored.draft)
            self._check_own_organisation(draft, changes)
            yield _step(ORGANISATION, wanted, stored, changes)
        elif not draft.kind:
            message = "A new organisation must say what it is."
            expected = "owner, consultancy or laboratory"
            self.problems.append(draft.at.problem(message, column="Kind", expected=expected))
        else:
            yield Create(ORGANISATION, draft)

    def _check_own_organisation(self, draft: OrganisationDraft, changes: Changes) -> None:
        """What others rely on when they share is not changed by whoever may enter records."""
        kept = {"kind": "What an organisation is cannot be changed by an import."}
        if not self.scope.may_rename:
            kept["name"] = "Only an administrator changes the organisation's name."
        for name in (name for name in kept if self.own is not None and name in changes):
            old, new = changes[name]
            problem = draft.at.problem(
                kept[name], column=name.capitalize(), value=new, expected=old
            )
            self.problems.append(problem)

    def _building(self, draft: BuildingDraft) -> Iterator[Step]:
        is_opened = draft.key in self.scope.opened
        if not is_opened and not self._may_write(draft.at, "Owner", draft.owner):
            return
        stored = self.current.buildings.get(draft.key)
        if stored is None:
            yield Create(BUILDING, draft)
            return
        yield _building_step(draft, stored, _changes(draft, stored.draft), draft.heights)

    def _heights(self, drafts: Sequence[HeightDraft]) -> Iterator[Step]:
        """Heights of buildings that the file does not hold itself."""
        by_building: dict[Key, list[HeightClaim]] = {}
        for draft in drafts:
            if self._is_there("buildings", draft.key, draft.at):
                by_building.setdefault(draft.key, []).append(draft.claim)
                self.problems += of_a_day(draft.at, HEIGHT_DATE, draft.claim.on, self.on)
        for key, heights in by_building.items():
            stored = self.current.buildings[key]
            yield _building_step(stored.draft, stored, {}, heights)

    def _zone(self, draft: ZoneDraft) -> Iterator[Step]:
        if not self._is_there("buildings", draft.key[:2], draft.at):
            return
        self.problems += of_a_day(draft.at, WORK_COUNTED_ON, draft.work_counted_on, self.on)
        stored = self.current.zones.get(draft.key)
        if stored is None:
            yield Create(ZONE, draft)
        else:
            yield _step(ZONE, draft, stored, _changes(draft, stored.draft))

    def _survey(self, draft: SurveyDraft) -> Iterator[Step]:
        if not self._is_there("zones", draft.key[:3], draft.at):
            return
        stored = self.current.surveys.get(draft.key)
        if stored is None:
            yield Create(SURVEY, draft)
        elif stored == draft:
            yield Leave(SURVEY, draft)
        else:
            message = "A survey of this reference is stored already and says something else."
            expected = (
                "a survey is never changed: give the correction a new survey reference "
                f"({', '.join(self._differing(draft, stored))} differ)"
            )
            self.problems.append(
                draft.at.problem(message, column="Survey", value=draft.survey, expected=expected)
            )

    def _differing(self, draft: SurveyDraft, stored: SurveyDraft) -> list[str]:
        names = ("basis", "survey_date", "survey_source")
        found = [name.replace("_", " ") for name in names if _differs(draft, stored, name)]
        return found if draft.build_up == stored.build_up else [*found, "the layers"]

    def _test(self, draft: TestDraft) -> Iterator[Step]:
        if not self._may_write(draft.at, "Held by", draft.held_by):
            return
        stored = self.current.tests.get(draft.key)
        if stored is None:
            yield Create(TEST, draft)
            return
        wanted = replace(draft, build_up=_merged(draft, stored.draft.build_up))
        changes = _changes(wanted, stored.draft) | self._wall_changes(wanted, stored.draft)
        yield _step(TEST, wanted, stored, changes)

    def _works(self, draft: WorksDraft) -> Iterator[Step]:
        if not self._is_there("buildings", draft.key[:2], draft.at):
            return
        stored = self.current.works.get(draft.key)
        step: Step = Create(WORKS, draft)
        if stored is not None:
            step = _step(WORKS, draft, stored, _changes(draft, stored.draft))
        zones = {key[2] for key in self._zones if key[:2] == draft.key[:2]}
        if not isinstance(step, Leave) and isinstance(step.draft, WorksDraft):
            known = stored.draft if stored is not None else None
            self.problems += problems_of_works(step.draft, known, zones, self.on)
        yield step

    def _wall_changes(self, wanted: TestDraft, stored: TestDraft) -> dict[str, tuple[Any, Any]]:
        if wanted.build_up == stored.build_up:
            return {}
        new = wall_words(wanted.build_up, self.vocabulary)
        old = wall_words(stored.build_up, self.vocabulary)
        new[LAYERS] = layer_words(wanted.build_up, self.vocabulary)
        old[LAYERS] = layer_words(stored.build_up, self.vocabulary)
        return {name: (old[name], new[name]) for name in new if old[name] != new[name]}

    def _may_write(self, at: Place, column: str, ref: str) -> bool:
        if self.own is None and (ref,) in self._organisations:
            return True
        if self.own is not None and ref == self.own:
            return True
        if not self.drafts.is_refused("organisations", (ref,)):
            self._refuse_organisation(at, column, ref)
        return False

    def _refuse_organisation(self, at: Place, column: str, ref: str) -> None:
        """Another's organisation and one that does not exist are refused in the same words."""
        message = "There is no organisation of this reference."
        expected = "a row for it in the sheet Organisations, or another reference"
        if self.own is not None:
            message, expected = "There is no such organisation among yours.", self.own
        self.problems.append(at.problem(message, column=column, value=ref, expected=expected))

    def _is_there(self, sheet: str, key: Key, at: Place) -> bool:
        """Whether the building or zone that a row leans on is stored or handed in."""
        there = self._buildings if sheet == "buildings" else self._zones
        if key in there:
            # nothing of another organisation is loaded: it is handed in, and reported there
            return self.own in (None, key[0]) or key[:2] in self.scope.opened
        refused = self.drafts.is_refused(sheet, key)
        if sheet == "zones":  # a zone is refused with its building
            refused = refused or self.drafts.is_refused("buildings", key[:2])
        if not refused:
            what = sheet.removesuffix("s")
            message = f"There is no such {what}: {' / '.join(key)}."
            expected = f"a row for it in the sheet {sheet.capitalize()}, or another reference"
            self.problems.append(
                at.problem(message, column=what.capitalize(), value=key[-1], expected=expected)
            )
        return False


def _step(
    subject: str, draft: _D, stored: Stored[_D], changes: dict[str, tuple[Any, Any]]
) -> Update | Leave:
    if not changes:
        return Leave(subject, draft)
    known = {name: new for name, (_, new) in changes.items() if name in _FIELDS[type(draft)]}
    wanted = replace(stored.draft, at=draft.at, **known)
    if isinstance(draft, TestDraft):
        wanted = replace(wanted, build_up=draft.build_up)
    return Update(subject, wanted, stored, changes)


def _building_step(
    draft: BuildingDraft,
    stored: Stored[BuildingDraft],
    changes: dict[str, tuple[Any, Any]],
    heights: Sequence[HeightClaim],
) -> Step:
    """A building is changed too when it gains a height."""
    before = stored.draft.heights
    claims = tuple(dict.fromkeys(claim for claim in heights if claim not in before))
    if claims:
        old = [height_words(claim) for claim in before]
        changes["heights"] = (old, old + [height_words(claim) for claim in claims])
    step = _step(BUILDING, draft, stored, changes)
    return replace(step, claims=claims) if isinstance(step, Update) else step


def _changes(draft: _D, stored: _D) -> dict[str, tuple[Any, Any]]:
    """What differs, in the columns that the file has."""
    return {
        name: (getattr(stored, name), getattr(draft, name))
        for name in _FIELDS[type(draft)]
        if _speaks_of(draft, name) and _differs(draft, stored, name)
    }


def _speaks_of(
    draft: OrganisationDraft | BuildingDraft | ZoneDraft | TestDraft | WorksDraft, name: str
) -> bool:
    return not draft.columns or name in draft.columns


def _differs(draft: object, stored: object, name: str) -> bool:
    return bool(getattr(draft, name) != getattr(stored, name))


def _merged(draft: TestDraft, stored: BuildUp) -> BuildUp:
    """The wall as it will be: what the file does not speak of stays as it is."""
    wanted = draft.build_up
    return BuildUp(
        wanted.layers if _speaks_of(draft, LAYERS) else stored.layers,
        wanted.system_family if _speaks_of(draft, "system_family") else stored.system_family,
        wanted.substrate if _speaks_of(draft, "substrate") else stored.substrate,
        wanted.lists_all_layers
        if _speaks_of(draft, "all_layers_listed")
        else stored.lists_all_layers,
    )

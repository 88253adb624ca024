"""Raw rows into drafts, with every problem of every row; what leans on what is settled later."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

from portfolio.domain.errors import Problem
from portfolio.reference.loader import Reference
from portfolio.sheets import converting_buildings as buildings
from portfolio.sheets import converting_tests, converting_works
from portfolio.sheets.cells import Cells
from portfolio.sheets.columns import Sheet
from portfolio.sheets.converting_walls import WallReader
from portfolio.sheets.drafts import (
    BuildingDraft,
    Drafts,
    HeightDraft,
    Key,
    SurveyDraft,
    TestDraft,
)
from portfolio.sheets.layout_buildings import BUILDINGS, HEIGHTS, ORGANISATIONS, ZONES
from portfolio.sheets.layout_tests import TESTED_LAYERS, TESTS
from portfolio.sheets.layout_walls import LAYERS
from portfolio.sheets.layout_works import WORKS
from portfolio.sheets.raw import Raw

_Draft = TypeVar("_Draft")
_KEYS = {
    ORGANISATIONS.key: ("organisation",),
    BUILDINGS.key: ("owner", "building"),
    HEIGHTS.key: ("owner", "building"),
    ZONES.key: ("owner", "building", "zone"),
    LAYERS.key: ("owner", "building", "zone", "survey"),
    TESTS.key: ("held_by", "test"),
    TESTED_LAYERS.key: ("held_by", "test"),
    WORKS.key: ("owner", "building", "works"),
}


@dataclass(slots=True)
class _Findings:
    """What was wrong so far, and with which records."""

    problems: list[Problem] = field(default_factory=list)
    refused: set[Key] = field(default_factory=set)

    def check(self, sheet: Sheet, key: Key, rows: Iterable[Cells]) -> bool:
        """Take over the problems of the rows; whether there were none."""
        problems = [problem for cells in rows for problem in cells.problems]
        self.problems += problems
        if problems:
            self.refused.add((sheet.key, *key))
        return not problems


def convert(raw: Raw, reference: Reference) -> Drafts:
    """What the rows say should be so. Nothing is looked up: planning knows what exists."""
    found = _Findings(list(raw.problems), {(sheet,) for sheet in raw.unusable})
    rows: dict[str, list[Cells]] = {key: [] for key in _KEYS}
    sheets = {s.key: s for s in (ORGANISATIONS, BUILDINGS, HEIGHTS, ZONES, LAYERS, TESTS)}
    sheets |= {TESTED_LAYERS.key: TESTED_LAYERS, WORKS.key: WORKS}
    for row in raw.rows:
        rows[row.sheet].append(Cells(row, sheets[row.sheet]))
    walls = WallReader(reference.vocabulary)
    organisations = _each(ORGANISATIONS, rows, found, buildings.organisation)
    own = _each(
        BUILDINGS, rows, found, lambda cells, key: buildings.building(cells, key, reference)
    )
    heights = _each(HEIGHTS, rows, found, buildings.height, is_unique=False)
    with_heights, others = _with_heights(own, heights)
    zones = _each(ZONES, rows, found, buildings.zone)
    surveys = _surveys(rows[LAYERS.key], walls, found)
    tests = _tests(rows, walls, found, has_layers=TESTED_LAYERS.key in raw.sheets)
    works = _each(WORKS, rows, found, converting_works.works)
    return Drafts(
        tuple(organisations),
        tuple(with_heights),
        tuple(others),
        tuple(zones),
        tuple(surveys),
        tuple(tests),
        tuple(found.problems),
        frozenset(found.refused),
        tuple(works),
    )


def _each(
    sheet: Sheet,
    rows: dict[str, list[Cells]],
    found: _Findings,
    make: Callable[[Cells, Key], _Draft | None],
    *,
    is_unique: bool = True,
) -> list[_Draft]:
    """One draft a row, for the rows without a problem."""
    drafts = []
    first: dict[Key, Cells] = {}
    for cells in rows[sheet.key]:
        key = _key(cells, sheet)
        draft = make(cells, key)
        if is_unique and first.setdefault(key, cells) is not cells:
            at = first[key].place.problem("").place
            name = _KEYS[sheet.key][-1]
            cells.refuse(name, f"This {name} stands in {at} already.", "one row for each")
        if found.check(sheet, key, [cells]) and draft is not None:
            drafts.append(draft)
    return drafts


def _key(cells: Cells, sheet: Sheet) -> Key:
    return tuple(cells.reference(column) for column in _KEYS[sheet.key])


def _grouped(rows: Iterable[Cells], sheet: Sheet) -> dict[Key, list[Cells]]:
    groups: dict[Key, list[Cells]] = {}
    for cells in rows:
        groups.setdefault(_key(cells, sheet), []).append(cells)
    return groups


def _surveys(rows: Iterable[Cells], walls: WallReader, found: _Findings) -> list[SurveyDraft]:
    drafts = []
    for key, group in _grouped(rows, LAYERS).items():
        draft = walls.survey(key, group)
        if found.check(LAYERS, key, group) and draft is not None:
            drafts.append(draft)
    return drafts


def _tests(
    rows: dict[str, list[Cells]], walls: WallReader, found: _Findings, *, has_layers: bool
) -> list[TestDraft]:
    layers = _grouped(rows[TESTED_LAYERS.key], TESTED_LAYERS)

    def make(cells: Cells, key: Key) -> TestDraft | None:
        group = layers.pop(key, [])
        draft = converting_tests.test(cells, key, group, walls, has_layers=has_layers)
        return draft if found.check(TESTED_LAYERS, key, group) else None

    drafts = _each(TESTS, rows, found, make)
    for key, group in layers.items():
        if (TESTS.key,) not in found.refused:
            group[0].refuse("test", "There is no row for this test in the sheet Tests.")
        found.check(TESTED_LAYERS, key, group)
    return drafts


def _with_heights(
    own: Sequence[BuildingDraft], heights: Sequence[HeightDraft]
) -> tuple[list[BuildingDraft], list[HeightDraft]]:
    """Further heights go to their building; those of a building not in the files stay alone."""
    claims = {draft.key: list(draft.heights) for draft in own}
    alone = []
    for height in heights:
        if height.key not in claims:
            alone.append(height)
        elif height.claim not in claims[height.key]:
            claims[height.key].append(height.claim)
    return [replace(draft, heights=tuple(claims[draft.key])) for draft in own], alone

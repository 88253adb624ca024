"""Drafts as the workbook or the CSV files that they would be read from again."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from portfolio.domain.heights import HeightClaim
from portfolio.domain.measures import write_value
from portfolio.domain.parameters import WALL_ATTRIBUTES
from portfolio.domain.values import Range, Value
from portfolio.domain.vocabulary import Vocabulary
from portfolio.domain.walls import BuildUp, Layer
from portfolio.domain.works_money import plain_money
from portfolio.sheets.columns import Sheet
from portfolio.sheets.drafts import BuildingDraft, Drafts, SurveyDraft, TestDraft, WorksDraft
from portfolio.sheets.layout_buildings import BUILDINGS, HEIGHTS, ORGANISATIONS, ZONES
from portfolio.sheets.layout_tests import NOT_APPLICABLE_WORD, TESTED_LAYERS, TESTS
from portfolio.sheets.layout_walls import ATTRIBUTE_OF_COLUMN, LAYERS
from portfolio.sheets.layout_works import WORKS
from portfolio.sheets.raw import MOST_ROWS
from portfolio.sheets.writing import Cell, Table, table_to_csv, table_to_xlsx

_WALL = {attribute.key: attribute for attribute in WALL_ATTRIBUTES}
_Row = dict[str, Cell]


def drafts_to_xlsx(drafts: Drafts, vocabulary: Vocabulary, caution: str) -> bytes:
    """The drafts as one workbook, which reads as the same drafts."""
    found = [
        Table(sheet.title, [column.header for column in sheet.columns], _cells(sheet, rows))
        for sheet, rows in _rows(drafts, vocabulary)
    ]
    return table_to_xlsx(found, caution)


def drafts_to_csv(drafts: Drafts, vocabulary: Vocabulary) -> dict[str, bytes]:
    """The drafts as CSV files by name; a sheet without rows has no file."""
    files = {}
    for sheet, rows in _rows(drafts, vocabulary):
        cells = _cells(sheet, rows)
        for part, start in enumerate(range(0, len(cells), MOST_ROWS), start=1):
            name = f"{sheet.key}.csv" if part == 1 else f"{sheet.key}-{part}.csv"
            headers = [column.header for column in sheet.columns]
            table = Table(sheet.title, headers, cells[start : start + MOST_ROWS])
            files[name] = table_to_csv(table)
    return files


def _cells(sheet: Sheet, rows: Iterable[_Row]) -> list[list[Cell]]:
    keys = [column.key for column in sheet.columns]
    return [[row.get(key) for key in keys] for row in rows]


def _rows(drafts: Drafts, vocabulary: Vocabulary) -> Iterator[tuple[Sheet, Iterable[_Row]]]:
    yield ORGANISATIONS, (_fields(draft, ORGANISATIONS) for draft in drafts.organisations)
    yield BUILDINGS, (_building(draft) for draft in drafts.buildings)
    yield HEIGHTS, _heights(drafts)
    yield ZONES, (_fields(draft, ZONES) for draft in drafts.zones)
    yield LAYERS, (row for draft in drafts.surveys for row in _survey(draft, vocabulary))
    yield TESTS, (_test(draft, vocabulary) for draft in drafts.tests)
    yield (
        TESTED_LAYERS,
        (
            row | {"held_by": draft.held_by, "test": draft.test}
            for draft in drafts.tests
            for row in _layers(draft.build_up.layers, vocabulary)
        ),
    )
    yield WORKS, (_works(draft) for draft in drafts.works)


def _fields(draft: object, sheet: Sheet) -> _Row:
    """Fields have the names of their columns."""
    return {column.key: getattr(draft, column.key, None) for column in sheet.columns}


def _building(draft: BuildingDraft) -> _Row:
    row = _fields(draft, BUILDINGS)
    return row | _height(draft.heights[0]) if draft.heights else row


def _heights(drafts: Drafts) -> Iterator[_Row]:
    for building in drafts.buildings:
        for claim in building.heights[1:]:
            yield _height(claim) | {"owner": building.owner, "building": building.building}
    for draft in drafts.heights:
        yield _height(draft.claim) | {"owner": draft.owner, "building": draft.building}


def _height(claim: HeightClaim) -> _Row:
    return {
        "top_floor_height_m": claim.metres,
        "height_tolerance_m": claim.tolerance_m,
        "height_method": claim.method,
        "height_date": claim.on,
        "height_source": claim.source,
    }


def _survey(draft: SurveyDraft, vocabulary: Vocabulary) -> Iterator[_Row]:
    head = _fields(draft, LAYERS) | _wall(draft.build_up, vocabulary)
    layers = list(_layers(draft.build_up.layers, vocabulary))
    # a survey that found no layers is still a survey
    for layer in layers or [{}]:
        yield head | layer


def _test(draft: TestDraft, vocabulary: Vocabulary) -> _Row:
    return (
        _fields(draft, TESTS)
        | _wall(draft.build_up, vocabulary)
        | {
            "burn_through": NOT_APPLICABLE_WORD
            if draft.burn_through is None
            else draft.burn_through,
            "consent_given_to": "; ".join(draft.consent_given_to),
            "leans_on": "; ".join(draft.leans_on),
        }
    )


def _works(draft: WorksDraft) -> _Row:
    row = _fields(draft, WORKS) | {"works_zones": "; ".join(draft.works_zones)}
    for key in ("funding", "cost_estimate", "cost_outturn"):
        minor = getattr(draft, key)
        row[key] = None if minor is None else plain_money(minor)
    return row


def _wall(build_up: BuildUp, vocabulary: Vocabulary) -> _Row:
    return {
        "system_family": write_value(_WALL["system_family"], build_up.system_family, vocabulary),
        "substrate": write_value(_WALL["substrate"], build_up.substrate, vocabulary),
        "all_layers_listed": build_up.lists_all_layers,
    }


def _layers(layers: Sequence[Layer], vocabulary: Vocabulary) -> Iterator[_Row]:
    for number, layer in enumerate(layers, start=1):
        row: _Row = {"layer_no": number, "role": layer.role, "layer_note": layer.note}
        for column, attribute in ATTRIBUTE_OF_COLUMN[layer.role].items():
            value = layer.value(attribute.key)
            row[column] = _number(value) or write_value(attribute, value, vocabulary)
        yield row


def _number(value: Value) -> float | None:
    """A measure that is known is a number in the sheet, so that it can be calculated with."""
    return value.low if isinstance(value, Range) and value.is_known else None

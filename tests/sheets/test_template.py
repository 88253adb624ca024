"""The template: imports as nothing, teaches no mistake, offers the words of the reference data."""

import io
import time
from pathlib import Path

import openpyxl
import pytest

from portfolio.domain.caution import CAUTION
from portfolio.sheets.drafts import Drafts
from portfolio.sheets.example import EXAMPLE_ROWS
from portfolio.sheets.layout import SHEETS
from portfolio.sheets.lists import words_for
from portfolio.sheets.raw import GivenFile
from portfolio.sheets.template import template_bytes, write_template
from tests.sheets.support import REFERENCE, drafts_of, told, workbook


@pytest.fixture(scope="module")
def book() -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(template_bytes(REFERENCE)))


def test_an_unfilled_template_imports_as_nothing(tmp_path: Path) -> None:
    path = tmp_path / "template.xlsx"
    write_template(path)
    assert drafts_of(GivenFile(path.name, path.read_bytes())) == Drafts()


def test_the_template_has_the_same_bytes_each_time() -> None:
    first = template_bytes(REFERENCE)
    time.sleep(1.1)  # a clock in the file would show in its seconds
    assert template_bytes(REFERENCE) == first


def test_the_example_is_understood_without_a_problem() -> None:
    tabs = {
        sheet.title: [
            [column.header for column in sheet.columns],
            [EXAMPLE_ROWS[sheet.key].get(column.key) for column in sheet.columns],
        ]
        for sheet in SHEETS
    }
    drafts = drafts_of(workbook(tabs))
    assert told(drafts) == []
    counts = (len(drafts.buildings), len(drafts.zones), len(drafts.surveys), len(drafts.tests))
    assert counts == (1, 1, 1, 1)


def test_every_cell_of_the_example_has_a_column() -> None:
    for sheet in SHEETS:
        assert EXAMPLE_ROWS[sheet.key].keys() <= {column.key for column in sheet.columns}


def test_every_sheet_has_its_headers_with_units_and_a_hint(book: openpyxl.Workbook) -> None:
    for sheet in SHEETS:
        cells = [book[sheet.title].cell(1, place) for place in range(1, len(sheet.columns) + 1)]
        assert [cell.value for cell in cells] == [column.header for column in sheet.columns]
        assert all(cell.comment is not None for cell in cells)
        assert all(f"({c.unit})" in c.header for c in sheet.columns if c.unit)
        assert book[sheet.title].freeze_panes == "A2"


def test_columns_with_words_offer_them(book: openpyxl.Workbook) -> None:
    for sheet in SHEETS:
        offered = sum(bool(words_for(column, REFERENCE)) for column in sheet.columns)
        assert len(book[sheet.title].data_validations.dataValidation) == offered


def test_the_help_carries_the_caution_and_names_every_sheet(book: openpyxl.Workbook) -> None:
    text = "\n".join(str(cell.value) for row in book["Help"].iter_rows() for cell in row)
    assert CAUTION in text
    assert all(sheet.about in text for sheet in SHEETS)
    assert book["Lists"].sheet_state == "hidden"


def test_headers_and_keys_are_unique_within_a_sheet() -> None:
    for sheet in SHEETS:
        assert len({column.key for column in sheet.columns}) == len(sheet.columns)
        assert len({column.header for column in sheet.columns}) == len(sheet.columns)

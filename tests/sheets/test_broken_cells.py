"""A cell with an error, or a formula that was never calculated, is never taken for empty."""

import io

import openpyxl
import pytest

from portfolio.sheets.raw import GivenFile
from portfolio.sheets.reading import read_files


def workbook(value: object, data_type: str = "") -> GivenFile:
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    sheet = book.create_sheet("Tests")
    sheet.append(["Held by", "Test", "Standing"])
    sheet.append(["O-1", "T-1", value])
    if data_type:
        sheet["C2"].data_type = data_type
    sheet.append(["O-1", "T-2", "live"])
    target = io.BytesIO()
    book.save(target)
    return GivenFile("mine.xlsx", target.getvalue())


@pytest.mark.parametrize(
    ("value", "data_type", "words"),
    [
        ("#N/A", "e", "error"),
        ('=IF(1,"withdrawn","")', "", "formula without a value"),
    ],
)
def test_it_is_a_problem_with_its_place(value: str, data_type: str, words: str) -> None:
    [problem] = read_files([workbook(value, data_type)]).problems
    assert words in problem.message
    assert (problem.file, problem.sheet, problem.row, problem.column) == (
        "mine.xlsx",
        "Tests",
        2,
        "Standing",
    )


@pytest.mark.parametrize("value", ["live", None, "", 7])
def test_a_cell_with_a_value_or_without_one_is_none(value: object) -> None:
    assert read_files([workbook(value)]).problems == ()

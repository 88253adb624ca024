"""Rows of numbers that are put into a workbook read like rows that were written cell by cell."""

import io
from collections.abc import Sequence

import hypothesis
import openpyxl
import xlsxwriter
from hypothesis import strategies as st

from portfolio.sheets.number_rows import with_number_rows

Rows = Sequence[Sequence[float | None]]
NUMBERS = st.floats(allow_nan=False, allow_infinity=False) | st.none()


def empty() -> bytes:
    """A workbook with a note, and a sheet with three headers."""
    stream = io.BytesIO()
    with xlsxwriter.Workbook(stream, {"in_memory": True}) as workbook:
        workbook.add_worksheet("Note").write_string(0, 0, "a note")
        sheet = workbook.add_worksheet("Readings")
        for place, header in enumerate(("Time", "TC1", "TC2")):
            sheet.write_string(0, place, header)
    return stream.getvalue()


def read(workbook: bytes) -> tuple[object, list[list[object]], str]:
    """The note, the other sheet's rows, and how far that one says to reach."""
    book = openpyxl.load_workbook(io.BytesIO(workbook))
    sheet = book["Readings"]
    rows = [list(row) for row in sheet.iter_rows(values_only=True)]
    return book["Note"]["A1"].value, rows, sheet.dimensions


@hypothesis.given(st.lists(st.tuples(st.floats(-1e6, 1e6), NUMBERS, NUMBERS), max_size=30))
def test_every_number_comes_back_exactly_and_nothing_else(rows: Rows) -> None:
    note, found, reach = read(with_number_rows(empty(), 2, rows))
    assert found == [["Time", "TC1", "TC2"], *(list(row) for row in rows)]
    assert note == "a note"
    assert reach == f"A1:C{len(rows) + 1}"


def test_the_same_rows_make_the_same_bytes() -> None:
    workbook, rows = empty(), [(0.0, 18.5, None)]
    assert with_number_rows(workbook, 2, rows) == with_number_rows(workbook, 2, rows)

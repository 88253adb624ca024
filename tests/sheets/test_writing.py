"""Writing tables: text stays text, numbers stay numbers, the caution is there, bytes repeat."""

import io
import time
from datetime import date, datetime
from datetime import time as clock

import openpyxl
import pytest

from portfolio.domain.evidence import Standing
from portfolio.sheets.writing import LONGEST_CELL, Cell, Table, table_to_csv, table_to_xlsx

HALF_PAST_NINE = datetime.combine(date(2026, 3, 1), clock(9, 30))


def _book(*tables: Table) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(table_to_xlsx(tables, "Take care.")))


def _cell(value: Cell) -> openpyxl.cell.Cell:
    return _book(Table("T", ["Header"], [[value]]))["T"]["A2"]


@pytest.mark.parametrize("text", ["=1+1", "+44", "-5", "@name", "{=A1}", "http://a.test", "007"])
def test_risky_text_is_text_in_a_workbook(text: str) -> None:
    cell = _cell(text)
    assert (cell.value, cell.data_type, cell.hyperlink) == (text, "s", None)


@pytest.mark.parametrize("text", ["=1+1", "+44", "-5", "@name", "\tx", "'=x"])
def test_risky_text_is_guarded_in_a_csv_file(text: str) -> None:
    content = table_to_csv(Table("T", ["a", "b"], [[text, "plain"]])).decode("utf-8-sig")
    assert content == f"a,b\r\n'{text},plain\r\n"


def test_negative_numbers_stay_numbers() -> None:
    assert table_to_csv(Table("T", ["a"], [[-5], [-2.5]])) == b"\xef\xbb\xbfa\r\n-5\r\n-2.5\r\n"
    assert (_cell(-5).value, _cell(-5).data_type) == (-5, "n")


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, ""),
        (True, "yes"),
        (False, "no"),
        (date(2026, 3, 1), "2026-03-01"),
        (HALF_PAST_NINE, "2026-03-01 09:30:00"),
        (12.0, "12"),
        (float("inf"), "inf"),
        (Standing.LIVE, "live"),
        ("two\nlines", '"two\nlines"'),
    ],
)
def test_cells_of_every_kind_in_a_csv_file(value: Cell, text: str) -> None:
    content = table_to_csv(Table("T", ["a", "b"], [[value, 1]])).decode("utf-8-sig")
    assert content == f"a,b\r\n{text},1\r\n"


@pytest.mark.parametrize(
    ("value", "kept"),
    [
        (None, None),
        (True, "yes"),
        (date(2026, 3, 1), datetime.combine(date(2026, 3, 1), clock())),
        (HALF_PAST_NINE, "2026-03-01 09:30:00"),
        (float("nan"), "nan"),
        (Standing.LIVE, "live"),
    ],
)
def test_cells_of_every_kind_in_a_workbook(value: Cell, kept: object) -> None:
    assert _cell(value).value == kept


def test_a_text_too_long_for_a_cell_is_cut_and_says_so() -> None:
    text = str(_cell("x" * 40_000).value)
    assert len(text) == LONGEST_CELL
    assert text.endswith("[cut; see the CSV for the whole]")


def test_the_caution_has_a_sheet_of_its_own_on_which_the_workbook_opens() -> None:
    book = _book(Table("Zones", ["a"], [["x"]]), Table("Tests", ["a"], []))
    assert book.sheetnames == ["Caution", "Zones", "Tests"]
    assert book["Caution"]["A2"].value == "Take care."
    assert book.active.title == "Caution"


def test_titles_are_made_such_as_a_spreadsheet_program_accepts() -> None:
    long = "Zones: all/some [of] them, and then a good many more"
    titles = _book(*(Table(title, ["a"], []) for title in (long, long, "", "caution"))).sheetnames
    assert titles == [
        "Caution",
        "Zones all some of them, and the",
        "Zones all some of them, and t 2",
        "Table",
        "caution 2",
    ]


def test_a_workbook_has_the_same_bytes_each_time() -> None:
    table = Table("T", ["a", "b"], [[date(2026, 3, 1), 0.1]])
    first = table_to_xlsx([table], "Take care.")
    time.sleep(1.1)  # a clock in the file would show in its seconds
    assert table_to_xlsx([table], "Take care.") == first

"""Reading: rows are counted as a spreadsheet shows them, and bad files are refused in words."""

import io
import struct
import zipfile
from datetime import date
from pathlib import Path

import pytest

from portfolio.domain.errors import InputError
from portfolio.sheets import archives, delimited, raw, workbooks
from portfolio.sheets.raw import GivenFile
from portfolio.sheets.reading import read_files, read_paths
from tests.sheets.support import building, csv_file, drafts_of, told, workbook

HEADERS = ["Owner", "Building", "Storeys"]


def _refusal(*files: GivenFile) -> str:
    with pytest.raises(InputError) as caught:
        read_files(files)
    return str(caught.value)


def _bomb(content: bytes) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", content)
    return stream.getvalue()


# --- Places ---------------------------------------------------------------------------------------


def test_rows_of_a_workbook_are_counted_from_the_top_of_the_sheet() -> None:
    rows = [[], [], HEADERS, ["O-1", "B-1", 4], [], ["O-1", "B-2", "many"]]
    (problem,) = drafts_of(workbook({"Buildings": rows})).problems
    assert problem.place == 'estate.xlsx, sheet "Buildings", row 6, column "Storeys"'


def test_rows_of_a_csv_file_are_counted_with_blank_ones_and_not_with_line_breaks() -> None:
    text = 'owner,building,note,storeys\nO-1,B-1,"two\nlines",4\n\nO-1,B-2,,many\n'
    (problem,) = drafts_of(GivenFile("buildings.csv", text.encode())).problems
    assert problem.place == 'buildings.csv, row 4, column "Storeys"'


def test_columns_left_empty_before_the_first_do_not_shift_the_cells() -> None:
    rows = [[None, *HEADERS], [None, "O-1", "B-1", 7]]
    assert drafts_of(workbook({"Buildings": rows})).buildings[0].storeys == 7


def test_a_short_csv_row_has_empty_cells_at_its_end() -> None:
    (found,) = drafts_of(GivenFile("buildings.csv", b"owner,building,storeys\nO-1,B-1\n")).buildings
    assert found.storeys is None


# --- Cells ----------------------------------------------------------------------------------------


def test_a_whole_number_used_as_a_reference_has_no_decimal_point() -> None:
    rows = [HEADERS, ["O-1", 1007, 4]]
    assert drafts_of(workbook({"Buildings": rows})).buildings[0].building == "1007"


def test_dates_and_truth_values_of_a_workbook_are_understood() -> None:
    rows = [
        ["Owner", "Building", "Top floor height (m)", "Height date", "Note"],
        ["O-1", "B-1", 18.25, date(2026, 3, 31), True],
    ]
    (found,) = drafts_of(workbook({"Buildings": rows})).buildings
    assert (found.heights[0].metres, found.heights[0].on) == (18.25, date(2026, 3, 31))
    assert found.note == "yes"


def test_a_number_that_a_formula_spoilt_reads_as_it_is_shown() -> None:
    rows = [["Owner", "Building", "Top floor height (m)"], ["O-1", "B-1", 0.1 + 0.2]]
    assert drafts_of(workbook({"Buildings": rows})).buildings[0].heights[0].metres == 0.3


@pytest.mark.parametrize(
    ("number", "text"), [(7.0, "7"), (1e-7, "0.0000001"), (1e20, "1" + "0" * 20), (-5.0, "-5")]
)
def test_numbers_are_written_without_an_exponent(number: float, text: str) -> None:
    assert workbooks._text(number) == text


def test_minus_five_stays_minus_five() -> None:
    rows = {"owner": "O-1", "building": "B-1", "zone": "Z-1", "description": "'-5"}
    (found,) = drafts_of(csv_file("zones", rows | {"from_storey": "-5", "to_storey": "'-5"})).zones
    assert (found.from_storey, found.to_storey, found.description) == (-5, -5, "-5")


def test_a_byte_order_mark_and_semicolons_are_accepted() -> None:
    text = "\ufeffOwner;Building;Storeys\nO-1;B-1;4\n"
    assert drafts_of(GivenFile("Buildings.csv", text.encode())).buildings[0].storeys == 4


# --- Headers and names ----------------------------------------------------------------------------


def test_headers_are_recognised_by_key_whatever_the_case_and_the_blanks() -> None:
    rows = [["OWNER", " building", "Top  Floor Height (M)"], ["O-1", "B-1", 12]]
    assert drafts_of(workbook({"buildings": rows})).buildings[0].heights[0].metres == 12


def test_an_unknown_column_is_named_with_the_one_it_resembles() -> None:
    drafts = drafts_of(csv_file("buildings", building(storeyz="4")))
    assert 'column "storeyz"' in told(drafts)[0]
    assert 'Did you mean "Storeys"?' in told(drafts)[0]


def test_a_missing_required_column_is_reported_once_and_not_for_each_row() -> None:
    drafts = drafts_of(csv_file("buildings", {"owner": "O-1"}, {"owner": "O-2"}))
    assert [problem.column for problem in drafts.problems] == ["Building"]
    assert drafts.is_refused("buildings", ("O-1", "B-1"))


def test_a_column_that_stands_twice_is_a_problem() -> None:
    drafts = drafts_of(GivenFile("buildings.csv", b"owner,building,Building\nO-1,B-1,B-2\n"))
    assert "twice" in told(drafts)[0]


def test_a_cell_without_a_header_is_named_by_its_letter() -> None:
    (problem,) = drafts_of(GivenFile("buildings.csv", b"owner,building\nO-1,B-1,stray\n")).problems
    assert (problem.row, problem.column, problem.value) == (2, "C", "stray")


def test_an_unknown_sheet_beside_known_ones_is_a_problem_and_the_rest_is_read() -> None:
    drafts = drafts_of(workbook({"Buildings": [HEADERS, ["O-1", "B-1", 4]], "Walls": [["x"]]}))
    assert len(drafts.buildings) == 1
    assert 'sheet "Walls"' in told(drafts)[0]


def test_sheets_that_explain_are_not_read() -> None:
    tabs = {"Help": [["anything"]], "Example": [HEADERS, ["O-9", "B-9", 1]], "Zones": []}
    assert drafts_of(workbook(tabs)).problems == ()


def test_a_numbered_sheet_goes_on_where_the_one_before_ended() -> None:
    tabs = {"Buildings": [HEADERS, ["O-1", "B-1", 4]], "Buildings 2": [HEADERS, ["O-1", "B-2", 5]]}
    assert [draft.building for draft in drafts_of(workbook(tabs)).buildings] == ["B-1", "B-2"]


# --- Files that cannot be read --------------------------------------------------------------------


def test_a_workbook_of_which_no_sheet_is_known_is_refused_with_the_names_that_are() -> None:
    message = _refusal(workbook({"Walls": [["x"]]}))
    assert "Buildings" in message
    assert 'sheet "Walls"' in message


def test_a_csv_file_of_unknown_name_is_refused() -> None:
    assert "walls.csv" in _refusal(csv_file("walls", building()))


def test_nothing_at_all_is_refused() -> None:
    assert "no file" in _refusal()


@pytest.mark.parametrize("kept", [10, 200, 2000, -1])
def test_a_truncated_workbook_is_refused(kept: int) -> None:
    whole = workbook({"Buildings": [HEADERS, *([["O-1", f"B-{n}", n] for n in range(1, 400)])]})
    assert "damaged" in _refusal(GivenFile("cut.xlsx", whole.content[:kept]))


def test_a_workbook_with_a_spoilt_part_is_refused() -> None:
    content = bytearray(workbook({"Buildings": [HEADERS]}).content)
    at = content.index(b"xl/worksheets/sheet1.xml") + 60
    content[at : at + 8] = b"\xff" * 8
    assert "damaged" in _refusal(GivenFile("spoilt.xlsx", bytes(content)))


def test_a_csv_file_named_xlsx_is_refused() -> None:
    given = csv_file("buildings", building(), name="buildings.xlsx")
    assert "not a workbook" in _refusal(given)


def test_a_workbook_named_csv_is_refused() -> None:
    given = GivenFile("buildings.csv", workbook({"Buildings": [HEADERS]}).content)
    assert "its name to end in .xlsx" in _refusal(given)


def test_an_archive_that_is_no_workbook_is_refused() -> None:
    assert "not a workbook" in _refusal(GivenFile("x.xlsx", _bomb(b"<hello/>")))


def test_a_file_of_another_kind_is_refused() -> None:
    assert ".xlsx or .csv" in _refusal(GivenFile("buildings.docx", b""))


def test_text_that_is_not_utf_8_is_refused_with_what_to_do() -> None:
    assert 'saved as "CSV UTF-8"' in _refusal(GivenFile("buildings.csv", b"owner\n\xe9t\xe9\n"))


def test_a_csv_file_with_an_open_quotation_mark_is_refused() -> None:
    assert "no CSV file" in _refusal(GivenFile("buildings.csv", b'owner,building\n"O-1,B-1\n'))


@pytest.mark.parametrize("cell", ["x" * 131_073, f'"{"x, " * 50_000}"'])
def test_a_cell_of_a_csv_file_that_is_too_long_is_refused_with_its_row_and_the_most(
    cell: str,
) -> None:
    content = f"owner,building\nO-1,B-1\nO-1,{cell}\n".encode()
    told = _refusal(GivenFile("buildings.csv", content))
    assert told.startswith("buildings.csv: A cell of row 3 is too long. Expected: at most 131,072")
    assert "no CSV file" not in told


def test_a_cell_of_the_most_characters_is_read() -> None:
    content = f"owner,building\nO-1,{'x' * 131_072}\n".encode()
    [row] = read_files([GivenFile("buildings.csv", content)]).rows
    assert len(row.cells["building"]) == 131_072


def test_a_zip_bomb_is_refused_by_its_ratio() -> None:
    assert "far more" in _refusal(GivenFile("bomb.xlsx", _bomb(bytes(21_000_000))))


def test_a_zip_bomb_is_refused_by_its_size(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archives, "MOST_UNPACKED_BYTES", 1_000_000)
    assert "far more" in _refusal(GivenFile("bomb.xlsx", _bomb(bytes(3_000_000))))


def test_a_zip_bomb_that_lies_about_its_size_is_refused() -> None:
    content = bytearray(_bomb(bytes(30_000_000)))
    for marker, offset in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        struct.pack_into("<I", content, content.index(marker) + offset, 100)
    assert "far more" in _refusal(GivenFile("bomb.xlsx", bytes(content)))


def test_a_file_that_is_too_large_is_refused(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    path = tmp_path / "buildings.csv"
    path.write_bytes(csv_file("buildings", building(note="x" * 100)).content)
    monkeypatch.setattr("portfolio.sheets.reading.MOST_BYTES", 100)
    with pytest.raises(InputError, match="too large"):
        read_paths([path])


def test_a_workbook_with_too_many_rows_or_columns_is_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    given = workbook({"Buildings": [HEADERS, ["O-1", "B-1", 4], ["O-1", "B-2", 4]]})
    monkeypatch.setattr(workbooks, "MOST_ROWS", 1)
    assert '"Buildings 2"' in _refusal(given)
    monkeypatch.setattr(workbooks, "MOST_ROWS", 100)
    monkeypatch.setattr(workbooks, "MOST_COLUMNS", 2)
    assert "3 columns" in _refusal(given)


def test_a_csv_file_with_too_many_rows_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(delimited, "MOST_ROWS", 1)
    rows = [building(building=f"B-{n}") for n in range(3)]
    assert "buildings-2.csv" in _refusal(csv_file("buildings", *rows))


def test_a_missing_file_and_an_empty_folder_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be opened"):
        read_paths([tmp_path / "none.xlsx"])
    with pytest.raises(InputError, match=r"no \.csv file"):
        read_paths([tmp_path])


def test_the_limits_are_the_ones_that_were_tried() -> None:
    assert (raw.MOST_BYTES, raw.MOST_UNPACKED_BYTES) == (20_000_000, 200_000_000)
    assert (raw.MOST_ROWS, raw.MOST_COLUMNS) == (100_000, 200)

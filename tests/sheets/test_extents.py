"""How far cells reach is known before a reader makes room for them, or the file is refused."""

import io
import zipfile

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.errors import InputError
from portfolio.sheets.extents import extent_of
from portfolio.sheets.raw import GivenFile
from portfolio.sheets.reading import read_files
from tests.sheets.support import drafts_of, workbook

HEADERS = ["Owner", "Building"]


def _with_sheet(replaced: bytes, by: bytes) -> GivenFile:
    """A good workbook, with something in its first sheet of records replaced."""
    good = workbook({"Buildings": [HEADERS, ["O-1", "B-1"]]})
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(good.content)) as old, zipfile.ZipFile(stream, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            if name.endswith("sheet1.xml"):
                assert replaced in content
                content = content.replace(replaced, by)
            new.writestr(name, content)
    return GivenFile("odd.xlsx", stream.getvalue())


@pytest.mark.parametrize(
    ("content", "extent"),
    [
        (b"", (0, 0)),
        (b'<row r="1"><c r="A1"/></row>', (1, 1)),
        (b"<row r='3'><c r = 'AB3' s='1'><v>1</v></c></row>", (3, 28)),
        (b'<row><c r="XFD1048576"/></row>', (1_048_576, 16_384)),
        (b'<row r="7"/><row><c/><c/></row>', (8, 2)),
        (b'<row r="1"><c r="C1"/><c/></row>', (1, 4)),
        (b'<x:row r="2"><x:c a=">" t="n"r="B2"/></x:row>', (2, 2)),
        (b"<col/><color/><cols><c:chart/></cols>", (0, 0)),
    ],
)
def test_the_extent_is_that_of_the_farthest_cell(content: bytes, extent: tuple[int, int]) -> None:
    assert extent_of(content) == extent


@pytest.mark.parametrize(
    "content",
    [
        b'<row r="one"/>',
        b'<row r="12345678"/>',
        b'<c r="AAAA1"/>',
        b'<c r="1"/>',
        b'<c r="A1" r="B2"/>',
        b'<c r="A1"',
        b'<c a="<" r="XFD1"/>',
        b"<\x00r\x00o\x00w\x00",
    ],
)
def test_what_cannot_be_counted_is_refused(content: bytes) -> None:
    with pytest.raises(ValueError, match=r"\w"):
        extent_of(content)


@given(st.lists(st.sampled_from([b"<c ", b"<row", b'"', b"'", b">", b"<", b' r="A9"', b"x"])))
def test_any_text_is_counted_or_refused(parts: list[bytes]) -> None:
    try:
        rows, columns = extent_of(b"".join(parts))
    except ValueError:
        return
    assert min(rows, columns) >= 0


def test_a_cell_in_the_last_corner_is_refused_before_there_is_made_room_for_it() -> None:
    given_file = _with_sheet(b"</row>", b'<c r="XFD1048576"><v>1</v></c></row>')
    with pytest.raises(InputError, match="reach to row 1,048,576 and to column 16,384"):
        read_files([given_file])


def test_a_stray_cell_far_below_is_refused_with_the_name_of_its_sheet() -> None:
    given_file = _with_sheet(b"</row>", b'<c r="B900000"><v>1</v></c></row>')
    with pytest.raises(InputError, match=r'sheet "Buildings".*900,000 rows'):
        read_files([given_file])


@pytest.mark.parametrize("name", ["xl/workbook.bin", "content.xml"])
def test_an_archive_that_could_be_read_as_another_kind_of_workbook_is_refused(name: str) -> None:
    good = workbook({"Buildings": [HEADERS]})
    stream = io.BytesIO(good.content)
    with zipfile.ZipFile(stream, "a") as archive:
        archive.writestr(name, "x")
    with pytest.raises(InputError, match="not a workbook"):
        read_files([GivenFile("two.xlsx", stream.getvalue())])


def test_a_workbook_of_another_writer_is_read() -> None:
    book = openpyxl.Workbook()
    book.active.title = "Buildings"
    book.active.append(HEADERS)
    book.active.append(["O-1", "B-1"])
    stream = io.BytesIO()
    book.save(stream)
    assert drafts_of(GivenFile("other.xlsx", stream.getvalue())).buildings[0].building == "B-1"

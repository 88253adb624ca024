"""The empty workbook to fill in: headers, drop-downs, hints, a help sheet and a worked example."""

from __future__ import annotations

import io
from pathlib import Path

import xlsxwriter
from xlsxwriter.utility import xl_col_to_name
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from portfolio.domain.caution import CAUTION
from portfolio.reference.loader import Reference, load_reference
from portfolio.sheets.columns import Column
from portfolio.sheets.example import EXAMPLE_ROWS
from portfolio.sheets.layout import EXAMPLE_TITLE, HELP_TITLE, LISTS_TITLE, SHEETS
from portfolio.sheets.lists import words_for
from portfolio.sheets.writing import MADE_ON, SAFE_OPTIONS, write_headers

_ROWS_WITH_LISTS = 5_000
_LONGEST_HINT = 250
_WHOLE_NUMBERS = (
    "storeys",
    "homes",
    "people",
    "from_storey",
    "to_storey",
    "layer_no",
    "run_seconds",
)
_HELP: tuple[tuple[str, str], ...] = (
    ("Caution", CAUTION),
    ("Sheets", "Fill in those you need and leave the others empty. Rows may stand in any order."),
    *((sheet.title, sheet.about) for sheet in SHEETS),
    (
        "Unknown",
        "Leave a cell empty, or write unknown, when nobody knows. Unknown is an answer: it never "
        "counts as the same as anything, and it tells what must be found out. Where a column says "
        "what an empty cell means, that counts. none is another answer: it says that the layer is "
        "known not to be there.",
    ),
    (
        "One of several",
        'Where it is one of several words but not known which, part them with "|". A measure may '
        "be a range: 50 to 75, or 50 ± 5.",
    ),
    (
        "Order of layers",
        "From the inside out: 1 is the innermost layer, whatever the number of layers.",
    ),
    (
        "Layers without a place",
        "Where a wall has a layer that no role fits, or more of a role than there are places for, "
        "write no under All layers listed and tell of it in the note of the layer beside it. A "
        "note is not compared: such a wall is never counted as covered.",
    ),
    (
        "Basis",
        "What a survey rests on decides how far it can be leaned on: opening-up and laboratory "
        "above certificate and drawing, these above outside (a look from outside), that above "
        "assumption.",
    ),
    (
        "Surveys",
        "A survey is never changed. When it was wrong, hand in another one with a new reference.",
    ),
    (
        "Changes",
        "A row whose record exists changes it; a column that is left out changes nothing. Heights "
        "are added and never taken away. Nothing is saved as long as there is any problem.",
    ),
    ("Dates", "As 2026-03-31, or with the day first: 31/03/2026."),
)


def write_template(path: Path) -> None:
    """Write the empty workbook to `path`."""
    path.write_bytes(template_bytes(load_reference()))


def template_bytes(reference: Reference) -> bytes:
    """The empty workbook; the same bytes each time."""
    stream = io.BytesIO()
    with xlsxwriter.Workbook(stream, SAFE_OPTIONS) as workbook:
        workbook.set_properties({"created": MADE_ON})
        _write_help(workbook)
        sheets = {sheet.key: workbook.add_worksheet(sheet.title) for sheet in SHEETS}
        _write_example(workbook)
        lists = _write_lists(workbook, reference)
        for sheet in SHEETS:
            headers = [column.header for column in sheet.columns]
            write_headers(workbook, sheets[sheet.key], headers)
            for place, column in enumerate(sheet.columns):
                _prepare(workbook, sheets[sheet.key], place, column)
                if source := lists.get(words_for(column, reference)):
                    _offer(sheets[sheet.key], place, column, source)
    return stream.getvalue()


def _write_help(workbook: Workbook) -> None:
    sheet = workbook.add_worksheet(HELP_TITLE)
    bold = workbook.add_format({"bold": True, "valign": "top"})
    wrapped = workbook.add_format({"text_wrap": True, "valign": "top"})
    sheet.set_column(0, 0, 18)
    sheet.set_column(1, 1, 100)
    for row, (what, text) in enumerate(_HELP):
        sheet.write_string(row, 0, what, bold)
        sheet.write_string(row, 1, text, wrapped)


def _write_example(workbook: Workbook) -> None:
    """A block for each sheet: its title, its headers, and one filled row."""
    sheet = workbook.add_worksheet(EXAMPLE_TITLE)
    bold = workbook.add_format({"bold": True})
    row = 0
    for described in SHEETS:
        sheet.write_string(row, 0, described.title, bold)
        for place, column in enumerate(described.columns):
            sheet.write_string(row + 1, place, column.header, bold)
            value = EXAMPLE_ROWS[described.key].get(column.key, "")
            if value != "":
                sheet.write(row + 2, place, value)
        row += 4


def _write_lists(workbook: Workbook, reference: Reference) -> dict[tuple[str, ...], str]:
    """The words of the drop-downs on a hidden sheet, and where each list stands."""
    sheet = workbook.add_worksheet(LISTS_TITLE)
    sheet.hide()
    found: dict[tuple[str, ...], str] = {}
    for column in (column for described in SHEETS for column in described.columns):
        words = words_for(column, reference)
        if not words or words in found:
            continue
        place = len(found)
        offered = words if column.required or "unknown" in words else (*words, "unknown")
        for row, word in enumerate(offered):
            sheet.write_string(row, place, word)
        name = xl_col_to_name(place, col_abs=True)
        found[words] = f"='{LISTS_TITLE}'!{name}$1:{name}${len(offered)}"
    return found


def _prepare(workbook: Workbook, sheet: Worksheet, place: int, column: Column) -> None:
    """The hint, and cells that keep what is typed: 5-7 is no date, 001 is not 1."""
    needed = " Must be filled in." if column.required else ""
    sheet.write_comment(0, place, column.help + needed, {"x_scale": 2})
    if not column.unit and column.key not in _WHOLE_NUMBERS:
        width = max(len(column.header) + 2, 10)
        sheet.set_column(place, place, width, workbook.add_format({"num_format": "@"}))


def _offer(sheet: Worksheet, place: int, column: Column, source: str) -> None:
    """A drop-down that offers words, and lets others through: the importer knows more spellings."""
    options = {
        "validate": "list",
        "source": source,
        "error_type": "information",
        "error_title": "Another word",
        "error_message": "This word is not in the list. It will be checked when the file is read.",
        "input_title": column.header[:32],
        "input_message": column.help[:_LONGEST_HINT],
    }
    sheet.data_validation(1, place, _ROWS_WITH_LISTS, place, options)

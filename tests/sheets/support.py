"""Small files with rows in them, as people hand them in."""

import csv
import io
from collections.abc import Mapping, Sequence
from datetime import date, datetime, time
from typing import Any

import xlsxwriter

from portfolio.reference.loader import load_reference
from portfolio.sheets.converting import convert
from portfolio.sheets.drafts import Drafts
from portfolio.sheets.raw import GivenFile
from portfolio.sheets.reading import read_files

REFERENCE = load_reference()
Row = Mapping[str, Any]


def csv_file(sheet: str, *rows: Row, name: str = "") -> GivenFile:
    """A CSV file with the columns of its first row; its first row of cells is row 2."""
    stream = io.StringIO(newline="")
    writer = csv.DictWriter(stream, list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    return GivenFile(name or f"{sheet}.csv", stream.getvalue().encode())


def workbook(tabs: Mapping[str, Sequence[Sequence[Any]]], name: str = "estate.xlsx") -> GivenFile:
    """A workbook of rows; None leaves a cell out."""
    stream = io.BytesIO()
    with xlsxwriter.Workbook(stream, {"in_memory": True}) as book:
        days = book.add_format({"num_format": "yyyy-mm-dd"})
        for tab, rows in tabs.items():
            sheet = book.add_worksheet(tab)
            for number, row in enumerate(rows):
                for place, cell in enumerate(row):
                    if isinstance(cell, date):
                        moment = datetime.combine(cell, time())
                        sheet.write_datetime(number, place, moment, days)
                    elif cell is not None:
                        sheet.write(number, place, cell)
    return GivenFile(name, stream.getvalue())


def drafts_of(*files: GivenFile) -> Drafts:
    return convert(read_files(files), REFERENCE)


def told(drafts: Drafts) -> list[str]:
    """Every problem as a reader sees it."""
    return [str(problem) for problem in drafts.problems]


def building(**more: Any) -> Row:
    return {"owner": "O-1", "building": "B-1"} | more


def zone(**more: Any) -> Row:
    return {"owner": "O-1", "building": "B-1", "zone": "Z-1"} | more


def layer(**more: Any) -> Row:
    head = {"survey": "S-1", "basis": "opening-up", "survey_date": "2026-02-10"}
    return zone() | head | {"layer_no": 1, "role": "", "material": ""} | more


def record(**more: Any) -> Row:
    return {"held_by": "O-1", "test": "T-1"} | more

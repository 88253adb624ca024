"""Many rows of numbers put into a sheet of a workbook that is written already.

A cell at a time, the library takes ten seconds for an hour of sixty channels; joined here as the
text that the file format asks for, the same rows take less than one.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Sequence

from xlsxwriter.utility import xl_col_to_name, xl_range

_END = b"</sheetData>"
_DIMENSION = re.compile(rb'<dimension ref="[^"]*"/>')
_LEVEL = 2
"""Of compression: higher ones take longer than everything else here, for a few hundred kB."""


def with_number_rows(workbook: bytes, sheet: int, rows: Sequence[Sequence[float | None]]) -> bytes:
    """The workbook with rows below the first one of its sheet number `sheet`, counted from 1.

    Numbers are finite, None leaves a cell empty. The sheet has a first row and nothing else.
    """
    name, stream = f"xl/worksheets/sheet{sheet}.xml", io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(workbook)) as given, zipfile.ZipFile(stream, "w") as made:
        for entry in given.infolist():
            content = given.read(entry)
            if entry.filename == name:
                content = _filled(content, rows)
                made.writestr(entry, content, zipfile.ZIP_DEFLATED, _LEVEL)
            else:
                made.writestr(entry, content)
    return stream.getvalue()


def _filled(sheet: bytes, rows: Sequence[Sequence[float | None]]) -> bytes:
    if not rows:
        return sheet
    columns = [xl_col_to_name(place) for place in range(max(map(len, rows)))]
    told = "".join(
        f'<row r="{number}">{_cells(columns, number, row)}</row>'
        for number, row in enumerate(rows, start=2)
    )
    reach = xl_range(0, 0, len(rows), len(columns) - 1)
    sheet = _DIMENSION.sub(f'<dimension ref="{reach}"/>'.encode("ascii"), sheet, count=1)
    return sheet.replace(_END, told.encode("ascii") + _END, 1)


def _cells(columns: Sequence[str], number: int, row: Sequence[float | None]) -> str:
    return "".join(
        [
            f'<c r="{column}{number}"><v>{cell!r}</v></c>'
            for column, cell in zip(columns, row, strict=False)
            if cell is not None
        ]
    )

"""What a file holds before anything is understood: sheets as grids of text, and rows of cells."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from portfolio.domain.errors import InputError, Problem
from portfolio.sheets.columns import Sheet

MOST_BYTES = 20_000_000
MOST_UNPACKED_BYTES = 200_000_000
MOST_ROWS = 100_000
"""In one sheet; more rows go on in a further sheet, such as "Layers 2"."""
MOST_COLUMNS = 200


@dataclass(frozen=True, slots=True)
class GivenFile:
    """A file as it was handed in."""

    name: str
    content: bytes


@dataclass(frozen=True, slots=True)
class Tab:
    """One table of a log, or of a list beside one, as text, and what its text does not say.

    `times` are the cells, by row and column from 0, that the spreadsheet holds as a date or a
    time; `broken` is a problem for each cell that would be taken for empty and is not.
    """

    rows: Sequence[Sequence[str]]
    is_hidden: bool = False
    times: frozenset[tuple[int, int]] = frozenset()
    broken: tuple[Problem, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Whether no cell of it is filled."""
        return not any(cell.strip() for row in self.rows for cell in row)


@dataclass(frozen=True, slots=True)
class Grid:
    """One tab of a workbook, or one CSV file (which has no tab), as text from its first row on.

    `times` as in a Tab.
    """

    file: str
    tab: str
    sheet: Sheet
    rows: Sequence[Sequence[str]]
    times: frozenset[tuple[int, int]] = frozenset()


@dataclass(frozen=True, slots=True)
class RawRow:
    """One row: `cells` holds the text of each column that its sheet has, empty text included.

    `sheet` is the key of the layout, `tab` the name as the file shows it, `row` the number as a
    spreadsheet program shows it; `times` are the keys of cells that the file holds as a date or a
    time, and not as text or a number.
    """

    file: str
    sheet: str
    row: int
    cells: Mapping[str, str]
    tab: str = ""
    times: frozenset[str] = frozenset()

    def problem(
        self, message: str, *, column: str = "", value: str = "", expected: str = ""
    ) -> Problem:
        """A problem that stands in this row."""
        return Problem(message, expected, self.file, self.tab, self.row, column, value)


@dataclass(frozen=True, slots=True)
class Raw:
    """Everything that was read, in the order of the files, and what was wrong with their shape."""

    rows: tuple[RawRow, ...] = ()
    problems: tuple[Problem, ...] = ()
    sheets: frozenset[str] = frozenset()
    """Keys of the sheets that were there, with or without rows."""
    unusable: frozenset[str] = frozenset()
    """Keys of the sheets of which no row could be read, because of their headers."""


def refuse(file: str, message: str, expected: str = "", tab: str = "") -> InputError:
    """The error for a file that cannot be read at all."""
    return InputError([Problem(message, expected, file=file, sheet=tab)])

"""Reads workbooks and CSV files into rows; what it cannot open it refuses with a sentence."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from portfolio.domain.errors import InputError, Problem
from portfolio.sheets import delimited, headers, workbooks
from portfolio.sheets.layout import is_ignored, sheet_named
from portfolio.sheets.raw import MOST_BYTES, GivenFile, Grid, Raw, RawRow, refuse


def read_paths(paths: Sequence[Path]) -> Raw:
    """Read workbooks, CSV files and folders of CSV files."""
    return read_files([_given(path) for path in _files(paths)])


def read_files(files: Sequence[GivenFile]) -> Raw:
    """Read files that were handed in. Raises InputError for one that cannot be read at all."""
    grids: list[Grid] = []
    problems: list[Problem] = []
    for given in files:
        found, wrong = _grids(given)
        grids += found
        problems += wrong
    if not grids:
        raise InputError(problems or "There is no file with rows in it.")
    rows: list[RawRow] = []
    unusable = set()
    for grid in grids:
        more, wrong = headers.rows_of(grid)
        rows += more
        problems += wrong
        if wrong and not more:
            unusable.add(grid.sheet.key)
    sheets = frozenset(grid.sheet.key for grid in grids)
    return Raw(tuple(rows), tuple(problems), sheets, frozenset(unusable))


def _files(paths: Sequence[Path]) -> list[Path]:
    found: list[Path] = []
    for path in paths:
        if path.is_dir():
            inside = sorted(path.glob("*.csv"))
            if not inside:
                raise refuse(path.name, "There is no .csv file in this folder.")
            found += inside
        else:
            found.append(path)
    return found


def _given(path: Path) -> GivenFile:
    try:
        # reading one byte more than is allowed tells a file that is too large
        with path.open("rb") as stream:
            return GivenFile(path.name, stream.read(MOST_BYTES + 1))
    except OSError as error:
        reason = error.strerror or "unknown reason"
        raise refuse(path.name, f"The file cannot be opened: {reason}.") from error


def _grids(given: GivenFile) -> tuple[list[Grid], list[Problem]]:
    if len(given.content) > MOST_BYTES:
        raise refuse(given.name, "The file is too large.", f"at most {MOST_BYTES // 1_000_000} MB")
    name = Path(given.name)
    if name.suffix.casefold() == ".xlsx":
        return workbooks.grids_of(given)
    if name.suffix.casefold() != ".csv":
        raise refuse(given.name, "Files of this kind are not read.", "a .xlsx or .csv file")
    sheet = sheet_named(name.stem)
    if sheet is not None:
        return [delimited.grid_of(given, sheet)], []
    if is_ignored(name.stem):
        return [], []
    problem = workbooks.unknown_sheet(given.name, "")
    return [], [problem]

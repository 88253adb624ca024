"""Reads the list of what was seen at a test."""

from __future__ import annotations

from portfolio.domain.errors import InputError, Problem
from portfolio.domain.observations import Observation, Sight
from portfolio.sheets.cells import Cells
from portfolio.sheets.layout_logs import LOG_OBSERVATIONS
from portfolio.sheets.lists import meaning
from portfolio.sheets.logger_files import rows_beside
from portfolio.sheets.logger_times import duration_in
from portfolio.sheets.raw import GivenFile

_AS_TEXT = "s (300), or min:s (5:00) in a cell that was made a text before it was typed into"


def read_observations(given: GivenFile) -> tuple[Observation, ...]:
    """What the list in `given` says was seen. Raises InputError with every problem found."""
    problems: list[Problem] = []
    found = []
    for row in rows_beside(given, LOG_OBSERVATIONS):
        cells = Cells(row, LOG_OBSERVATIONS)
        one = _observation(cells)
        problems += cells.problems
        if one is not None:
            found.append(one)
    if problems:
        raise InputError(problems)
    return tuple(found)


def _observation(cells: Cells) -> Observation | None:
    word = meaning(tuple(Sight), cells.raw("observation"))
    if word is None:
        message = "Nothing of this name is watched for."
        cells.refuse("observation", message, f"one of: {', '.join(Sight)}")
    if cells.is_unknown("seen"):
        cells.refuse("seen", "Whether it was seen must be told.", "yes or no")
    was_seen = cells.yes("seen")
    since, until = _time(cells, "from"), _time(cells, "until")
    if since is not None and until is not None and until < since:
        cells.refuse("until", "It cannot end before it began.", "a time after From")
    height = cells.measure("height_m")
    note = cells.text("note")
    if not was_seen:
        for key, told in (("from", since), ("until", until)):
            if told is not None:
                cells.refuse(key, "What was not seen has no time.", "an empty cell")
        if height is not None:
            cells.refuse("height_m", "What was not seen has no height.", "an empty cell")
    if word is None or cells.problems:
        return None
    return Observation(Sight(word), was_seen, since, until, height, note)


def _time(cells: Cells, key: str) -> float | None:
    if cells.is_unknown(key):
        return None
    if key in cells.row.times:
        message = "The file holds this as a time of day: whether minutes or hours were "
        cells.refuse(key, f"{message}meant cannot be told.", _AS_TEXT)
        return None
    try:
        found = duration_in(cells.raw(key))
    except ValueError as error:
        cells.refuse(key, "This time cannot be read.", str(error))
        return None
    if 0 < found < 1:
        # nobody saw anything to the tenth of a second
        cells.refuse(key, "This may be the share of a day that a spreadsheet holds.", _AS_TEXT)
    return found

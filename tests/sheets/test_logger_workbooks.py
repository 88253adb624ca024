"""Workbooks with logs and lists in them, as spreadsheet programs save them; all invented."""

import io
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime, time, timedelta

import openpyxl
import pytest

from portfolio.domain.errors import InputError, Problem
from portfolio.domain.observations import Observation
from portfolio.sheets.logger import ReadLog, read_log
from portfolio.sheets.logger_observations import read_observations
from portfolio.sheets.raw import GivenFile

Rows = Sequence[Sequence[object]]

LOG: Rows = [["Time s", "L1 ext main"], [0, 18.25], [1, 18.5]]
OTHER: Rows = [["Time s", "L1 ext main"], [0, 900.0]]
SEEN: Rows = [["Observation", "Seen", "From", "Until"], ["early-end", "no", None, None]]
CHANNELS: Rows = [["Channel", "Level", "Side", "Use"], ["L1 ext main", 1, "external", None]]


def book(tabs: Mapping[str, Rows], hidden: str = "", name: str = "log.xlsx") -> GivenFile:
    workbook = openpyxl.Workbook()
    workbook.remove(workbook.worksheets[0])
    for title, rows in tabs.items():
        sheet = workbook.create_sheet(title)
        for row in rows:
            sheet.append(row)
        sheet.sheet_state = "hidden" if title == hidden else "visible"
    stream = io.BytesIO()
    workbook.save(stream)
    return GivenFile(name, stream.getvalue())


def problems_of(read: Callable[[GivenFile], object], given: GivenFile) -> tuple[Problem, ...]:
    with pytest.raises(InputError) as error:
        read(given)
    return error.value.problems


def notes_of(tabs: Mapping[str, Rows], hidden: str = "") -> tuple[str, ...]:
    return read_log(book(tabs, hidden)).notes


def seen_in(rows: Rows) -> tuple[Observation, ...]:
    return read_observations(book({"Observations": rows}, name="seen.xlsx"))


# Times that a spreadsheet holds as times: what was typed cannot be told from them.

TYPED = [
    time(5, 0),
    time(0, 5),
    time(5, 0, 30),
    timedelta(hours=43),
    timedelta(minutes=43),
    datetime(2026, 3, 1, 5, 0),  # noqa: DTZ001
    date(2026, 3, 1),
    5 / 1440,  # a time in a cell that was made a number afterwards
]


@pytest.mark.parametrize("column", ["From", "Until"])
@pytest.mark.parametrize("typed", TYPED, ids=str)
def test_a_time_typed_into_a_cell_of_a_list_is_refused_with_its_place(
    typed: object, column: str
) -> None:
    cells = [typed, None] if column == "From" else [None, typed]
    (problem,) = problems_of(
        read_observations,
        book({"Observations": [SEEN[0], ["burn-through", "yes", *cells]]}, name="seen.xlsx"),
    )
    place = (problem.file, problem.sheet, problem.row, problem.column)
    assert place == ("seen.xlsx", "Observations", 2, column)
    assert problem.value
    assert "5:00" in problem.expected


@pytest.mark.parametrize("cell", ["5:00", 300, "0:05:00", 300.0])
def test_a_time_typed_as_text_or_in_seconds_is_what_it_is_in_a_csv(cell: object) -> None:
    (one,) = seen_in([SEEN[0], ["burn-through", "yes", cell, None]])
    assert one.from_s == 300.0


def test_a_time_in_toml_is_refused_like_one_in_a_workbook() -> None:
    text = '[[observations]]\nobservation = "burn-through"\nseen = "yes"\nfrom = 05:00:00\n'
    (problem,) = problems_of(read_observations, GivenFile("seen.toml", text.encode()))
    assert (problem.column, problem.value) == ("From", "05:00:00")


@pytest.mark.parametrize("first", [0, 86399, 43200])
@pytest.mark.parametrize("written", ["clock", "dated"])
def test_a_clock_in_cells_of_a_workbook_is_read_at_any_second_of_the_day(
    first: int, written: str
) -> None:
    start = datetime(2026, 3, 1) + timedelta(seconds=first)  # noqa: DTZ001
    moments = [start + timedelta(seconds=step) for step in range(3)]
    cells = [one if written == "dated" else one.time() for one in moments]
    rows = [["Time clock", "L1 ext main"], *([cell, 18.0] for cell in cells)]
    log = read_log(book({"Log": rows})).log
    assert log.times_s.tolist() == [first, first + 1, first + 2]


# Which sheet is read.


def test_the_one_sheet_of_a_workbook_needs_no_remark() -> None:
    assert notes_of({"Log": LOG}) == ()


@pytest.mark.parametrize("names", [("Run 1", "Run 2"), ("Log", "Run 2"), ("Run 1", "Log")])
def test_of_two_logs_in_one_workbook_none_is_chosen(names: tuple[str, str]) -> None:
    found = problems_of(read_log, book({names[0]: LOG, names[1]: OTHER}))
    assert [one.sheet for one in found] == list(names)


@pytest.mark.parametrize(
    ("tabs", "hidden", "notes"),
    [
        (
            {"Old": OTHER, "Log": LOG},
            "Old",
            ('The log is read from the sheet "Log".', 'The hidden sheet "Old" is not read.'),
        ),
        (
            {"Log": OTHER, "Run 2": LOG},
            "Log",
            ('The log is read from the sheet "Run 2".', 'The hidden sheet "Log" is not read.'),
        ),
        (
            {"About": [["by hand"]], "Run 2": LOG},
            "",
            ('The log is read from the sheet "Run 2".', 'The sheet "About" is not read.'),
        ),
        (
            {"Log": LOG, "Observations": SEEN},
            "",
            ('The log is read from the sheet "Log".', 'The sheet "Observations" is not read.'),
        ),
        ({"Log": LOG, "Channels": CHANNELS}, "", ('The log is read from the sheet "Log".',)),
    ],
)
def test_what_is_read_and_what_is_not_is_said(
    tabs: Mapping[str, Rows], hidden: str, notes: tuple[str, ...]
) -> None:
    read = read_log(book(tabs, hidden))
    assert read.notes == notes
    assert read.log.channels[0].readings_c.tolist() == [18.25, 18.5]


def test_a_log_that_is_hidden_is_not_read() -> None:
    (problem,) = problems_of(read_log, book({"Log": LOG, "About": [["x"]]}, "Log"))
    assert (problem.sheet, "hidden" in problem.message) == ("Log", True)


def test_a_hidden_list_of_channels_places_none() -> None:
    listed: Rows = [CHANNELS[0], ["L1 ext main", 2, "internal", "no"]]
    read: ReadLog = read_log(book({"Log": LOG, "Channels": listed}, "Channels"))
    assert [one.level for one in read.log.channels] == [1]
    assert 'The hidden sheet "Channels" is not read.' in read.notes


@pytest.mark.parametrize(
    ("further", "hidden"),
    [("Observations 2", ""), ("Later", ""), ("Observations 2", "Observations 2")],
)
def test_a_list_beside_which_another_stands_is_refused(further: str, hidden: str) -> None:
    tabs = {"Observations": SEEN, further: [SEEN[0], ["burn-through", "yes", "500", "900"]]}
    (problem,) = problems_of(read_observations, book(tabs, hidden, "seen.xlsx"))
    assert problem.sheet == further


def test_a_list_in_the_workbook_of_its_log_is_read() -> None:
    tabs: Mapping[str, Rows] = {"Run 1": LOG, "Observations": SEEN, "Empty": []}
    assert len(read_observations(book(tabs, name="log.xlsx"))) == 1


# Formulas without a value, and errors.


def a_cell(tab: str, cell: str) -> GivenFile:
    """A workbook of a log and a list of its channels with one cell changed."""
    tabs: dict[str, list[list[object]]] = {
        "Log": [list(row) for row in LOG],
        "Channels": [list(row) for row in CHANNELS],
    }
    tabs[tab][1][-1] = cell
    return book(tabs)


@pytest.mark.parametrize("tab", ["Log", "Channels"])
def test_a_formula_that_was_never_calculated_is_no_empty_cell(tab: str) -> None:
    (problem,) = problems_of(read_log, a_cell(tab, '="bro"&"ken"'))
    assert (problem.file, problem.sheet, problem.row) == ("log.xlsx", tab, 2)
    assert problem.column == ("B" if tab == "Log" else "D")
    assert "formula without a value" in problem.message


@pytest.mark.parametrize("error", ["#N/A", "#DIV/0!"])
def test_an_error_is_no_reading_in_a_log_and_nothing_in_a_list(error: str) -> None:
    read = read_log(a_cell("Log", error))
    assert str(read.log.channels[0].readings_c[0]) == "nan"
    (problem,) = problems_of(read_log, a_cell("Channels", error))
    assert (problem.sheet, problem.value) == ("Channels", error)


@pytest.mark.parametrize("cell", ["=1+1", "#REF!"])
def test_a_cell_without_a_value_in_the_list_of_what_was_seen_is_refused(cell: str) -> None:
    rows: Rows = [SEEN[0], ["burn-through", cell, None, None]]
    (problem,) = problems_of(read_observations, book({"Observations": rows}, name="seen.xlsx"))
    assert (problem.sheet, problem.row, problem.column) == ("Observations", 2, "B")

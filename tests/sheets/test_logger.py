"""Logs as loggers write them; every one is invented."""

from contextlib import suppress
from datetime import datetime, time, timedelta
from io import BytesIO

import numpy as np
import pytest
import xlsxwriter
from hypothesis import given as any_of
from hypothesis import strategies as st

from portfolio.domain.errors import InputError
from portfolio.domain.observations import Observation, Sight
from portfolio.domain.traces import Face, Side
from portfolio.sheets.logger import MOST_PROBLEMS, ReadLog, read_log
from portfolio.sheets.logger_observations import read_observations
from portfolio.sheets.logger_table import MOST_CELLS
from portfolio.sheets.raw import GivenFile
from tests.sheets.support import workbook

CHANNELS = "Channel,Level,Side,Face,Position (mm),Layer,Use,Unit\n"


def file(text: str, name: str = "log.csv") -> GivenFile:
    return GivenFile(name, text.encode())


def read(text: str, channels: str = "", ignition: str = "") -> ReadLog:
    listed = file(CHANNELS + channels, "channels.csv") if channels else None
    return read_log(file(text), listed, ignition)


def refused(text: str, channels: str = "", ignition: str = "") -> list[str]:
    with pytest.raises(InputError) as error:
        read(text, channels, ignition)
    return [str(problem) for problem in error.value.problems]


def test_a_header_says_where_its_channel_is() -> None:
    (one, two) = read(
        "Time s,TC1: L1 ext wing 150 mm [°C],level 2 internal main -500 rear cavity\n0,18,19\n"
    ).log.channels
    assert (one.name, one.level, one.side, one.face, one.position_mm) == (
        ("TC1", 1, Side.EXTERNAL, Face.WING, 150.0)
    )
    assert (two.level, two.side, two.position_mm, two.layer) == (
        (2, Side.INTERNAL, -500.0, "rear cavity")
    )


@pytest.mark.parametrize(
    ("header", "cells", "expected"),
    [
        ("Time s", ("-300", "0,5", "10.25"), [-300, 0.5, 10.25]),
        ("Time (s)", ("0", "1", "2"), [0, 1, 2]),
        ("time", ("0", "1", "2"), [0, 1, 2]),
        ("Time min:s", ("-0:30", "0:00", "61:01.5"), [-30, 0, 3661.5]),
        ("Time clock", ("10:00:00", "10:00:01.5", "10:01:00"), [36000, 36001.5, 36060]),
        ("Time", ("23:59:59", "00:00:00", "00:00:01"), [86399, 86400, 86401]),
        # with the date beside it nothing has to be guessed: a whole day lies in between
        (
            "Time",
            ("2026-03-01 00:00:01", "2026-03-02 00:00:01", "2026-03-02 00:00:02"),
            [1, 86401, 86402],
        ),
    ],
)
def test_times_are_read_as_they_are_written(
    header: str, cells: tuple[str, ...], expected: list[float]
) -> None:
    rows = "".join(f"{cell};18,5\n" for cell in cells)
    log = read(f"{header};L1 ext main\n{rows}").log
    assert log.times_s.tolist() == expected
    assert log.channels[0].readings_c.tolist() == [18.5] * 3


def test_a_clock_that_passes_midnight_is_said_to() -> None:
    assert read("Time,L1 ext main\n23:59:59,18\n00:00:01,18\n").notes == (
        "The clock passes midnight at row 3.",
    )


def test_a_clock_that_goes_back_is_left_as_it_is() -> None:
    log = read("Time,L1 ext main\n10:00:00,18\n09:59:59,18\n10:00:01,18\n").log
    assert log.times_s.tolist() == [36000, 35999, 36001]
    assert log.clock_faults == (1,)


@pytest.mark.parametrize(
    ("header", "cells", "told"),
    [
        (
            "Time s",
            ("0", "1", "990", "2", "3"),
            'first at row 6 ("2"), after row 5 ("990"): nothing from row 5 on is used.',
        ),
        (
            "Time",
            ("10:00:00", "10:00:01", "23:59:59", "10:00:03", "10:00:04"),
            'first at row 6 ("10:00:03"), after row 5 ("23:59:59"): nothing from row 5 on',
        ),
        (
            "Time min:s",
            ("0:00", "0:01", "0:02", "0:02"),
            'first at row 6 ("0:02"), after row 5 ("0:02"): nothing from row 5 on',
        ),
        (
            "Time",
            ("2026-03-01 10:00:00", "2027-03-01 10:00:01", "2026-03-01 10:00:02"),
            'first at row 5 ("2026-03-01 10:00:02"), after row 4 ("2027-03-01 10:00:01")',
        ),
    ],
)
def test_a_fault_of_the_clock_is_told_by_the_row_and_the_time_in_the_file(
    header: str, cells: tuple[str, ...], told: str
) -> None:
    rows = "".join(f"{cell},18\n" for cell in cells)
    (_, note) = read(f"by hand\n{header},L1 ext main\n{rows}").notes
    assert told in note


@pytest.mark.parametrize("hour", range(24))
def test_one_odd_row_never_makes_another_day(hour: int) -> None:
    """Whatever time of day one row reads, those beside it stay where they are."""
    for odd in ("23:59:59", "00:00:00", "12:00:00"):
        cells = [f"{hour:02d}:20:{second:02d}" for second in range(10)]
        cells[5] = odd
        log = read("Time,L1 ext main\n" + "".join(f"{cell},18\n" for cell in cells)).log
        expected = [hour * 3600 + 20 * 60 + second for second in range(10)]
        used = log.times_s[: log.samples_in_order].tolist()
        assert used == expected[: len(used)]
        assert len(used) in (5, 10)


@pytest.mark.parametrize("cell", ["", "open", "OVERRANGE", "---", "NaN", "#N/A"])
def test_what_is_no_reading_is_none(cell: str) -> None:
    log = read(f"Time s,L1 ext main\n0,18\n1,{cell}\n").log
    np.testing.assert_array_equal(log.channels[0].readings_c, [18.0, np.nan])


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Time s,L1 ext main\n0,warm\n", 'log.csv, row 2, column "L1 ext main": "warm"'),
        ("Time s,L1 ext main [°F]\n0,64\n", '"°F": This unit is not read. Expected: °C'),
        ("Time s,L1 ext main\ns,K\n0,290\n", 'row 2, column "L1 ext main": "K"'),
        ("Time s,TC1\n0,18\n", "This header does not say where the channel is"),
        ("Time s,L1 ext main,L1 ext main\n0,18,18\n", "Two channels have this name"),
        ("Time s,L1 ext main\nnoon,18\n", 'column "Time s": "noon": This time cannot be read'),
        ("Time,L1 ext main\n0:01,18\n", "How these times are written cannot be told"),
        ("Time h,L1 ext main\n1,18\n", "How these times are written cannot be told"),
        ("Time s,L1 ext main\n", "There is no reading under the headers"),
        ("Time s\n0\n", "There is no channel"),
        ("", "There is no row of headers"),
        # decimal commas between commas: without a word 18,4 would be read as 18
        ("Time s,L1 ext main\n0,18,4\n", 'column "C": "4": There is no header over this cell'),
        ("Time s,L1 ext main,,L2 ext main\n0,18,7,18\n", 'column "C": "7": There is no header'),
        ("Time,L1 ext main\n2026-03-01 10:00:00,18\n10:00:01,18\n", "row 3, column"),
        (f"Time s,L1 ext main {'x' * 200}\n0,18\n", "This header is too long"),
        ('Time s,"L1 ext\nmain"\n0,18\n', 'row 1, column "B": "L1 ext\nmain": This header is'),
        ("Time s,L1 ext\tmain\n0,18\n", 'log.csv, row 1, column "B": "L1 ext'),
        ("Time s,L1 ext main \u202ex\n0,18\n", "or what cannot be shown"),
        # may be 1,012 °C, and must not become 1.012 °C
        ('Time s,L1 ext main\n0,"1,012"\n', '"1,012": This is no temperature'),
        ('Time s,L1 ext main\n"1,000",18\n', '"1,000": This time cannot be read'),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_place(text: str, expected: str) -> None:
    assert [told for told in refused(text) if expected in told], refused(text)


def test_every_problem_is_told_and_not_only_the_first() -> None:
    told = refused("Time s,L1 ext main,L2 ext main\n0,a,b\nx,18,c\n")
    assert len(told) == 4


def test_a_file_full_of_problems_does_not_fill_the_screen() -> None:
    rows = "".join(f"{at},x\n" for at in range(MOST_PROBLEMS + 50))
    told = refused(f"Time s,L1 ext main\n{rows}")
    assert len(told) == MOST_PROBLEMS + 1
    assert told[-1] == "There are 50 more problems like these."


def test_a_log_of_more_cells_than_anybody_needs_is_refused() -> None:
    heads = ",".join(f"TC{at}: L2 ext main" for at in range(99))
    told = refused(f"Time s,{heads}\n" + "0\n" * (MOST_CELLS // 100 + 1))
    assert told == [
        "log.csv: The log has 40,001 rows of 100 columns. Expected: at most 4,000,000 cells"
    ]


def test_lines_above_the_headers_are_passed_over_and_said_to_be() -> None:
    found = read("Run 12\nby hand\nTime s;L1 ext main\n0;18,5\n")
    assert found.log.channels[0].readings_c.tolist() == [18.5]
    assert found.notes == ("The 2 row(s) above the headers are not read.",)


# A list of channels beside the log.

LOG = "Time s,TC1,TC2,TC3\n0,18,19,20\n"


def test_a_list_says_where_channels_are_and_what_is_left_out() -> None:
    found = read(LOG, "TC1,1,external,main,-500,,,°C\nTC2,2,internal,,,cavity,broken,\n")
    (one, two) = found.log.channels
    assert (one.position_mm, two.is_declared_broken, two.face) == (-500.0, True, None)
    assert found.notes == ("TC3 is not in the list of channels: it is left out.",)


def test_a_channel_may_be_left_out_by_the_list_and_is_named() -> None:
    found = read(LOG, "TC1,1,external,main,,,,\nTC2,,,,,,no,\nTC3,1,external,wing,,,,\n")
    assert [c.name for c in found.log.channels] == ["TC1", "TC3"]
    assert found.notes == ("TC2 is left out by the list of channels.",)


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        ("TC1,,external,main,,,,", 'channels.csv, row 2, column "Level"'),
        ("TC1,1,,main,,,,", 'channels.csv, row 2, column "Side"'),
        ("TC1,12,external,main,,,,", "There is no such level"),
        ("TC1,1,outside,main,,,,", '"outside": This word is not known here'),
        ("TC1,1,external,front,,,,", '"front": This word is not known here'),
        ("TC1,1,external,main,left,,,", '"left": This cannot be read'),
        ("TC1,1,external,main,,,maybe,", '"maybe": This word is not known here'),
        ("TC1,1,external,main,,,,K", '"K": This unit is not read'),
        ("TC9,1,external,main,,,,", 'names "TC9", which is not in the log'),
        ("TC1,1,external,main,,,,\nTC1,1,external,wing,,,,", "stands in the list twice"),
    ],
)
def test_a_list_that_cannot_be_meant_is_refused(row: str, expected: str) -> None:
    told = refused(LOG, f"{row}\n")
    assert [one for one in told if expected in one], told


def test_a_list_may_be_toml() -> None:
    toml = '[[channels]]\nchannel = "TC1"\nlevel = 2\nside = "external"\nface = "wing"\n'
    log = read_log(file(LOG), file(toml, "channels.toml")).log
    assert [(c.name, c.level, c.face) for c in log.channels] == [("TC1", 2, Face.WING)]


@pytest.mark.parametrize(
    "toml",
    [
        "channels = " + "[" * 100_000,
        "[[channels]]\nchanel = 'TC1'\n",
        "channels = 3\n",
        "[",
        "[[other]]\na = 1\n",
    ],
)
def test_toml_that_says_something_else_is_refused(toml: str) -> None:
    with pytest.raises(InputError, match=r"channels\.toml"):
        read_log(file(LOG), file(toml, "channels.toml"))


# Workbooks.


def test_a_workbook_with_its_list_of_channels_is_read_alike() -> None:
    given = workbook(
        {
            "Log": [["Time s", "TC1"], [0, 18.25], [0.1, None]],
            "Channels": [["Channel", "Level", "Side", "Face"], ["TC1", 1, "external", "main"]],
        },
        "log.xlsx",
    )
    (channel,) = read_log(given).log.channels
    np.testing.assert_array_equal(channel.readings_c, [18.25, np.nan])


@pytest.mark.parametrize(
    ("moment", "shown", "expected"),
    [
        (time(23, 59, 59), "hh:mm:ss", 86399.0),
        (datetime(2026, 3, 1, 14, 5, 30), "yyyy-mm-dd hh:mm:ss", 50730.0),  # noqa: DTZ001
        (timedelta(minutes=61, seconds=1.5), "[h]:mm:ss.0", 3661.5),
    ],
)
def test_times_in_cells_of_a_workbook_are_times(
    moment: object, shown: str, expected: float
) -> None:
    stream = BytesIO()
    with xlsxwriter.Workbook(stream, {"in_memory": True}) as book:
        sheet = book.add_worksheet("Log")
        sheet.write_row(0, 0, ["Time clock", "L1 ext main"])
        sheet.write_datetime(1, 0, moment, book.add_format({"num_format": shown}))
        sheet.write_number(1, 1, 18)
    log = read_log(GivenFile("log.xlsx", stream.getvalue())).log
    assert log.times_s.tolist() == [pytest.approx(expected, abs=0.002)]


@pytest.mark.parametrize(
    "given",
    [
        file("Time s,L1 ext main\n0,18\n", "log.xlsx"),  # a wrong ending
        file("PK\x03\x04 not a workbook", "log.xlsx"),
        GivenFile("log.csv", b"PK\x03\x04"),
        GivenFile("log.csv", b"Time s,L1 ext main\n0,\xff\xfe\n"),
        file("Time s\n", "log.exe"),
        file("Time s," + ",".join(["x"] * 1000) + "\n", "log.csv"),
        GivenFile("log.csv", b"0" * 20_000_001),
    ],
)
def test_what_is_no_log_is_refused_with_a_sentence(given: GivenFile) -> None:
    with pytest.raises(InputError, match=given.name):
        read_log(given)


@any_of(st.text(max_size=200), st.sampled_from(["", "Time s,L1 ext main\n0,18\n"]))
def test_any_text_is_read_or_refused_in_words(text: str, before: str) -> None:
    given = GivenFile("log.csv", (before + text).encode("utf-8", "surrogatepass"))
    with suppress(InputError):
        log = read_log(given).log
        assert [c.readings_c.shape for c in log.channels] == [log.times_s.shape] * 1


# Ignition, on the log's own clock.


@pytest.mark.parametrize(
    ("header", "cells", "ignition", "expected"),
    [
        ("Time s", ("-10", "0", "10"), "0", 0.0),
        ("Time s", ("0", "300", "600"), "5:00", 300.0),
        ("Time min:s", ("0:00", "5:00", "6:00"), "5:00", 300.0),
        ("Time", ("14:00:00", "14:05:00", "14:06:00"), "14:05:00", 50700.0),
        ("Time", ("23:58:00", "00:01:00", "00:02:00"), "00:01:00", 86460.0),
        ("Time", ("2026-03-01 23:58:00", "2026-03-02 00:01:00"), "00:00:30", 86430.0),
        ("Time", ("2026-03-01 23:58:00", "2026-03-02 00:01:00"), "2026-03-02 00:00:30", 86430.0),
    ],
)
def test_ignition_is_on_the_clock_of_the_log(
    header: str, cells: tuple[str, ...], ignition: str, expected: float
) -> None:
    rows = "".join(f"{cell},18\n" for cell in cells)
    assert read(f"{header},L1 ext main\n{rows}", ignition=ignition).log.ignition_s == expected


@pytest.mark.parametrize(
    ("ignition", "expected"),
    [("noon", "cannot be read"), ("99", "does not hold"), ("-1", "does not hold")],
)
def test_ignition_outside_the_log_is_refused(ignition: str, expected: str) -> None:
    assert expected in refused("Time s,L1 ext main\n0,18\n1,18\n", ignition=ignition)[0]


# What was seen.


def test_observations_are_read_with_their_times() -> None:
    text = (
        "Observation,Seen,From,Until,Height (m),Note\n"
        "Flames above rig,yes,43:00,,,\nburn-through,yes,500,9:30,0.5,left\nearly-end,no,,,,\n"
    )
    assert read_observations(file(text, "seen.csv")) == (
        Observation(Sight.FLAMES_ABOVE_RIG, was_seen=True, from_s=2580.0),
        Observation(Sight.BURN_THROUGH, True, 500.0, 570.0, 0.5, "left"),
        Observation(Sight.EARLY_END, was_seen=False),
    )


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        ("smoke,yes,,,,", "Nothing of this name is watched for"),
        ("collapse,,,,,", "Whether it was seen must be told"),
        ("collapse,perhaps,,,,", "This word is not known here"),
        ("collapse,yes,late,,,", "This time cannot be read"),
        ("collapse,yes,10:00,9:00,,", "It cannot end before it began"),
        ("collapse,no,10:00,,,", '"10:00": What was not seen has no time'),
        ("collapse,no,,7:00,,", '"7:00": What was not seen has no time'),
        ("collapse,no,,,1.0,", '"1.0": What was not seen has no height'),
        ("collapse,yes,,,high,", "This cannot be read"),
    ],
)
def test_an_observation_that_cannot_be_meant_is_refused(row: str, expected: str) -> None:
    text = f"Observation,Seen,From,Until,Height (m),Note\n{row}\n"
    with pytest.raises(InputError, match=expected):
        read_observations(file(text, "seen.csv"))

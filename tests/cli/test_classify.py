"""A logger's file judged from the shell. The log is invented, so its answers are known."""

from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from tests.cli.conftest import Run
from tests.domain.invented_log import Course, make_log, stretch

Ask = Callable[..., Any]

HEADERS = {
    "L1 main": "TC1: L1 ext main 0 mm [°C]",
    "L1 wing": "TC2: L1 ext wing 150 mm [°C]",
    "L2 main": "TC3: L2 ext main 0 mm [°C]",
    "L2 wing": "TC4: L2 ext wing 150 mm [°C]",
    "L2 cavity": "TC5: L2 int main 0 mm cavity [°C]",
    "L3 main": "TC6: L3 ext main 0 mm [°C]",
}
NOT_SEEN = "Observation,Seen,From,Note\nflames-above-rig,no,,\nearly-end,no,,\nburn-through,no,,\n"
ASKED = ("--ignition", "300", "--annex", "B", "--test-edition", "2015+A1:2017")


def log_text(courses: dict[str, Course] | None = None) -> str:
    log = make_log(courses, step=5)
    lines = [",".join(["Time s", *(HEADERS[c.name] for c in log.channels)])]
    for at, time in enumerate(log.times_s):
        lines.append(",".join([f"{time:g}", *(f"{c.readings_c[at]:g}" for c in log.channels)]))
    return "\n".join(lines) + "\n"


@pytest.fixture
def log(folder: Path) -> Path:
    path = folder / "log.csv"
    path.write_text(log_text(), "utf-8")
    (folder / "seen.csv").write_text(NOT_SEEN, "utf-8")
    return path


def test_a_quiet_test_meets_everything(ask: Ask, log: Path) -> None:
    found = ask("classify", log, *ASKED, "--observations", "seen.csv")
    assert (found["answer"], found["keeps_from_telling"]) == ("met", [])
    assert found["start_temperature_c"] == 18.0
    # 200 K at 100 s exactly, read every 5 s
    assert (found["start_time_s"], found["start_time_earliest_s"]) == (100.0, 95.0)


def test_a_failure_is_told_with_channel_and_both_clocks(ask: Ask, log: Path) -> None:
    log.write_text(log_text({"L2 main": stretch(700.0, 500, 600)}), "utf-8")
    found = ask("classify", log, *ASKED, "--observations", "seen.csv")
    (external,) = [one for one in found["criteria"] if one["key"] == "external-spread"]
    assert (found["answer"], external["answer"], external["channel"]) == (
        ("not-met", "not-met", "TC3")
    )
    # 600 K lies six sevenths of the way from 495 s (half a K) to 500 s (700 K)
    assert external["from_ignition_s"] == pytest.approx(495 + 5 * 6 / 7, abs=1e-3)
    assert external["from_start_s"] == pytest.approx(395 + 5 * 6 / 7, abs=1e-3)


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (ASKED, "nobody wrote whether it was seen"),
        (("--annex", "B", "--observations", "seen.csv"), "time of ignition is not given"),
        (("--ignition", "300", "--observations", "seen.csv"), "the annex is not told"),
        (
            ("--ignition", "300", "--annex", "B", "--observations", "seen.csv"),
            "the edition that the test was done to is not told",
        ),
        (
            (*ASKED[:-1], "2020", "--observations", "seen.csv"),
            "cannot classify edition 2020",
        ),
    ],
)
def test_what_is_not_told_keeps_the_conclusion_open(
    ask: Ask, log: Path, words: tuple[str, ...], why: str
) -> None:
    found = ask("classify", log, *words)
    assert found["answer"] == "unknown"
    assert [text for text in found["keeps_from_telling"] if why in text]


def test_what_was_seen_is_told_with_its_times(run: Run, ask: Ask, log: Path, folder: Path) -> None:
    (folder / "seen.csv").write_text(NOT_SEEN + "pool-fire,yes,12:30,by the wing\n", "utf-8")
    seen = ask("classify", log, *ASKED, "--observations", "seen.csv")["observations"]
    assert [one["seen"] for one in seen] == [False, False, False, True]
    assert (seen[3]["from_ignition_s"], seen[3]["note"]) == (750.0, "by the wing")
    text = run("classify", log, *ASKED, "--observations", "seen.csv").stdout
    assert "pool fire: seen from 12:30: by the wing" in text


def test_people_read_criteria_channels_and_the_caution(run: Run, log: Path) -> None:
    result = run("classify", log, *ASKED, "--observations", "seen.csv")
    assert result.exit_code == 0
    for text in (
        "By BR 135, third edition (2013), annex B: met.",
        "Ts 18.0 °C.",
        "ts 1:40 after ignition on TC1",
        "from memory",
        "Level 3 is recorded and shown; no criterion is known for it.",
        "This program organises evidence.",
    ):
        assert text in result.stdout


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("missing.csv",), 2, "does not exist"),
        (("log.csv", "--annex", "Q"), 1, "No criteria are recorded"),
        (("log.csv", "--ignition", "noon"), 1, "The time of ignition cannot be read"),
        (("log.csv", "--channels", "seen.csv"), 1, "This column is missing"),
        (("seen.csv",), 1, "There is no row of headers"),
        (("log.csv", "--xlsx", "./log.csv"), 2, "written over a file that is read"),
        (("log.csv", "--xlsx", "no-such-folder/out.xlsx"), 1, "No such file or directory"),
        ((), 2, "Missing argument"),
    ],
)
def test_what_cannot_be_used_is_refused_in_words(
    run: Run, log: Path, words: tuple[str, ...], code: int, said: str
) -> None:
    result = run("classify", *words)
    assert result.exit_code == code
    assert said in result.stderr
    assert "Traceback" not in result.output


def test_nothing_of_a_database_is_needed_or_made(run: Run, log: Path, folder: Path) -> None:
    before = sorted(path.name for path in folder.iterdir())
    assert run("classify", log).exit_code == 0
    assert sorted(path.name for path in folder.iterdir()) == before


def test_the_workbook_holds_results_readings_and_native_charts(
    run: Run, log: Path, folder: Path
) -> None:
    words = ("--observations", "seen.csv", "--xlsx", "out.xlsx")
    assert run("classify", log, *ASKED, *words).exit_code == 0
    book = openpyxl.load_workbook(BytesIO((folder / "out.xlsx").read_bytes()))
    assert book.sheetnames == [
        *("Caution", "Conclusion", "Criteria", "Channels", "Observations"),
        *("Charts", "Readings", "Limits"),
    ]
    readings = list(book["Readings"].iter_rows(values_only=True))
    assert len(readings) == 1 + 781  # every 5 s from -300 s to 3600 s
    assert readings[1][:2] == (-300, 18)
    # level 1; levels 2 outside and inside; level 3
    charts = book["Charts"]._charts
    assert len(charts) == 4
    # each channel of the group, and its limit
    assert [len(chart.series) for chart in charts] == [3, 3, 2, 1]
    # as on the page: 600 K over 18 °C in the window of 15 min from ts, 200 K from ignition on
    limits = list(book["Limits"].iter_rows(min_row=2, values_only=True))
    ends = {title: [end for name, _, end, _ in limits if name == title] for title, *_ in limits}
    assert ends["Level 1, external"] == [0, 3600]
    assert ends["Level 2, external"] == ends["Level 2, internal"] == [100, 1000]
    assert ("Level 2, external", "600 K over Ts = 618.0 °C", 1000, 618) in limits


def test_a_cell_of_the_workbook_never_becomes_a_formula(run: Run, log: Path, folder: Path) -> None:
    seen = NOT_SEEN + 'collapse,yes,600,"=HYPERLINK(""http://example.test"")"\n'
    (folder / "seen.csv").write_text(seen, "utf-8")
    words = ("--observations", "seen.csv", "--xlsx", "out.xlsx")
    assert run("classify", log, *ASKED, *words).exit_code == 0
    book = openpyxl.load_workbook(folder / "out.xlsx")
    kinds = {c.data_type for row in book["Observations"].iter_rows() for c in row if c.value}
    assert kinds <= {"s", "n"}

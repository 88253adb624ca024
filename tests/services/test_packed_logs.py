"""A pack holds the kept logs of its tests: criteria, both clocks, conclusion, thinned charts."""

import io
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from portfolio.db.models import TestConsent
from portfolio.domain.caution import CAUTION
from portfolio.domain.documents import SeenBy
from portfolio.domain.evidence import Shows
from portfolio.packs.logs import PackLog
from portfolio.services.documents.contents import FOLDER_VARIABLE
from portfolio.services.log_readings import ReadingFacts, keep_reading
from portfolio.services.packed_logs import log_sheet, logs_of_tests_then
from portfolio.services.packs import building_pack
from portfolio.services.viewer import Viewer
from portfolio.sheets.writing import table_to_xlsx
from tests.cli.test_classify import NOT_SEEN, log_text
from tests.domain.invented_log import Course, stretch
from tests.services.documents_support import Papers, papers_in
from tests.services.world_support import log_at
from tests.web.portfolios import ON

# a peak of one reading, 605 s after ignition
PEAK = {"L2 main": stretch(777.0, 605, 605)}
READING = ReadingFacts("300", class_annex="A", test_edition="2015")


@pytest.fixture
def papers(database_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Papers]:
    """The north leans on its own test, and on the south's, which it sees in full."""
    folder = tmp_path / "documents"
    monkeypatch.setenv(FOLDER_VARIABLE, str(folder))
    with papers_in(database_url, folder) as found:
        yield found


def keep_log(
    papers: Papers,
    whose: str = "north",
    courses: dict[str, Course] | None = None,
    *,
    content: bytes | None = None,
    reading: ReadingFacts = READING,
    **more: Any,
) -> int:
    by, test = papers.estate.viewer(whose), papers.test(f"T-{whose}")
    shown = {"seen_by": SeenBy.WITH_FACT, "name": "log.csv", "reference": "LOG-7"} | more
    seen = papers.add(
        by, test, content=NOT_SEEN.encode(), name="seen.csv", seen_by=SeenBy.WITH_FACT
    )
    log = papers.add(by, test, content=content or log_text(courses).encode(), **shown)
    facts = replace(reading, observations=seen.id)
    with papers.estate.writing() as session:
        keep_reading(session, by, log.id, facts, revision=0, on=ON)
    return log.id


def book(papers: Papers, viewer: Viewer | None = None) -> Any:
    with papers.estate.reading() as session:
        by = viewer or papers.estate.viewer("north")
        content = building_pack(session, by, papers.building("B-north"), ON).content
    return openpyxl.load_workbook(io.BytesIO(content))


def logs(found: Any) -> list[str]:
    return [name for name in found.sheetnames if name.startswith("Log")]


def cells(sheet: Any) -> list[tuple[Any, ...]]:
    return [tuple(row) for row in sheet.iter_rows(values_only=True)]


def fact(sheet: Any, what: str) -> Any:
    return next(row[1] for row in cells(sheet) if row[0] == what)


def test_a_sheet_tells_criterion_by_criterion_with_both_clocks(papers: Papers) -> None:
    keep_log(papers, courses={"L2 main": stretch(700.0, 500, 600)})
    found = book(papers)
    assert logs(found) == ["Log T-north"]
    sheet = found["Log T-north"]
    assert fact(sheet, "Caution") == CAUTION
    assert fact(sheet, "Conclusion") == "By BR 135, third edition (2013), annex A: not met."
    rows = cells(sheet)
    at = next(number for number, row in enumerate(rows) if row[0] == "Criterion")
    told = dict(zip(rows[at], rows[at + 1], strict=True))
    assert told["Criterion"] == "External fire spread"
    assert (told["Answer"], told["Channel"]) == ("not met", "TC3")
    assert told["From ignition (min:s)"] == "8:19.3"
    assert told["From ts (min:s)"] == "6:39.3"
    assert told["Threshold"].startswith("no rise of more than 600 K over Ts")
    assert told["Measured"].startswith("highest rise 700.0 K on TC3")
    assert told["Status of the source"] == "from memory"
    assert told["Source"]


def test_what_keeps_the_conclusion_from_being_drawn_is_said(papers: Papers) -> None:
    keep_log(papers, reading=replace(READING, test_edition=""))
    sheet = book(papers)["Log T-north"]
    assert fact(sheet, "Conclusion").endswith("cannot be told.")
    assert "the edition that the test was done to is not told" in fact(sheet, "Cannot be told")


def test_no_peak_is_lost_in_the_charts_and_the_limit_is_drawn(papers: Papers) -> None:
    keep_log(papers, courses=PEAK)
    sheet = book(papers)["Log T-north"]
    # a chart for each level and side
    assert len(sheet._charts) == 4
    assert "Thinned: of every 60 s" in fact(sheet, "Readings in the charts")
    rows = cells(sheet)
    heads = next(row for row in rows if row[1] == "TC1, level 1, external, main, 0 mm (°C)")
    columns = {head: place for place, head in enumerate(heads) if head}
    below = rows[rows.index(heads) + 1 :]
    [place] = [place for head, place in columns.items() if str(head).startswith("TC3")]
    shown = {row[place - 1]: row[place] for row in below if row[place] is not None}
    assert shown[605] == 795.0
    assert (min(shown), max(shown)) == (-300, 3600)
    assert len(shown) < 300
    limits = [str(head) for head in columns if "600 K over Ts" in str(head)]
    assert limits == ["600 K over Ts = 618.0 °C"]
    drawn = [len(chart.series) for chart in sheet._charts]
    # two channels with their limit at level 1 and outside at level 2, one inside, one without
    assert drawn == [3, 3, 2, 1]


def test_a_log_of_which_nothing_is_kept_stands_in_no_pack(papers: Papers) -> None:
    north, content = papers.estate.viewer("north"), log_text().encode()
    papers.add(north, papers.test("T-north"), content=content, name="log.csv")
    assert logs(book(papers)) == []


def test_a_log_stands_in_the_packs_of_those_only_who_see_its_test_in_full(papers: Papers) -> None:
    keep_log(papers, "south")
    assert logs(book(papers)) == ["Log T-south"]
    with papers.estate.writing() as session:
        session.query(TestConsent).one().shows = Shows.REFERENCE
    assert logs(book(papers)) == []


def test_a_log_that_its_holder_keeps_to_itself_stands_in_no_other_pack(papers: Papers) -> None:
    keep_log(papers, "south", seen_by=SeenBy.OWN)
    assert logs(book(papers)) == []


@pytest.mark.parametrize("damage", ["missing", "altered"])
def test_a_damaged_log_is_said_and_the_pack_is_made_all_the_same(
    papers: Papers, damage: str
) -> None:
    keep_log(papers)
    for name in papers.files:
        place = papers.contents._place(name)
        if damage == "missing":
            place.unlink()
        else:
            place.write_bytes(b"altered")
    found = book(papers)
    sheet = found["Log T-north"]
    assert "The log, log.csv (document 2), is missing or not as it was added" in fact(
        sheet, "Cannot be told"
    )
    assert sheet._charts == []
    assert "Tests" in found.sheetnames


def test_a_channels_name_is_never_a_formula(papers: Papers) -> None:
    content = log_text().replace("TC4", "Elsewhere!A1", 1).encode()
    keep_log(papers, content=content)
    sheet = book(papers)["Log T-north"]
    assert "Elsewhere!A1, level 2, external, wing, +150 mm (°C)" in str(cells(sheet))
    named = [one.tx.strRef.f for chart in sheet._charts for one in chart.series]
    assert all(name.startswith("'Log T-north'!") for name in named)
    assert len(named) == 9


def test_two_logs_of_one_test_have_sheets_of_their_own(papers: Papers) -> None:
    keep_log(papers)
    keep_log(papers, courses=PEAK)
    assert logs(book(papers)) == ["Log T-north", "Log T-north 2"]


def test_a_long_reference_makes_a_name_that_a_spreadsheet_program_takes() -> None:
    sheets = [log_sheet(PackLog(f"T/{'x' * 50}{number}", (("Test", "T"),))) for number in (1, 2)]
    found = openpyxl.load_workbook(io.BytesIO(table_to_xlsx([], CAUTION, further=sheets)))
    _, first, second = found.sheetnames
    assert len(first) <= 31
    assert len(second) <= 31
    assert first != second


def test_an_earlier_pack_reads_the_log_as_it_was_kept_then(
    papers: Papers, monkeypatch: pytest.MonkeyPatch
) -> None:
    log_at(monkeypatch, date(2026, 2, 1))
    log = keep_log(papers)
    log_at(monkeypatch, date(2026, 2, 10))
    north = papers.estate.viewer("north")
    with papers.estate.writing() as session:
        keep_reading(session, north, log, replace(READING, ignition="400"), revision=1, on=ON)

    def ignition(day: date) -> list[str]:
        tests = [papers.test("T-north").id]
        with papers.estate.reading() as session:
            found = logs_of_tests_then(session, north, tests, day, today=ON)
        return [one.kept.facts.ignition for one in found]

    assert ignition(date(2026, 1, 31)) == []
    assert ignition(date(2026, 2, 1)) == ["300"]
    assert ignition(date(2026, 2, 10)) == ["400"]


def test_an_earlier_pack_holds_no_log_that_may_not_be_seen_today(papers: Papers) -> None:
    keep_log(papers, "south")
    keep_log(papers)
    tests = [papers.test(ref).id for ref in ("T-north", "T-south")]
    today = datetime.now(UTC).date()

    def named() -> list[str]:
        with papers.estate.reading() as session:
            north = papers.estate.viewer("north")
            found = logs_of_tests_then(session, north, tests, today, today=ON)
        return [one.test for one in found]

    assert named() == ["T-north", "T-south"]
    with papers.estate.writing() as session:
        session.query(TestConsent).one().shows = Shows.REFERENCE
    assert named() == ["T-north"]

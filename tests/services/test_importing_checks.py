"""What an import refuses to write: days to come, and changes of standing without a reason."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

import pytest
import sqlalchemy as sa

from portfolio.db import models
from portfolio.domain.errors import Problem
from portfolio.sheets.raw import GivenFile
from tests.services.importing_support import ESTATE, ON, Store, opened
from tests.sheets.support import Row, building, csv_file, layer, record, zone

TODAY, TOMORROW = ON.isoformat(), (ON + timedelta(days=1)).isoformat()
OPENED = {"role": "facing", "material": "clay-brick"}


@pytest.fixture
def estate(database_url: str) -> Iterator[Store]:
    with opened(database_url) as found:
        found.take_in(*ESTATE)
        yield found


def problems(estate: Store, *files: GivenFile) -> list[Problem]:
    return list(estate.plan(*files).problems)


@pytest.mark.parametrize(
    ("sheet", "cells", "column"),
    [
        ("layers", layer(survey="S-2", **OPENED, survey_date="{}"), "Survey date"),
        ("tests", record(test="T-2", tested_on="{}"), "Tested on"),
        ("tests", record(test="T-2", report_on="{}"), "Report date"),
        ("tests", record(tested_on="{}"), "Tested on"),
        ("buildings", building(building="B-2", top_floor_height_m="9", height_date="{}"), None),
        ("heights", building(top_floor_height_m="19", height_date="{}"), None),
    ],
    ids=["survey", "new test", "new report", "changed test", "new building", "further height"],
)
def test_nothing_was_seen_on_a_day_to_come(
    estate: Store, sheet: str, cells: Row, column: str | None
) -> None:
    def dated(day: str) -> GivenFile:
        return csv_file(sheet, {key: str(cell).replace("{}", day) for key, cell in cells.items()})

    assert problems(estate, dated(TODAY)) == []
    [problem] = problems(estate, dated(TOMORROW))
    assert (problem.file, problem.row) == (f"{sheet}.csv", 2)
    assert problem.column == (column or "Height date")
    assert (problem.value, problem.expected) == (TOMORROW, f"a day up to {TODAY}")


@pytest.mark.parametrize(
    ("cells", "refused"),
    [
        ({"standing": "withdrawn"}, True),
        ({"standing": "withdrawn", "standing_note": " "}, True),
        ({"standing": "withdrawn", "standing_note": "by its sponsor"}, False),
        ({"standing": "live"}, False),
        ({"standing": ""}, False),
        ({"title": "another title"}, False),
    ],
)
def test_a_change_of_standing_says_why(estate: Store, cells: dict[str, str], refused: bool) -> None:
    found = problems(estate, csv_file("tests", record(**cells)))
    assert [problem.column for problem in found] == ["Standing note"] * refused


@pytest.mark.parametrize(
    "failed",
    [{"printed_outcome": "failed"}, {"external_spread": "not met"}, {"no_early_end": "not met"}],
)
@pytest.mark.parametrize("instead", ["met", "unknown"])
def test_a_failure_does_not_go_away_without_a_reason(
    estate: Store, failed: dict[str, str], instead: str
) -> None:
    """By whatever it was told that the test failed, and whatever is said instead."""
    [(column, _)] = failed.items()
    words = {"met": "passed", "unknown": "not told"} if column == "printed_outcome" else {}
    milder = {column: words.get(instead, instead)}
    estate.take_in(csv_file("tests", record(**failed)))
    [problem] = problems(estate, csv_file("tests", record(**milder)))
    assert problem.column == "Standing note"
    assert "failed" in problem.message
    told = {"standing_note": "the laboratory has corrected its report"}
    assert problems(estate, csv_file("tests", record(**milder, **told))) == []
    assert problems(estate, csv_file("tests", record(**failed, title="another title"))) == []


def test_the_reason_of_an_earlier_change_is_none_for_the_next(estate: Store) -> None:
    told = {"standing_note": "by its sponsor"}
    estate.take_in(csv_file("tests", record(standing="withdrawn", **told)))
    [problem] = problems(estate, csv_file("tests", record(standing="live", **told)))
    assert problem.column == "Standing note"
    again = {"standing": "live", "standing_note": "the sponsor has been heard"}
    assert problems(estate, csv_file("tests", record(**again))) == []


@pytest.mark.parametrize(
    ("first", "cell", "kept"),
    [("yes", "", True), ("yes", "no", False), ("no", "", False), ("no", "yes", True)],
)
def test_an_empty_cell_makes_no_part_of_the_wall_of_a_balcony(
    estate: Store, first: str, cell: str, kept: bool
) -> None:
    estate.take_in(csv_file("zones", zone(attachment=first)))
    estate.take_in(csv_file("zones", zone(attachment=cell, face="north")))
    with estate.session() as session:
        query = sa.select(models.Zone.is_attachment).where(models.Zone.ref == "Z-1")
        assert session.scalar(query) is kept


def test_an_unknown_attachment_is_not_taken_for_a_part_of_the_wall(estate: Store) -> None:
    """Else tests of walls would count for what may be a balcony."""
    [problem] = problems(estate, csv_file("zones", zone(attachment="unknown")))
    assert (problem.column, problem.row, problem.value) == ("Attachment", 2, "unknown")


@pytest.mark.parametrize(
    ("first", "second", "kept"),
    [
        (("new", "2023-05-01"), ("", ""), ("new", date(2023, 5, 1))),
        (("new", "2023-05-01"), ("new", ""), ("new", date(2023, 5, 1))),
        (("new", "2023-05-01"), ("new", "2023-06-01"), ("new", date(2023, 6, 1))),
        (("new", "2023-05-01"), ("existing", ""), ("existing", None)),
        (("", ""), ("new", ""), ("new", None)),
    ],
)
def test_an_empty_cell_makes_no_existing_wall_of_new_work(
    estate: Store, first: tuple[str, str], second: tuple[str, str], kept: tuple[str, date | None]
) -> None:
    for place, (work, counted) in enumerate((first, second)):
        cells = zone(work=work, work_counted_on=counted, face=f"face {place}")
        estate.take_in(csv_file("zones", cells))
    with estate.session() as session:
        query = sa.select(models.Zone.work, models.Zone.work_counted_on)
        assert session.execute(query.where(models.Zone.ref == "Z-1")).one() == kept


@pytest.mark.parametrize("word", ["unknown", "?", "N/K", "not known", "-"])
@pytest.mark.parametrize("ref", ["Z-1", "Z-NEW"])
def test_an_unknown_kind_of_work_makes_no_existing_wall_of_new_work(
    estate: Store, word: str, ref: str
) -> None:
    """Else a route that is shut to new work would open; a new zone is told so too."""
    estate.take_in(csv_file("zones", zone(work="new", work_counted_on="2023-05-01")))
    [problem] = problems(estate, csv_file("zones", zone(zone=ref, work=word)))
    assert (problem.column, problem.value) == ("Kind of work", word)
    assert "new" in problem.expected


@pytest.mark.parametrize(
    ("work", "counted", "column"),
    [
        ("existing", "2023-05-01", "Work counted on"),
        ("", "2023-05-01", "Work counted on"),
        ("new", "2999-01-01", "Work counted on"),
        ("renewed", "", "Kind of work"),
    ],
)
def test_a_day_on_which_work_counted_belongs_to_new_work(
    estate: Store, work: str, counted: str, column: str
) -> None:
    [problem] = problems(estate, csv_file("zones", zone(work=work, work_counted_on=counted)))
    assert (problem.column, problem.row) == (column, 2)

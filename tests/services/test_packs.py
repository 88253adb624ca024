"""The evidence pack of a building: everything in it, the caution first, and no more of a report
than may be shown."""

import io
from collections.abc import Iterator
from datetime import date
from typing import Any

import openpyxl
import pytest

from portfolio.db.models import Building, Decision, Organisation
from portfolio.domain.caution import CAUTION
from portfolio.domain.errors import NotFoundError
from portfolio.domain.evidence import Answer3, Outcome, Shows
from portfolio.services.packs import building_pack, find_building
from tests.services.world_support import Estate, consent, estate_in
from tests.web.portfolios import ON, wall

SHEETS = (
    "About",
    "Facts",
    "Zones",
    "Build-ups",
    "Surveys",
    "Comparison",
    "Gaps",
    "To find out",
    "Close failures",
    "Tests",
    "Decisions",
    "Works",
    "Works history",
    "Documents",
    "Sources",
)
_FAILED = {"external_spread": Answer3.NOT_MET, "printed_outcome": Outcome.FAILED}


@pytest.fixture
def estate(database_url: str) -> Iterator[Estate]:
    with estate_in(database_url) as found:
        yield found


def fill(estate: Estate, **said: Any) -> int:
    """A building with a covered zone and a gap, a test of a holder, and a decision."""
    with estate.filling() as portfolio:
        owner, holder = portfolio.organisation(ref="owner"), portfolio.organisation(ref="holder")
        portfolio.organisation(ref="consultancy")
        portfolio.test(owner, ref="T-OWN", title="Own title")
        theirs = portfolio.test(
            holder,
            ref="T-THEIRS",
            title="Secret title",
            build_up=wall(cavity__depth="61.5"),
            class_edition="third edition (2013)",
        )
        if said:
            consent(portfolio, theirs, owner, **said)
        building = portfolio.building(owner, ref="B-1", name="Tall House", heights=(33.0,))
        covered = portfolio.zone(building, ref="Z-COVERED")
        portfolio.zone(building, ref="Z-GAP", wall=wall(cavity__depth="80"))
        decision = Decision(
            zone_id=covered.id,
            ruling="leave it as it is",
            by="An engineer",
            on=date(2026, 2, 1),
            reasons="the reasons",
        )
        portfolio.session.add(decision)
        found: int = building.id
    return found


def opened(estate: Estate, building_id: int, who: str = "owner", **more: Any) -> Any:
    with estate.reading() as session:
        content = building_pack(session, estate.viewer(who, **more), building_id, ON).content
    return openpyxl.load_workbook(io.BytesIO(content))


def cells(sheet: Any) -> list[tuple[Any, ...]]:
    return [tuple(row) for row in sheet.iter_rows(values_only=True)]


def test_the_pack_begins_with_the_caution_and_has_every_section(estate: Estate) -> None:
    book = opened(estate, fill(estate))
    first, *others = book.sheetnames
    assert CAUTION in str(cells(book[first]))
    assert tuple(others) == SHEETS


def test_every_section_says_what_it_is_for(estate: Estate) -> None:
    book = opened(estate, fill(estate))
    holds = {
        "About": "B-1 Tall House",
        "Facts": "England",
        "Zones": "Z-COVERED",
        "Build-ups": "Z-GAP",
        "Surveys": "opening-up",
        "Comparison": "T-OWN",
        "Gaps": "Z-GAP",
        "Tests": "Own title",
        "Decisions": "leave it as it is",
        "Sources": "as tested",
    }
    told = {title: str(cells(book[title])).casefold() for title in holds}
    assert [title for title, text in holds.items() if text.casefold() not in told[title]] == []


def test_only_gaps_stand_among_the_gaps(estate: Estate) -> None:
    rows = cells(opened(estate, fill(estate))["Gaps"])[1:]
    assert [row[0] for row in rows] == ["Z-GAP"]


def test_what_is_not_known_is_to_be_found_out(estate: Estate) -> None:
    building_id = fill(estate)
    with estate.filling() as portfolio:
        building = portfolio.session.get(Building, building_id)
        portfolio.zone(building, ref="Z-THIN", wall=wall(insulation__material=""))
    rows = cells(opened(estate, building_id)["To find out"])[1:]
    assert ("Z-THIN", "insulation: material") in [row[:2] for row in rows]


@pytest.mark.parametrize(
    ("shows", "is_shown"), [(Shows.EVERYTHING, True), (Shows.REFERENCE, False)]
)
def test_a_report_is_in_the_pack_as_far_as_consent_lets_it(
    estate: Estate, shows: Shows, *, is_shown: bool
) -> None:
    book = opened(estate, fill(estate, shows=shows))
    tests = {row[0]: row for row in cells(book["Tests"])[1:]}
    compared = [row for row in cells(book["Comparison"])[1:] if row[1] == "T-THEIRS"]
    assert "T-THEIRS" in tests
    assert compared
    told = str((tests["T-THEIRS"], compared, cells(book["Sources"])))
    words = ("Secret title", "61.5", "third edition (2013) classifies")
    gates = str(tests["T-THEIRS"][-1])
    found = [words[0] in told, words[1] in told, words[2] in gates]
    assert found == [is_shown] * 3


def test_a_consultancy_takes_away_the_zones_and_only_references_of_the_owners_reports(
    estate: Estate,
) -> None:
    building_id = fill(estate)
    book = opened(estate, building_id, "consultancy", to=(building_id,))
    tests = {row[0]: row[1] for row in cells(book["Tests"])[1:]}
    assert tests == {"T-OWN": "(reference and outcome only)"}
    assert "Z-COVERED" in str(cells(book["Zones"]))


def test_a_building_that_is_not_open_has_no_pack(estate: Estate) -> None:
    building_id = fill(estate)
    with estate.reading() as session:
        viewer = estate.viewer("consultancy")
        for wanted in (building_id, building_id + 1000):
            with pytest.raises(NotFoundError, match="^There is no such building.$"):
                building_pack(session, viewer, wanted, ON)
        with pytest.raises(NotFoundError):
            find_building(session, viewer, "B-1")


def test_a_failing_test_stands_in_the_pack_of_what_it_contradicts(estate: Estate) -> None:
    building_id = fill(estate)
    with estate.filling() as portfolio:
        owner = portfolio.session.get(Organisation, estate.organisation("owner"))
        portfolio.test(owner, ref="T-FAILED", **_FAILED)
    book = opened(estate, building_id)
    tests = {row[0]: row[6] for row in cells(book["Tests"])[1:]}
    assert tests["T-FAILED"] == "failed"
    assert "contradicted" in str(cells(book["Zones"]))

"""Failing tests close to a zone: of what its owner sees, and shown as far as consent lets it."""

from collections.abc import Iterator
from typing import Any

import openpyxl
import pytest
import sqlalchemy as sa

from portfolio.db.models import Zone
from portfolio.domain.evidence import Answer3, Consent, Outcome, Shows, Standing
from portfolio.services.close_failures import CloseTest, close_to
from portfolio.services.explaining import explain, explain_fully
from portfolio.services.packs import building_pack
from tests.services.world_support import Estate, consent, estate_in
from tests.web.portfolios import ON, wall

FAILED: dict[str, Any] = {
    "external_spread": Answer3.NOT_MET,
    "printed_outcome": Outcome.FAILED,
}
WORSE_CORE = wall(facing__core_category="3", facing__calorific_value="44")


@pytest.fixture
def estate(database_url: str) -> Iterator[Estate]:
    with estate_in(database_url) as found:
        yield found


def fill(estate: Estate, said: dict[str, Any] | None = None, **more: Any) -> int:
    """An owner's zone, and a holder's failing test of the same wall with a worse core."""
    with estate.filling() as portfolio:
        owner, holder = portfolio.organisation(ref="owner"), portfolio.organisation(ref="holder")
        test = portfolio.test(holder, ref="T-F", build_up=WORSE_CORE, **(FAILED | more))
        if said is not None:
            consent(portfolio, test, owner, **said)
        building = portfolio.building(owner, ref="B-1")
        portfolio.zone(building, ref="Z-1")
        return building.id


def told(estate: Estate) -> tuple[CloseTest, ...]:
    viewer = estate.viewer("owner")
    with estate.reading() as session:
        zone_id = session.scalars(sa.select(Zone.id)).one()
        return close_to(session, viewer, explain(session, viewer, zone_id, ON), ON)


def test_what_alone_keeps_a_zone_from_a_failing_test_is_told_with_both_values(
    estate: Estate,
) -> None:
    fill(estate, {"consent": Consent.GIVEN, "shows": Shows.EVERYTHING})
    [found] = told(estate)
    assert (found.test, found.parameter, found.apart) == (
        "T-F",
        "facing.1.core_category",
        "milder",
    )
    assert "opening-up" in found.provenance
    assert found.zone_value != found.test_value
    assert "one thing alone keeps this wall from it: the facing core category" in found.sentence


def test_of_a_test_that_may_not_be_shown_only_that_it_is_close_is_told(estate: Estate) -> None:
    """Which thing keeps it apart tells what was tested: full-fill barriers are milder than none."""
    fill(estate, {"consent": Consent.GIVEN, "shows": Shows.REFERENCE})
    [found] = told(estate)
    assert found == CloseTest(found.test, "", "", "not shown", "", "", "")
    assert found.sentence.endswith("one thing alone keeps this wall from it: not shown.")


@pytest.mark.parametrize("said", [None, {"consent": Consent.ASKED}, {"consent": Consent.REFUSED}])
def test_a_failing_test_that_the_owner_does_not_see_is_close_to_nothing(
    estate: Estate, said: dict[str, Any] | None
) -> None:
    fill(estate, said)
    assert told(estate) == ()


def test_a_withdrawn_failing_test_is_close_to_nothing(estate: Estate) -> None:
    fill(estate, {"consent": Consent.GIVEN}, standing=Standing.WITHDRAWN)
    assert told(estate) == ()


def test_the_pack_has_a_sheet_of_them(estate: Estate, tmp_path: Any) -> None:
    building_id = fill(estate, {"consent": Consent.GIVEN, "shows": Shows.EVERYTHING})
    with estate.reading() as session:
        content = building_pack(session, estate.viewer("owner"), building_id, ON).content
    (tmp_path / "pack.xlsx").write_bytes(content)
    sheet = openpyxl.load_workbook(tmp_path / "pack.xlsx")["Close failures"]
    rows = [tuple(row) for row in sheet.iter_rows(values_only=True)]
    assert rows[1][:4] == ("Z-1", "T-F", "facing: core category", "milder")


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"cavity__depth": "90"}, "no side of this is known to be milder, so it acquits nothing"),
        ({"facing__joint": "closed"}, "no side of this is known to be milder"),
        ({"insulation__class": "B-s1,d0"}, "acquits nothing: the class is of a board as it is"),
        ({"insulation__thickness": "60"}, "acquits nothing: more of a combustible layer"),
        ({"facing__core_category": "2", "facing__calorific_value": "9"}, "not known to be milder"),
    ],
)
def test_a_difference_from_a_failing_test_says_what_side_is_milder_or_that_none_is(
    estate: Estate, changed: dict[str, str], says: str
) -> None:
    with estate.filling() as portfolio:
        owner = portfolio.organisation(ref="owner")
        portfolio.test(owner, ref="T-F", **FAILED)
        portfolio.test(owner, ref="T-P", build_up=wall(cavity__depth="40"))
        portfolio.zone(portfolio.building(owner), wall=wall(**changed))
    viewer = estate.viewer("owner")
    with estate.reading() as session:
        zone_id = session.scalars(sa.select(Zone.id)).one()
        found = explain_fully(session, viewer, zone_id, ON)
    sides = {c.test.ref: [row.side for row in c.rows if row.side] for c in found.comparisons}
    assert any(side.startswith(says) for side in sides["T-F"])
    assert sides["T-P"] == []

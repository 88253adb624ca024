"""Whatever a zone's coverage rests on stands in a pack, however many tests are nearer."""

from collections.abc import Iterator
from typing import Any

import pytest

from portfolio.db.models import Organisation
from portfolio.domain.evidence import Answer3, EvidenceKind, Outcome, Standing
from portfolio.domain.leaning import tests_named as names_in
from portfolio.services.explaining import Explanation, explain, explain_fully
from portfolio.services.pack_tests import comparisons_in_pack
from portfolio.services.pack_tests import tests_in_pack as ids_in_pack
from portfolio.services.packs import gather_pack
from tests.services.world_support import Estate, estate_in
from tests.web.portfolios import ON, wall

FOAM = {
    "insulation__material": "pir-foam",
    "insulation__class": "E",
    "facing__core_category": "3",
    "facing__calorific_value": "44",
    "facing__class": "D-s2,d0",
}
#: the same decisive materials, and nothing else alike
FAR = wall(
    **FOAM,
    frame__thickness="300",
    cavity__depth="200",
    facing__joint_width="40",
    facing__thickness="8",
    barrier_horizontal__spacing="9000",
    barrier_vertical__spacing="12000",
)
FAILED = {"external_spread": Answer3.NOT_MET, "printed_outcome": Outcome.FAILED}
FALLEN: dict[str, dict[str, Any]] = {
    "against": FAILED,
    "against, disputed": FAILED | {"standing": Standing.DISPUTED},
    "in doubt": FAILED | {"standing": Standing.WITHDRAWN},
}


@pytest.fixture
def estate(database_url: str) -> Iterator[Estate]:
    with estate_in(database_url) as found:
        yield found


def fill(estate: Estate, nearer: int, **failed: Any) -> tuple[int, int]:
    """A zone that a far-off test speaks against, with passing tests that are much nearer."""
    with estate.filling() as portfolio:
        owner = portfolio.organisation(ref="owner")
        portfolio.test(owner, ref="T-FAR", build_up=FAR, **failed)
        for number in range(nearer):
            portfolio.test(owner, ref=f"T-{number}", build_up=wall(**FOAM))
        building = portfolio.building(owner, ref="B-1")
        zone = portfolio.zone(building, ref="Z-1", wall=wall(**FOAM))
        return building.id, zone.id


def compared(estate: Estate, zone_id: int) -> list[Explanation]:
    """The zone as a pack of today compares it, and as one of an earlier day does."""
    with estate.reading() as session:
        owner = estate.viewer("owner")
        return [ask(session, owner, zone_id, ON) for ask in (explain, explain_fully)]


@pytest.mark.parametrize("nearer", [0, 2, 3, 7])
@pytest.mark.parametrize("failed", FALLEN.values(), ids=FALLEN)
def test_a_test_that_the_coverage_names_stands_in_the_pack_however_far_off_it_is(
    estate: Estate, failed: dict[str, Any], nearer: int
) -> None:
    building_id, zone_id = fill(estate, nearer, **failed)
    for found in compared(estate, zone_id):
        held = {comparison.test.ref for comparison in comparisons_in_pack(found)}
        named = {ref for ref, _ in names_in(found.coverage)}
        assert "T-FAR" in named
        assert {*named, *found.coverage.tests} <= held
    with estate.reading() as session:
        pack, test_ids = gather_pack(session, estate.viewer("owner"), building_id, ON)
    [zone] = pack.zones
    told = {test.ref for test, _ in pack.tests}
    assert {*zone.coverage.tests, "T-FAR"} <= told
    assert {line.test for line in zone.lines} == told
    assert len(test_ids) == len(told)


def test_what_an_assessment_leans_on_and_other_records_of_a_report_stand_in_the_pack(
    estate: Estate,
) -> None:
    """Coverage falls with either, so that a pack has to hold both."""
    _, zone_id = fill(estate, 1, **FAILED)
    far: dict[str, Any] = {"build_up": wall(facing__material="glass", cavity__depth="300")}
    with estate.filling() as portfolio:
        holder = portfolio.session.get_one(Organisation, estate.organisation("owner"))
        portfolio.test(holder, ref="T-BASIS", report_ref="R/12", **far)
        portfolio.test(holder, ref="T-ISSUE", report_ref="r 12", report_issue="2", **far)
        assessment = {"kind": EvidenceKind.ASSESSMENT, "author": "An engineer"}
        near = {"build_up": wall(**FOAM), "leans_on": ["T-BASIS"]}
        portfolio.test(holder, ref="A-1", **near, **assessment)
    for found in compared(estate, zone_id):
        held = {comparison.test.ref for comparison in comparisons_in_pack(found)}
        assert {"A-1", "T-BASIS", "T-ISSUE", "T-FAR"} <= held


def test_a_pack_holds_no_test_that_is_neither_near_nor_named(estate: Estate) -> None:
    _, zone_id = fill(estate, 7, **FAILED)
    everything = compared(estate, zone_id)[1]
    assert len(ids_in_pack([everything])) < len(everything.comparisons)

"""What is compared and what would settle a zone, where several hold a test of one reference, and
where consents keep a report from being shown."""

from collections.abc import Iterator
from typing import Any

import pytest
import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import models
from portfolio.domain.errors import NotFoundError
from portfolio.domain.evidence import Answer3, Consent, Outcome, Shows, Standing
from portfolio.domain.settling import Settling
from portfolio.services.comparing import Comparison, compare
from portfolio.services.explaining import explain
from portfolio.services.failed_tests import failed_for
from portfolio.services.find_out import find_out
from portfolio.services.references import pair_named
from portfolio.services.settling import settling_of
from portfolio.services.viewer import LOCAL, Viewer
from tests.services.world_support import Estate, consent, estate_in
from tests.web.portfolios import ON, WALL, Portfolio, wall

HELD_BY_LAB = "T-1 (held by lab)"


def _unmeasured() -> dict[str, Any]:
    """The tested wall, its cavity not measured."""
    layers = [{k: v for k, v in layer.items() if k != "depth"} for layer in WALL["layers"]]
    return {**WALL, "layers": layers}


def _fill(portfolio: Portfolio) -> None:
    """North and the lab each hold a test T-1; a zone of north and one of east could be either's."""
    north = portfolio.organisation(ref="north")
    east, lab = portfolio.organisation(ref="east"), portfolio.organisation(ref="lab")
    portfolio.test(north, ref="T-1", consent=Consent.PUBLISHED)
    deeper = wall(cavity__depth="80")
    portfolio.test(lab, ref="T-1", consent=Consent.PUBLISHED, build_up=deeper)
    for owner in (north, east):
        building = portfolio.building(owner, ref=f"B-{owner.ref}")
        portfolio.zone(building, ref="Z", wall=_unmeasured())
    kept = portfolio.test(lab, ref="T-KEPT", title="Secret title", build_up=deeper)
    consent(portfolio, kept, north, shows=Shows.REFERENCE)
    burnt = {"external_spread": Answer3.NOT_MET, "printed_outcome": Outcome.FAILED}
    for ref, to, more in (
        ("F-GIVEN", north, {}),
        ("F-ASKED", north, {"consent": Consent.ASKED}),
        ("F-OTHERS", east, {}),
    ):
        failed = portfolio.test(lab, ref=ref, build_up=wall(facing__material="timber"), **burnt)
        consent(portfolio, failed, to, **more)


@pytest.fixture
def estate(database_url: str) -> Iterator[Estate]:
    with estate_in(database_url) as found:
        with found.filling() as portfolio:
            _fill(portfolio)
        yield found


def _compared(session: Session, viewer: Viewer, left: str, right: str, **more: Any) -> Comparison:
    return compare(session, viewer, *pair_named(session, viewer, left, right, ON, **more), ON)


def _settling(session: Session, viewer: Viewer, owner: str) -> Settling:
    query = sa.select(models.Zone.id).join(models.Building)
    zone_id = session.scalars(query.where(models.Building.ref == f"B-{owner}")).one()
    found = explain(session, viewer, zone_id, ON)
    return settling_of(session, found.gathered, found.coverage, ON)


def test_both_holders_tests_of_one_reference_could_settle_a_zone(estate: Estate) -> None:
    with estate.reading() as session:
        tests = {one.test for one in _settling(session, estate.viewer("north"), "north").sets}
        assert {"T-1", HELD_BY_LAB} <= tests
        tests = {one.test for one in _settling(session, estate.viewer("east"), "east").sets}
        assert tests == {"T-1 (held by north)", HELD_BY_LAB}


def test_either_test_of_one_reference_is_named_and_compared(estate: Estate) -> None:
    viewer = estate.viewer("north")
    with estate.reading() as session:
        own = _compared(session, viewer, "B-north/Z", "T-1")
        others = _compared(session, viewer, "B-north/Z", HELD_BY_LAB)
        both = _compared(session, viewer, "test:T-1", HELD_BY_LAB)
    assert (own.right.name, others.right.name) == ("test T-1", f"test {HELD_BY_LAB}")
    assert own.right.thing != others.right.thing
    differing = [line for line in both.lines if line.answer == "differs"]
    assert [(line.left.value, line.right.value) for line in differing] == [("50 mm", "80 mm")]
    assert differing[0].right.source == f"the record of test {HELD_BY_LAB}"


def test_who_may_mean_one_of_several_is_told_how_to_name_it(estate: Estate) -> None:
    both = '"T-1 \\(held by north\\)" or "T-1 \\(held by lab\\)"'
    with estate.reading() as session:
        for viewer in (LOCAL, estate.viewer("east")):
            with pytest.raises(NotFoundError, match=both):
                _compared(session, viewer, "T-1", HELD_BY_LAB)
            with pytest.raises(NotFoundError, match=both):
                _compared(session, viewer, "B-east/Z", "T-1")
            found = _compared(session, viewer, "T-1 (held by north)", HELD_BY_LAB)
            assert (found.left.name, found.right.name) == (
                "test T-1 (held by north)",
                f"test {HELD_BY_LAB}",
            )
        found = _compared(session, LOCAL, "T-1", "T-KEPT", owner="lab")
        assert found.left.ref == f"test:{HELD_BY_LAB}"


def test_where_only_the_reference_may_be_shown_only_the_verdict_is_told(estate: Estate) -> None:
    viewer = estate.viewer("north")
    with estate.reading() as session:
        beside = _compared(session, viewer, "B-north/Z", "T-KEPT")
        tests = _compared(session, viewer, "T-KEPT", "T-1")
        whole = _compared(session, LOCAL, "B-north/Z", "T-KEPT")
    for found in (beside, tests):
        assert (found.walls, found.lines) == (None, ())
        assert found.in_words.startswith("Only reference and outcome of test T-KEPT may be shown")
    assert (beside.verdict, tests.verdict) == (whole.verdict, "")
    assert whole.lines


def test_a_test_that_the_zones_owner_does_not_see_is_not_there(estate: Estate) -> None:
    with estate.reading() as session:
        for viewer in (LOCAL, estate.viewer("east")):
            with pytest.raises(NotFoundError, match='There is no test "T-KEPT"'):
                _compared(session, viewer, "B-east/Z", "T-KEPT")


def test_only_failed_tests_that_an_owner_sees_could_speak(estate: Estate) -> None:
    with estate.reading() as session:
        for owner, seen in (("north", {"F-GIVEN"}), ("east", {"F-OTHERS"})):
            found = failed_for(session, estate.organisation(owner), ON)
            assert {test.ref for test in found} == seen


def test_an_engineers_ruling_that_a_test_passed_keeps_it_from_speaking(estate: Estate) -> None:
    with estate.writing() as session:
        row = session.scalars(sa.select(models.TestRecord).filter_by(ref="F-GIVEN")).one()
        row.external_spread, row.burn_through = Answer3.MET, None
        row.ruled_outcome, row.ruled_on = Outcome.PASSED, ON
        row.ruled_printed, row.ruled_criteria = Outcome.FAILED, Outcome.PASSED
        session.flush()
        assert failed_for(session, estate.organisation("north"), ON) == []


def test_a_test_that_falls_takes_its_sets_with_it(estate: Estate) -> None:
    viewer = estate.viewer("east")
    with estate.reading() as session:
        assert find_out(session, viewer).with_a_set == 1
    with estate.filling() as portfolio:
        for row in portfolio.session.scalars(sa.select(models.TestRecord).filter_by(ref="T-1")):
            row.standing = Standing.WITHDRAWN
    with estate.reading() as session:
        assert _settling(session, viewer, "east").sets == ()
        assert find_out(session, viewer).facts == ()


def test_what_names_neither_a_zone_nor_a_test_is_told_how_a_zone_is_named(estate: Estate) -> None:
    with estate.reading() as session:
        with pytest.raises(NotFoundError, match=r'no test "Z"\. A zone is named as BUILDING/ZONE'):
            _compared(session, LOCAL, "Z", "Z")
        with pytest.raises(NotFoundError, match=r'no test "Z"\.$'):
            _compared(session, LOCAL, "test:Z", "test:Z")

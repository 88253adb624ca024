"""A named engineer settles which outcome counts; the contradiction stays on record."""

from collections.abc import Iterator
from dataclasses import replace

import pytest
import sqlalchemy as sa

from portfolio.db.models import Event, TestRecord, ZoneResult
from portfolio.domain.errors import ForbiddenError, InputError, NotFoundError
from portfolio.domain.evidence import Answer3, Outcome
from portfolio.domain.rights import Role
from portfolio.services.editing_tests import editable_test, save_test
from portfolio.services.outcome_rulings import OutcomeFacts, contradiction, rule_on_outcome
from portfolio.services.to_look_at import reopened
from portfolio.services.viewer import Viewer
from tests.services.world_support import Estate, estate_in
from tests.web.portfolios import ON

PASSED = OutcomeFacts(Outcome.PASSED, "E. Example", ON, "The flames were of the crib.", "MEng")


@pytest.fixture
def estate(database_url: str) -> Iterator[Estate]:
    with estate_in(database_url) as found:
        with found.filling() as portfolio:
            owner = portfolio.organisation(ref="owner")
            portfolio.organisation(ref="other")
            portfolio.test(owner, ref="T-1", no_flames_above_rig=Answer3.NOT_MET)
            portfolio.zone(portfolio.building(owner, ref="B-1"), ref="Z-1")
        yield found


def the_test(estate: Estate) -> int:
    with estate.reading() as session:
        return session.scalars(sa.select(TestRecord.id)).one()


def settle(estate: Estate, facts: OutcomeFacts = PASSED, viewer: Viewer | None = None) -> None:
    by, wanted = viewer or estate.viewer("owner"), the_test(estate)
    with estate.writing() as session:
        rule_on_outcome(session, by, wanted, facts, ON)


def coverage(estate: Estate) -> str:
    with estate.reading() as session:
        found: str = session.scalars(sa.select(ZoneResult.coverage)).one().value
        return found


def test_coverage_follows_the_ruling_and_what_leaned_on_it_is_re_opened(estate: Estate) -> None:
    assert coverage(estate) == "contradicted"
    settle(estate)
    assert coverage(estate) == "covered"
    with estate.reading() as session:
        [row] = reopened(session, estate.viewer("owner")).rows
        entry = session.scalars(sa.select(Event).where(Event.action == "outcome")).one()
    assert (row.before, row.after) == ("contradicted", "covered")
    assert (entry.changes["by"], entry.reason) == ([None, "E. Example"], PASSED.reason)


def test_a_record_that_changes_afterwards_is_judged_strictly_again(estate: Estate) -> None:
    settle(estate)
    wanted, viewer = the_test(estate), estate.viewer("owner")
    for answers, expected in (
        # no longer the contradiction that was ruled on
        ({"no_flames_above_rig": Answer3.UNKNOWN}, "too-little-known"),
        ({"no_flames_above_rig": Answer3.MET}, "covered"),
        # the very same one again
        ({"no_flames_above_rig": Answer3.NOT_MET}, "covered"),
    ):
        with estate.writing() as session:
            found = editable_test(session, viewer, wanted)
            why = f"read again: {answers}"
            facts = replace(found.facts, standing_note=why, **answers)
            save_test(session, viewer, wanted, facts, revision=found.revision, on=ON)
        assert coverage(estate) == expected


@pytest.mark.parametrize(
    ("facts", "column"),
    [
        (replace(PASSED, outcome=Outcome.NOT_TOLD), "outcome"),
        (replace(PASSED, by=" "), "by"),
        (replace(PASSED, reason=""), "reason"),
        (replace(PASSED, on=None), "on"),
    ],
)
def test_a_ruling_without_its_reasons_is_refused(
    estate: Estate, facts: OutcomeFacts, column: str
) -> None:
    with pytest.raises(InputError) as refused:
        settle(estate, facts)
    assert [problem.column for problem in refused.value.problems] == [column]
    assert coverage(estate) == "contradicted"


def test_only_the_holders_engineer_settles_it(estate: Estate) -> None:
    for role in (Role.READER, Role.EDITOR, Role.ADMINISTRATOR):
        with pytest.raises(ForbiddenError):
            settle(estate, viewer=estate.viewer("owner", role))
    with pytest.raises(NotFoundError):
        settle(estate, viewer=estate.viewer("other"))


def test_where_nothing_is_contradicted_nothing_is_settled(estate: Estate) -> None:
    with estate.writing() as session:
        session.execute(sa.update(TestRecord).values(no_flames_above_rig=Answer3.MET))
    with pytest.raises(InputError, match="do not contradict"), estate.reading() as session:
        contradiction(session, estate.viewer("owner"), the_test(estate))

"""Which tests an organisation sees, may lean on, and is shown in full."""

from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest
import sqlalchemy as sa

from portfolio.db.models import Organisation
from portfolio.db.results import ZoneTest
from portfolio.domain.errors import NotFoundError
from portfolio.domain.evidence import Consent, Shows
from portfolio.services.evidence import EvidenceFilter, EvidencePage, list_evidence
from portfolio.services.explaining import WITHHELD, explain_fully
from portfolio.services.gaps import GapFilter, list_gaps
from portfolio.services.record_page import record_page
from portfolio.services.reliance import seen_tests, shown_in_full, with_a_page
from portfolio.services.reopening import resting_on
from portfolio.services.results import test_ids as ids_by_ref
from tests.services.world_support import Estate, consent, estate_in
from tests.web.portfolios import ON, wall

YESTERDAY, TOMORROW = date(2026, 2, 28), date(2026, 3, 2)


@pytest.fixture
def estate(database_url: str) -> Iterator[Estate]:
    with estate_in(database_url) as found:
        yield found


def fill(estate: Estate, **said: Any) -> int:
    """A test, what its sponsor said to the owner, and a zone of the owner's with its wall."""
    with estate.filling() as portfolio:
        holder, owner = portfolio.organisation(ref="holder"), portfolio.organisation(ref="owner")
        test = portfolio.test(holder, ref="T-1", title="Secret title", sponsor="Secret sponsor")
        if said:
            consent(portfolio, test, owner, **said)
        portfolio.zone(portfolio.building(owner, ref="B-1"), ref="Z-1")
        found: int = test.id
    return found


@pytest.mark.parametrize(
    ("said", "is_shown", "why"),
    [
        ({"consent": Consent.GIVEN}, True, "given without an end, for everything"),
        ({"consent": Consent.GIVEN, "until": ON}, True, "the last day counts"),
        ({"consent": Consent.GIVEN, "until": TOMORROW}, True, "not yet over"),
        (
            {"consent": Consent.GIVEN, "shows": Shows.REFERENCE},
            False,
            "given for reference and outcome: may be leaned on, not shown",
        ),
    ],
)
def test_a_consent_in_force_decides_what_is_shown(
    estate: Estate, said: dict[str, Any], is_shown: bool, why: str
) -> None:
    fill(estate, **said)
    with estate.reading() as session:
        found = seen_tests(session, estate.organisation("owner"), ON)["T-1"]
    assert (found.consent, found.is_shown) == (Consent.GIVEN, is_shown), why


NOT_IN_FORCE: list[dict[str, Any]] = [
    {"consent": Consent.ASKED},
    {"consent": Consent.REFUSED},
    {"consent": Consent.REFUSED, "until": TOMORROW},
    {"consent": Consent.GIVEN, "until": YESTERDAY},
]


@pytest.mark.parametrize("said", NOT_IN_FORCE)
def test_a_consent_that_is_not_in_force_shows_nothing_anywhere(
    estate: Estate, said: dict[str, Any]
) -> None:
    """Not in lists and their counts, on no page, in no comparison, by no link, under no filter."""
    test_id = fill(estate, **said)
    viewer = estate.viewer("owner")
    with estate.reading() as session:
        assert seen_tests(session, estate.organisation("owner"), ON) == {}
        assert ids_by_ref(session, estate.organisation("owner"), ON) == {}
        assert with_a_page(session, viewer, ON, [test_id]) == frozenset()
        assert shown_in_full(session, viewer, ON, [test_id]) == frozenset()
        for wanted in (EvidenceFilter(), EvidenceFilter(text="t-1")):
            assert list_evidence(session, viewer, wanted, ON) == EvidencePage((), 0)
        with pytest.raises(NotFoundError):
            record_page(session, viewer, test_id, ON)
        assert _explained(estate).comparisons == ()
        assert session.scalars(sa.select(ZoneTest)).all() == []


@pytest.mark.parametrize("said", NOT_IN_FORCE)
def test_an_assessment_that_names_a_test_out_of_sight_is_told_nothing_of_it(
    estate: Estate, said: dict[str, Any]
) -> None:
    test_id = fill(estate, **said)
    with estate.filling() as portfolio:
        owner = _organisation(estate, portfolio, "owner")
        portfolio.test(owner, ref="A-1", leans_on=["T-1"])
    with estate.reading() as session:
        assert resting_on(session, [test_id], ON) == {test_id}


def test_a_test_that_nobody_was_asked_for_is_not_seen_at_all(estate: Estate) -> None:
    fill(estate)
    with estate.reading() as session:
        assert seen_tests(session, estate.organisation("owner"), ON) == {}


@pytest.mark.parametrize(
    ("said", "coverage"),
    [
        ({"consent": Consent.GIVEN}, "covered"),
        ({"consent": Consent.GIVEN, "shows": Shows.REFERENCE}, "covered"),
        ({"consent": Consent.GIVEN, "until": YESTERDAY}, "no-matching-evidence"),
        ({"consent": Consent.ASKED}, "no-matching-evidence"),
        ({"consent": Consent.REFUSED}, "no-matching-evidence"),
        ({}, "no-matching-evidence"),
    ],
)
def test_only_a_consent_given_and_not_run_out_counts_for_cover(
    estate: Estate, said: dict[str, Any], coverage: str
) -> None:
    fill(estate, **said)
    with estate.reading() as session:
        [row] = list_gaps(session, estate.viewer("owner"), GapFilter(gaps_only=False)).rows
    assert row.coverage.value == coverage


def test_an_own_record_comes_before_anothers_of_the_same_reference(estate: Estate) -> None:
    fill(estate, consent=Consent.GIVEN)
    with estate.filling() as portfolio:
        portfolio.test(_organisation(estate, portfolio, "owner"), ref="T-1", title="Own title")
    with estate.reading() as session:
        found = seen_tests(session, estate.organisation("owner"), ON)["T-1"]
    assert (found.row.title, found.consent) == ("Own title", Consent.OWN)


def test_a_published_test_is_shown_to_everybody(estate: Estate) -> None:
    with estate.filling() as portfolio:
        portfolio.test(portfolio.organisation(ref="holder"), ref="P", consent=Consent.PUBLISHED)
        portfolio.organisation(ref="owner")
    with estate.reading() as session:
        found = seen_tests(session, estate.organisation("owner"), ON)["P"]
    assert (found.consent, found.is_shown) == (Consent.PUBLISHED, True)


def test_a_record_of_the_same_reference_opens_nobody_elses(estate: Estate) -> None:
    """The consultancy makes a record of the reference that the owner's report has."""
    with estate.filling() as portfolio:
        owner, other = portfolio.organisation(ref="owner"), portfolio.organisation(ref="other")
        theirs = portfolio.test(owner, ref="T-1", title="Secret title").id
        own = portfolio.test(other, ref="T-1", title="Bait").id
        building = portfolio.building(owner).id
    viewer = estate.viewer("other", to=(building,))
    with estate.reading() as session:
        assert shown_in_full(session, viewer, ON, [theirs, own]) == {own}


def _explained(estate: Estate) -> Any:
    viewer = estate.viewer("owner")
    with estate.reading() as session:
        [row] = list_gaps(session, viewer, GapFilter(gaps_only=False)).rows
        return explain_fully(session, viewer, row.zone_id, ON)


@pytest.mark.parametrize(
    ("said", "is_shown"),
    [
        ({"consent": Consent.GIVEN}, True),
        ({"consent": Consent.GIVEN, "shows": Shows.REFERENCE}, False),
    ],
)
def test_a_comparison_shows_the_tested_values_only_with_consent(
    estate: Estate, said: dict[str, Any], is_shown: bool
) -> None:
    fill(estate, **said)
    [found] = _explained(estate).comparisons
    assert {row.test_value == WITHHELD for row in found.rows} == {not is_shown}
    assert (found.test.title == "Secret title") is is_shown
    assert bool(found.test.build_up.layers) is is_shown


def test_what_is_withheld_keeps_its_answers_and_its_outcome(estate: Estate) -> None:
    fill(estate, consent=Consent.GIVEN, shows=Shows.REFERENCE)
    [found] = _explained(estate).comparisons
    assert {row.answer for row in found.rows} == {"same"}
    assert (found.test.ref, found.outcome.value, found.verdict) == ("T-1", "passed", "covers")


def test_what_is_withheld_gives_no_reasons_that_stand_in_the_report(estate: Estate) -> None:
    fill(estate, consent=Consent.GIVEN, shows=Shows.REFERENCE)
    [found] = _explained(estate).comparisons
    reasons = " ".join(gate.reason for gate in found.gates)
    assert {gate.answer.value for gate in found.gates} == {"met"}
    told = ("BR 135", "2015", "2013", "criterion", "Secret", "holder")
    assert [word for word in told if word in reasons] == []


def test_the_list_tells_of_a_test_by_reference_no_more_than_that(estate: Estate) -> None:
    test_id = fill(estate, consent=Consent.GIVEN, shows=Shows.REFERENCE)
    viewer = estate.viewer("owner")
    with estate.reading() as session:
        [row] = list_evidence(session, viewer, EvidenceFilter(), ON).rows
        page = record_page(session, viewer, test_id, ON)
    assert (row.title, row.wall, row.standard, row.tested_on) == (WITHHELD, WITHHELD, "", None)
    assert (row.outcome.value, row.from_criteria.value) == ("passed", "not-told")
    assert (page.known.title, page.gates, page.layers) == ("(reference and outcome only)", (), ())


@pytest.mark.parametrize(
    ("said", "found"),
    [
        ({"consent": Consent.GIVEN}, 1),
        ({"consent": Consent.GIVEN, "until": YESTERDAY}, 0),
        ({"consent": Consent.GIVEN, "shows": Shows.REFERENCE}, 0),
        ({"consent": Consent.ASKED}, 0),
    ],
)
def test_a_title_is_searched_only_where_it_is_shown(
    estate: Estate, said: dict[str, Any], found: int
) -> None:
    fill(estate, **said)
    with estate.reading() as session:
        page = list_evidence(session, estate.viewer("owner"), EvidenceFilter(text="secret"), ON)
    assert page.total == found


def test_a_date_that_is_not_shown_does_not_decide_the_order(estate: Estate) -> None:
    with estate.filling() as portfolio:
        holder, owner = portfolio.organisation(ref="holder"), portfolio.organisation(ref="owner")
        for ref, day in (("A", date(2001, 1, 1)), ("B", date(2021, 1, 1))):
            test = portfolio.test(holder, ref=ref, tested_on=day)
            consent(portfolio, test, owner, shows=Shows.REFERENCE)
        portfolio.test(owner, ref="C", tested_on=date(2011, 1, 1))
    with estate.reading() as session:
        wanted = EvidenceFilter(sort="tested_on")
        rows = list_evidence(session, estate.viewer("owner"), wanted, ON).rows
    assert [row.ref for row in rows] == ["C", "A", "B"]


def test_the_owner_leans_by_its_own_consent_when_a_consultancy_looks(estate: Estate) -> None:
    """Cover is the owner's; what the consultancy is shown is its own consent's."""
    fill(estate, consent=Consent.GIVEN)
    with estate.filling() as portfolio:
        portfolio.organisation(ref="consultancy")
    with estate.reading() as session:
        [row] = list_gaps(session, estate.viewer("owner"), GapFilter(gaps_only=False)).rows
        viewer = estate.viewer("consultancy", to=(row.building_id,))
        found = explain_fully(session, viewer, row.zone_id, ON)
    assert found.coverage.coverage.value == "covered"
    assert found.comparisons[0].test.title == "(reference and outcome only)"


def _organisation(estate: Estate, portfolio: Any, ref: str) -> Any:
    return portfolio.session.get(Organisation, estate.organisation(ref))


def test_a_changed_wall_is_a_gap_again(estate: Estate) -> None:
    fill(estate, consent=Consent.GIVEN)
    with estate.filling() as portfolio:
        owner = _organisation(estate, portfolio, "owner")
        portfolio.zone(portfolio.building(owner), ref="OTHER", wall=wall(cavity__depth="80"))
    with estate.reading() as session:
        rows = list_gaps(session, estate.viewer("owner"), GapFilter()).rows
    assert [row.zone_ref for row in rows] == ["OTHER"]

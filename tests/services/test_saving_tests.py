"""What is refused, and what is only told, when a test's record is saved."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st

from portfolio.db.models import Organisation, TestRecord
from portfolio.domain.errors import InputError
from portfolio.domain.evidence import (
    Answer3,
    Consent,
    EvidenceKind,
    Holding,
    Outcome,
    Shows,
    Standing,
)
from portfolio.domain.walls import BuildUp
from portfolio.services.editing import Saved
from portfolio.services.editing_tests import TestFacts, create_test, editable_test, save_test
from portfolio.services.editing_tests import _even as even
from portfolio.services.handing_out import keep_pack, packs_of
from portfolio.services.packs import building_pack
from tests.services.world_support import Estate, consent, estate_in
from tests.web.portfolios import ON

TESTED = date(2020, 5, 4)
ASSESSMENT = TestFacts("A-1", kind=EvidenceKind.ASSESSMENT)
WHOLE = replace(ASSESSMENT, author="An engineer", leans_on=("T-1",))


@pytest.fixture
def estate(database_url: str) -> Iterator[Estate]:
    with estate_in(database_url) as found:
        with found.filling() as portfolio:
            for ref in ("holder", "other"):
                portfolio.test(portfolio.organisation(ref=ref), ref="T-102 B")
        yield found


def create(estate: Estate, facts: TestFacts) -> Saved:
    with estate.writing() as session:
        holder = estate.viewer("holder")
        return create_test(session, holder, holder.organisation_id or 0, facts, ON)


def change(estate: Estate, test_id: int, **changes: object) -> Saved:
    with estate.writing() as session:
        holder = estate.viewer("holder")
        found = editable_test(session, holder, test_id)
        facts = replace(found.facts, **changes)
        return save_test(session, holder, test_id, facts, revision=found.revision, on=ON)


@pytest.mark.parametrize("ref", ["T-102 B", "t-102 B", "T-102 b", "t-102  b"])
def test_a_reference_that_nobody_could_tell_from_another_of_the_holder_is_refused(
    estate: Estate, ref: str
) -> None:
    added = create(estate, TestFacts("T-9"))
    for attempt in (
        lambda: create(estate, TestFacts(ref)),
        lambda: change(estate, added.id, ref=ref),
    ):
        with pytest.raises(InputError) as refused:
            attempt()
        assert [problem.column for problem in refused.value.problems] == ["ref"]


def test_a_reference_of_another_holder_is_free_and_ones_own_may_change_its_letters(
    estate: Estate,
) -> None:
    with estate.writing() as session:
        other = estate.viewer("other")
        create_test(session, other, other.organisation_id or 0, TestFacts("T-9"), ON)
    added = create(estate, TestFacts("t-9"))
    assert change(estate, added.id, ref="T-9").ref == "T-9"


@given(st.text(alphabet="aAbB -1", min_size=1, max_size=6))
def test_references_are_alike_whatever_their_case_and_spaces(ref: str) -> None:
    assert even(ref) == even(ref.upper()) == even(ref.lower()) == even(f" {ref}  ")


@pytest.mark.parametrize(
    ("facts", "told"),
    [
        (ASSESSMENT, "names its author and the tests"),
        (replace(WHOLE, author=""), "names its author and the tests"),
        (replace(WHOLE, leans_on=()), "names its author and the tests"),
        (
            TestFacts("T-1", tested_on=TESTED, report_on=TESTED - timedelta(days=1)),
            "its report is dated 2020-05-03, before the test of 2020-05-04",
        ),
        (
            TestFacts("T-1", tested_on=date(2014, 1, 1), edition="2015"),
            "before there was an edition 2015",
        ),
    ],
)
def test_what_keeps_a_record_from_being_leaned_on_is_told_when_it_is_saved(
    estate: Estate, facts: TestFacts, told: str
) -> None:
    saved = create(estate, facts)
    again = change(estate, saved.id, title="Another title")
    for found in (saved, again):
        [remark] = found.remarks
        assert told in remark


@pytest.mark.parametrize("facts", [WHOLE, TestFacts("T-1", tested_on=TESTED, report_on=TESTED)])
def test_of_a_record_that_is_whole_nothing_is_remarked(estate: Estate, facts: TestFacts) -> None:
    assert create(estate, facts).remarks == ()


CHANGES: dict[str, object] = {
    "ref": "T-103",
    "title": "Another title",
    "standard": "BS 8415",
    "part": "2",
    "edition": "2020",
    "tested_on": date(2019, 1, 1),
    "external_spread": Answer3.UNKNOWN,
    "printed_outcome": Outcome.NOT_TOLD,
    "class_document": "",
    "standing": Standing.DISPUTED,
    "holding": Holding.SUMMARY,
    "consent": Consent.NOT_ASKED,
    "leans_on": ("T-7",),
    "build_up": BuildUp(),
}


@pytest.mark.parametrize("field", CHANGES)
def test_whatever_a_pack_shows_of_a_record_overtakes_it_when_it_changes(
    estate: Estate, field: str
) -> None:
    with estate.filling() as portfolio:
        owner = portfolio.session.get_one(Organisation, estate.organisation("holder"))
        building = portfolio.building(owner, ref="B-1")
        portfolio.zone(building)
        building_id = building.id
    holder = estate.viewer("holder")
    with estate.writing() as session:
        made = building_pack(session, holder, building_id, ON)
        keep_pack(session, holder, made)
    [test_id] = made.test_ids
    why = {"standing_note": "why"} if field == "standing" else {}
    change(estate, test_id, **{field: CHANGES[field]}, **why)
    with estate.reading() as session:
        [pack] = packs_of(session, building_id)
    assert pack.overtaken_on == ON


def test_a_title_that_a_pack_does_not_show_leaves_it_as_it_is(estate: Estate) -> None:
    """Where the owner sees the test by its reference only."""
    with estate.filling() as portfolio:
        owner = portfolio.organisation(ref="third")
        test = portfolio.session.scalars(
            sa.select(TestRecord).filter_by(organisation_id=estate.organisation("holder"))
        ).one()
        consent(portfolio, test, owner, shows=Shows.REFERENCE)
        building = portfolio.building(owner, ref="B-1")
        portfolio.zone(building)
        building_id, test_id = building.id, test.id
    third = estate.viewer("third")
    with estate.writing() as session:
        keep_pack(session, third, building_pack(session, third, building_id, ON))
    change(estate, test_id, title="Another title")
    with estate.reading() as session:
        [pack] = packs_of(session, building_id)
    assert (pack.overtaken_on, pack.test_ids) == (None, [test_id])

"""What a holder records of its sponsors' consent to others, and what follows from it."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from typing import Any

import pytest
import sqlalchemy as sa

from portfolio.db.documents import Document, DocumentSupport
from portfolio.db.life import Reopened
from portfolio.db.models import Building, Event, Organisation, TestConsent, TestRecord
from portfolio.domain.documents import DocumentKind, FactKind, SeenBy
from portfolio.domain.errors import ForbiddenError, InputError, NotFoundError
from portfolio.domain.evidence import Consent, Shows
from portfolio.domain.rights import Role
from portfolio.services.consents import ConsentFacts, consents_of, save_consent, take_back
from portfolio.services.editing import Saved, StaleError
from portfolio.services.gaps import GapFilter, list_gaps
from portfolio.services.history import history_of_test
from portfolio.services.viewer import Viewer
from tests.services.world_support import Estate, estate_in
from tests.web.portfolios import ON

GIVEN = ConsentFacts(
    "owner",
    Consent.GIVEN,
    purpose="the appraisal of House",
    on=date(2026, 2, 1),
    until=date(2027, 1, 31),
    shows=Shows.EVERYTHING,
    document="letter 7",
)


@pytest.fixture
def estate(database_url: str) -> Iterator[Estate]:
    with estate_in(database_url) as found:
        with found.filling() as portfolio:
            holder, owner = (
                portfolio.organisation(ref="holder"),
                portfolio.organisation(ref="owner"),
            )
            portfolio.test(holder, ref="T-2")
            portfolio.zone(portfolio.building(owner, ref="B-1"), ref="Z-1")
        yield found


def the_test(estate: Estate) -> int:
    with estate.reading() as session:
        found: int = session.scalars(sa.select(TestRecord.id).filter_by(ref="T-2")).one()
    return found


def say(
    estate: Estate, facts: ConsentFacts = GIVEN, viewer: Viewer | None = None, **more: Any
) -> Saved:
    """Save what was said; over the newest revision, unless another is given."""
    wanted = the_test(estate)
    with estate.writing() as session:
        revision = more.get("revision", session.get_one(TestRecord, wanted).revision)
        by = viewer or estate.viewer("holder")
        return save_consent(session, by, wanted, facts, revision=revision, on=ON)


def stored(estate: Estate) -> ConsentFacts | None:
    with estate.reading() as session:
        found = consents_of(session, estate.viewer("holder"), the_test(estate))
        return found.facts_of("owner")


def coverage(estate: Estate, owner: str = "owner") -> str:
    with estate.reading() as session:
        [row] = list_gaps(session, estate.viewer(owner), GapFilter(gaps_only=False)).rows
    return row.coverage.value


def test_what_was_said_is_kept_as_it_was_entered(estate: Estate) -> None:
    assert stored(estate) is None
    say(estate)
    assert stored(estate) == GIVEN


def test_an_answer_replaces_the_question(estate: Estate) -> None:
    say(estate, ConsentFacts("owner", Consent.ASKED))
    say(estate)
    with estate.reading() as session:
        found = consents_of(session, estate.viewer("holder"), the_test(estate))
    assert [row.consent for row in found.rows] == [Consent.GIVEN]


def test_coverage_follows_what_was_said(estate: Estate) -> None:
    found = [coverage(estate)]
    for said in (Consent.ASKED, Consent.GIVEN, Consent.REFUSED):
        say(estate, replace(GIVEN, consent=said))
        found.append(coverage(estate))
    assert found == [
        "no-matching-evidence",
        "no-matching-evidence",
        "covered",
        "no-matching-evidence",
    ]


def test_the_holder_is_not_told_what_it_does_to_others_zones(estate: Estate) -> None:
    assert say(estate).changes == ()
    assert coverage(estate) == "covered"


def test_each_change_stands_in_the_log_of_the_test_with_from_and_to(estate: Estate) -> None:
    say(estate, ConsentFacts("owner", Consent.ASKED))
    say(estate, ConsentFacts("owner", Consent.REFUSED))
    with estate.reading() as session:
        lines = history_of_test(session, estate.viewer("holder"), the_test(estate)).lines
        events = session.scalars(sa.select(Event).filter_by(action="consent")).all()
        states = [event.state["consents"][0]["consent"] for event in events if event.state]
    assert ("consent, to owner", "asked", "refused") in lines[0].changes
    assert states == ["asked", "refused"]


def test_saving_the_same_again_is_no_change(estate: Estate) -> None:
    say(estate)
    say(estate)
    with estate.reading() as session:
        assert session.scalar(sa.select(sa.func.count()).select_from(Event)) == 1


def test_of_two_who_save_the_second_sees_what_the_first_saved(estate: Estate) -> None:
    say(estate, revision=1)
    with pytest.raises(StaleError) as overtaken:
        say(estate, ConsentFacts("owner", Consent.REFUSED), revision=1)
    assert overtaken.value.stored == GIVEN
    assert stored(estate) == GIVEN


@pytest.mark.parametrize(
    ("changed", "column"),
    [
        ({"organisation": "holder"}, "organisation"),
        ({"consent": Consent.PUBLISHED}, "consent"),
        ({"consent": Consent.OWN}, "consent"),
        ({"on": date(2026, 3, 2)}, "on"),
        ({"until": date(2026, 1, 31)}, "until"),
    ],
)
def test_what_makes_no_sense_is_refused_at_its_field(
    estate: Estate, changed: dict[str, Any], column: str
) -> None:
    with pytest.raises(InputError) as refused:
        say(estate, replace(GIVEN, **changed))
    assert [problem.column for problem in refused.value.problems] == [column]
    assert stored(estate) is None


@pytest.mark.parametrize("role", [Role.EDITOR, Role.ENGINEER, Role.ADMINISTRATOR])
def test_whoever_enters_records_of_the_holder_records_consent(estate: Estate, role: Role) -> None:
    say(estate, viewer=estate.viewer("holder", role))
    assert stored(estate) == GIVEN


def test_the_holder_reads_the_same_whether_or_not_anybody_has_the_reference(
    estate: Estate,
) -> None:
    """From each answer, the list and the log: of a first save, of the same again, of a change."""
    told = []
    for ref in ("owner", "nobody"):
        facts = replace(GIVEN, organisation=ref)
        wanted = (facts, facts, replace(facts, shows=Shows.REFERENCE))
        saved = [say(estate, wish) for wish in wanted]
        with estate.reading() as session:
            found = consents_of(session, estate.viewer("holder"), the_test(estate)).facts_of(ref)
            lines = history_of_test(session, estate.viewer("holder"), the_test(estate)).lines
        newest = [(line.action, line.changes, line.reason) for line in lines[:2]]
        told.append(repr((saved, found, newest, remove(estate, ref))).replace(ref, "REF"))
    assert told[0] == told[1]


def test_who_comes_to_a_reference_later_has_no_consent_until_it_is_saved_again(
    estate: Estate,
) -> None:
    say(estate, replace(GIVEN, organisation="late"))
    with estate.filling() as portfolio:
        late = portfolio.organisation(ref="late")
        portfolio.zone(portfolio.building(late, ref="B-2"), ref="Z-2")
    say(estate, replace(GIVEN, organisation="late"))
    assert coverage(estate, "late") == "no-matching-evidence"
    say(estate, replace(GIVEN, organisation="late", purpose="asked anew"))
    assert coverage(estate, "late") == "covered"


def test_a_holder_that_reads_the_building_is_told_what_changes_there(estate: Estate) -> None:
    with estate.reading() as session:
        building = session.scalars(sa.select(Building.id)).one()
    reads = estate.viewer("holder", to=(building,))
    saved = say(estate, viewer=reads)
    assert [change.zone_ref for change in saved.changes] == ["Z-1"]
    assert saved.compared == 1


# --- taking back ---------------------------------------------------------------------------------


def remove(
    estate: Estate,
    ref: str = "owner",
    reason: str = " The wrong organisation. ",
    viewer: Viewer | None = None,
    **more: Any,
) -> Saved:
    wanted = the_test(estate)
    with estate.writing() as session:
        row = session.scalars(sa.select(TestConsent).filter_by(organisation_ref=ref)).one()
        revision = more.get("revision", session.get_one(TestRecord, wanted).revision)
        by = viewer or estate.viewer("holder")
        test_id = more.get("test_id", wanted)
        return take_back(session, by, test_id, row.id, reason, revision=revision, on=ON)


def test_what_is_taken_back_has_no_effect_any_more_and_stays_in_the_log(estate: Estate) -> None:
    say(estate)
    assert coverage(estate) == "covered"
    remove(estate)
    assert (stored(estate), coverage(estate)) == (None, "no-matching-evidence")
    with estate.reading() as session:
        line = history_of_test(session, estate.viewer("holder"), the_test(estate)).lines[0]
        state = session.scalars(sa.select(Event.state).order_by(Event.id)).all()
    assert (line.action, line.reason) == ("consent taken back", "The wrong organisation.")
    assert [change[:2] for change in line.changes][:1] == [("consent, to owner", "given")]
    assert [s["consents"] for s in state if s and "consents" in s][-1] == []


def test_what_leaned_on_a_consent_that_is_taken_back_is_re_opened(estate: Estate) -> None:
    say(estate)
    remove(estate)
    with estate.reading() as session:
        rows = session.scalars(sa.select(Reopened)).all()
    assert [(row.organisation_id, row.subject_ref, row.because) for row in rows] == [
        (
            estate.organisation("owner"),
            "B-1 / Z-1",
            "The consent to lean on test T-2 was taken back",
        )
    ]


@pytest.mark.parametrize(
    "said", [{"consent": Consent.ASKED}, {"consent": Consent.REFUSED}, {"organisation": "nobody"}]
)
def test_taking_back_what_had_no_effect_re_opens_nothing(
    estate: Estate, said: dict[str, Any]
) -> None:
    facts = replace(GIVEN, **said)
    say(estate, facts)
    remove(estate, facts.organisation)
    with estate.reading() as session:
        assert session.scalars(sa.select(Reopened)).all() == []


def test_a_document_no_longer_supports_what_was_taken_back(estate: Estate) -> None:
    say(estate)
    with estate.writing() as session:
        said = session.scalars(sa.select(TestConsent.id)).one()
        session.add(paper(estate.organisation("holder"), the_test(estate), said))
    remove(estate)
    with estate.reading() as session:
        assert session.scalars(sa.select(DocumentSupport)).all() == []
        found = session.scalars(sa.select(Event).filter_by(action="detached")).one()
    assert found.changes == {"supports": ["test T-2, consent to owner", None]}


def paper(holder: int, test: int, said: int) -> Document:
    by = {"added_by": "A. Person", "added_on": ON}
    support = DocumentSupport(fact=FactKind.CONSENT, fact_id=said, test_id=test, **by)
    return Document(
        organisation_id=holder,
        sha256="0" * 64,
        size=1,
        media="text/plain",
        file_name="letter",
        kind=DocumentKind.REPORT,
        seen_by=SeenBy.OWN,
        supports=[support],
        **by,
    )


def test_taking_back_needs_a_reason_the_role_the_entry_and_what_was_last_saved(
    estate: Estate,
) -> None:
    say(estate)
    with estate.filling() as portfolio:
        holder = portfolio.session.get(Organisation, estate.organisation("holder"))
        other = portfolio.test(holder, ref="T-3").id
    attempts: list[tuple[type[Exception], dict[str, Any]]] = [
        (InputError, {"reason": " \n"}),
        (InputError, {"revision": 1}),
        (ForbiddenError, {"viewer": estate.viewer("holder", Role.READER)}),
        (NotFoundError, {"viewer": estate.viewer("owner")}),
        (NotFoundError, {"test_id": other}),
        (NotFoundError, {"test_id": 99_999}),
    ]
    for error, how in attempts:
        with pytest.raises(error):
            remove(estate, **how)
    assert stored(estate) == GIVEN


def test_a_reader_of_the_holder_neither_lists_nor_changes_consent(estate: Estate) -> None:
    reader = estate.viewer("holder", Role.READER)
    with pytest.raises(ForbiddenError):
        say(estate, viewer=reader)
    with estate.reading() as session, pytest.raises(ForbiddenError):
        consents_of(session, reader, the_test(estate))


def test_nobody_gives_themselves_consent(estate: Estate) -> None:
    """Not even who may lean on the test already."""
    say(estate)
    owner = estate.viewer("owner")
    with pytest.raises(NotFoundError):
        say(estate, viewer=owner)
    with estate.reading() as session, pytest.raises(NotFoundError):
        consents_of(session, owner, the_test(estate))

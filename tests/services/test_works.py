"""Works on both databases: recorded, kept, imported, looked back at, subscribed to."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
import sqlalchemy as sa

from portfolio.db.models import Event, ZoneResult
from portfolio.db.people import Person
from portfolio.db.states import revived
from portfolio.db.works import CalendarLink, Works, WorksStep
from portfolio.domain.documents import FactKind, SupportedFact
from portfolio.domain.errors import ForbiddenError, InputError, NotFoundError
from portfolio.domain.rights import Access, Role
from portfolio.domain.works import Decided, WorksStatus
from portfolio.services.editing import StaleError
from portfolio.services.keeping.backup import backup
from portfolio.services.keeping.restore import restore
from portfolio.services.packs import gather_pack
from portfolio.services.viewer import Viewer
from portfolio.services.works.calendar import calendar_of, links, make_link, withdraw_link
from portfolio.services.works.due import due, due_counts
from portfolio.services.works.facts import InterimFacts, StepFacts, WorksFacts
from portfolio.services.works.figures import figures
from portfolio.services.works.listing import WorksFilter, list_works, works_of_building
from portfolio.services.works.packing import packed_works_then
from portfolio.services.works.recording import (
    add_step,
    create_interim,
    create_works,
    save_works,
)
from tests.services.accounts_support import NOON
from tests.services.documents_support import Papers, papers_in
from tests.services.importing_support import ESTATE, Store, opened
from tests.services.world_support import log_at
from tests.sheets.support import csv_file
from tests.web.portfolios import ON

FACTS = WorksFacts("W-1", Decided.REPLACEMENT, zones=("Z-north",), due_on=date(2026, 3, 20))
FIRST = StepFacts(WorksStatus.IDENTIFIED, date(2026, 1, 10), "letter 4")
BUILT = date(2026, 2, 20)


@pytest.fixture
def papers(database_url: str, tmp_path: Path) -> Iterator[Papers]:
    with papers_in(database_url, tmp_path / "documents") as found:
        yield found


def begin(papers: Papers, by: Viewer | None = None, facts: WorksFacts = FACTS) -> int:
    viewer = by or papers.estate.viewer("north")
    building = papers.building("B-north")
    with papers.estate.writing() as session:
        return create_works(session, viewer, building, facts, FIRST, today=ON).id


def reach(papers: Papers, works: int, status: WorksStatus, on: date = ON, reason: str = "") -> None:
    with papers.estate.writing() as session:
        viewer = papers.estate.viewer("north")
        step = StepFacts(status, on, reason=reason)
        add_step(session, viewer, works, step, built_on=BUILT, today=ON)


def coverages(papers: Papers) -> list[tuple[int, str]]:
    with papers.estate.reading() as session:
        query = sa.select(ZoneResult.zone_id, ZoneResult.coverage).order_by(ZoneResult.zone_id)
        return [(zone, str(coverage)) for zone, coverage in session.execute(query)]


def test_completing_needs_its_paper_and_changes_no_coverage(papers: Papers) -> None:
    before = coverages(papers)
    works = begin(papers)
    with pytest.raises(InputError, match="No document supports the completion"):
        reach(papers, works, WorksStatus.COMPLETE)
    # a document of the works is none of their completion
    north = papers.estate.viewer("north")
    papers.add(north, SupportedFact(FactKind.WORKS, works))
    with pytest.raises(InputError, match="No document supports the completion"):
        reach(papers, works, WorksStatus.COMPLETE)
    papers.add(north, SupportedFact(FactKind.COMPLETION, works), content=b"%PDF-1.7 signed off")
    reach(papers, works, WorksStatus.COMPLETE)
    assert coverages(papers) == before
    with papers.estate.reading() as session:
        assert figures(session, north).all.completed == 1
        assert session.query(WorksStep).count() == 2


def test_what_a_complete_status_rests_on_is_not_taken_from_under_it(papers: Papers) -> None:
    works = begin(papers)
    north = papers.estate.viewer("north")
    papers.add(north, SupportedFact(FactKind.COMPLETION, works))
    reach(papers, works, WorksStatus.COMPLETE)
    later = WorksFacts("W-1", Decided.REPLACEMENT, zones=("Z-north",), built_on=None)
    with papers.estate.writing() as session, pytest.raises(InputError, match="needs the day"):
        save_works(session, north, works, later, revision=2, today=ON)


def test_a_refused_status_leaves_nothing_behind(papers: Papers) -> None:
    works = begin(papers)
    with pytest.raises(InputError):
        reach(papers, works, WorksStatus.COMPLETE)
    with papers.estate.reading() as session:
        row = session.get_one(Works, works)
        assert (row.status, row.built_on, row.revision) == (WorksStatus.IDENTIFIED, None, 1)
        assert session.query(WorksStep).count() == 1


def test_two_who_save_notice_each_other(papers: Papers) -> None:
    works = begin(papers)
    reach(papers, works, WorksStatus.STARTED)
    with papers.estate.writing() as session, pytest.raises(StaleError):
        save_works(session, papers.estate.viewer("north"), works, FACTS, revision=1, today=ON)


def test_each_change_is_in_the_log_with_the_works_whole(papers: Papers) -> None:
    works = begin(papers)
    reach(papers, works, WorksStatus.STARTED)
    with papers.estate.reading() as session:
        events = session.scalars(sa.select(Event).filter_by(subject="works").order_by(Event.id))
        first, last = list(events)
        assert last.changes["status"] == ["identified", "started"]
        was = revived("works", first.state or {})
        now = revived("works", last.state or {})
        assert [len(row.steps) for row in (was, now)] == [1, 2]
        assert (was.status, now.status) == (WorksStatus.IDENTIFIED, WorksStatus.STARTED)


def test_looking_back_and_packs_have_the_works_of_their_day(
    papers: Papers, monkeypatch: pytest.MonkeyPatch
) -> None:
    north, building = papers.estate.viewer("north"), papers.building("B-north")
    works = begin(papers)
    log_at(monkeypatch, date(2999, 1, 1))
    reach(papers, works, WorksStatus.STARTED)
    with papers.estate.reading() as session:
        then = session.scalars(sa.select(Event.at).filter_by(subject="works")).first()
        assert then is not None
        owner = papers.estate.organisation("north")
        known = packed_works_then(session, north, building, owner, then.date())
        assert [(one.status, one.zones) for one in known] == [("identified", ("Z-north",))]
        pack, _ = gather_pack(session, north, building, ON)
        assert [one.status for one in pack.works] == ["started"]
        assert pack.works[0].zones == ("Z-north",)


def test_what_is_due_is_counted_and_ends_when_it_is_done(papers: Papers) -> None:
    north = papers.estate.viewer("north")
    works = begin(papers)
    measure = InterimFacts("patrols", date(2026, 1, 1), review_on=date(2026, 2, 1))
    with papers.estate.writing() as session:
        create_interim(session, north, works, measure, ON)
    with papers.estate.reading() as session:
        counts = due_counts(session, north, ON)
        assert (counts.overdue, counts.soon) == (1, 1)
        late = list_works(session, north, WorksFilter(due="overdue"), ON)
        assert [line.row.ref for line in late.rows] == ["W-1"]
    reach(papers, works, WorksStatus.AWAITING_SIGN_OFF)
    with papers.estate.reading() as session:
        # built: its deadline is met; the measure has not ended, so its review is still due
        counts = due_counts(session, north, ON)
        assert (counts.overdue, counts.soon) == (1, 0)


def test_a_list_and_a_page_tell_the_same_days(papers: Papers) -> None:
    north, building = papers.estate.viewer("north"), papers.building("B-north")
    works = begin(papers)
    with papers.estate.writing() as session:
        measure = InterimFacts("patrols", date(2026, 1, 1), review_on=date(2026, 9, 1))
        create_interim(session, north, works, measure, ON)
    with papers.estate.reading() as session:
        [page] = works_of_building(session, north, building, ON).works
        assert {one for one, _ in page.dated} == set(due(session, north))
        # 20 m, without a tolerance: the policy date of 18 m and over
        assert "policy-deadline" in {one.kind.value for one in due(session, north)}


@pytest.mark.parametrize("role", [Role.READER, Role.EDITOR])
@pytest.mark.parametrize("access", [Access.READ, Access.EDIT])
def test_others_read_and_record_as_far_as_the_building_is_open(
    papers: Papers, access: Access, role: Role
) -> None:
    works = begin(papers)
    open_to = (papers.building("B-north"),)
    viewer = papers.estate.viewer("consult", role, access=access, to=open_to)
    with papers.estate.reading() as session:
        assert list_works(session, viewer, WorksFilter(), ON).total == 1
    step = StepFacts(WorksStatus.STARTED, ON)
    may = role is Role.EDITOR and access is Access.EDIT
    with papers.estate.writing() as session:
        if may:
            add_step(session, viewer, works, step, built_on=None, today=ON)
        else:
            with pytest.raises(ForbiddenError):
                add_step(session, viewer, works, step, built_on=None, today=ON)


def test_a_foreign_organisation_sees_counts_and_reaches_nothing(papers: Papers) -> None:
    works = begin(papers)
    south = papers.estate.viewer("south")
    with papers.estate.writing() as session:
        assert list_works(session, south, WorksFilter(), ON).total == 0
        assert figures(session, south).all.total == 0
        assert due(session, south) == ()
        assert not due_counts(session, south, ON).has_works
        with pytest.raises(NotFoundError):
            add_step(
                session, south, works, StepFacts(WorksStatus.STARTED, ON), built_on=None, today=ON
            )


# --- calendars -----------------------------------------------------------------------------------


def person(papers: Papers, ref: str, role: Role) -> Viewer:
    """Somebody with an account."""
    with papers.estate.writing() as session:
        own = papers.estate.organisation(ref)
        email = f"{role.value}@{ref}.test"
        row = Person(
            organisation_id=own, email=email, name="A. Person", role=role, password_hash="none"
        )
        session.add(row)
        session.flush()
        made = row.id
    seen = papers.estate.viewer(ref, role)
    return Viewer(seen.name, seen.organisation_id, made, seen.rights)


def calendar(papers: Papers, token: str) -> str:
    with papers.estate.reading() as session:
        return calendar_of(session, token, ON, NOON).replace("\r\n ", "")


def address(papers: Papers, viewer: Viewer, *, for_organisation: bool = False) -> str:
    with papers.estate.writing() as session:
        return make_link(session, viewer, ON, for_organisation=for_organisation)


def test_a_calendar_shows_what_its_person_may_see_and_keeps_its_uids(papers: Papers) -> None:
    begin(papers)
    north, south = person(papers, "north", Role.READER), person(papers, "south", Role.READER)
    own, foreign = address(papers, north), address(papers, south)
    text = calendar(papers, own)
    assert "own deadline: B-north" in text
    assert "DTSTART;VALUE=DATE:20260320" in text
    assert calendar(papers, own) == text
    assert "BEGIN:VEVENT" not in calendar(papers, foreign)


def test_only_the_hash_of_an_address_is_kept(papers: Papers) -> None:
    token = address(papers, person(papers, "north", Role.READER))
    with papers.estate.reading() as session:
        [row] = session.scalars(sa.select(CalendarLink))
        told = [str(value) for value in vars(row).values()]
        events = session.scalars(sa.select(Event).filter_by(subject="calendar link"))
        told += [repr(vars(event)) for event in events]
    assert not any(token in text for text in told)


def test_a_withdrawn_or_unknown_address_and_one_of_somebody_who_left_answer_alike(
    papers: Papers,
) -> None:
    viewer, gone = person(papers, "north", Role.EDITOR), person(papers, "north", Role.READER)
    withdrawn, left = address(papers, viewer), address(papers, gone)
    with papers.estate.writing() as session:
        [line] = links(session, viewer)
        withdraw_link(session, viewer, line.id, ON)
        session.get_one(Person, gone.person_id).is_active = False
    messages = set()
    for token in (withdrawn, left, "nothing", ""):
        with pytest.raises(NotFoundError) as refused:
            calendar(papers, token)
        messages.add(str(refused.value))
    assert len(messages) == 1


def test_an_organisations_address_is_its_administrators(papers: Papers) -> None:
    begin(papers)
    reader = person(papers, "north", Role.READER)
    with pytest.raises(ForbiddenError):
        address(papers, reader, for_organisation=True)
    chief = person(papers, "north", Role.ADMINISTRATOR)
    assert "own deadline: B-north" in calendar(
        papers, address(papers, chief, for_organisation=True)
    )
    with papers.estate.writing() as session:
        [line] = links(session, chief)
        assert links(session, reader) == []
        with pytest.raises(ForbiddenError):
            withdraw_link(session, reader, line.id, ON)


def test_a_restore_brings_works_back_and_no_address(
    papers: Papers, database_url: str, tmp_path: Path
) -> None:
    works = begin(papers)
    token = address(papers, person(papers, "north", Role.READER))
    with papers.estate.reading() as session:
        engine = session.get_bind().engine
    backup(engine, tmp_path / "kept.zip", NOON)
    reach(papers, works, WorksStatus.STARTED)
    restore(engine, tmp_path / "kept.zip")
    with papers.estate.reading() as session:
        assert session.get_one(Works, works).status is WorksStatus.IDENTIFIED
    with pytest.raises(NotFoundError):
        calendar(papers, token)


# --- imports -------------------------------------------------------------------------------------


@pytest.fixture
def store(database_url: str) -> Iterator[Store]:
    with opened(database_url) as found:
        found.take_in(*ESTATE)
        yield found


ROW = {
    "owner": "O-1",
    "building": "B-1",
    "works": "W-1",
    "works_zones": "Z-1",
    "decided": "replacement",
    "works_status": "planned",
    "works_status_date": "2026-01-10",
    "cost_estimate": "12,500.50",
}


def _imported(store: Store) -> Works:
    with store.session() as session:
        row = session.scalars(sa.select(Works)).one()
        assert [part.zone.ref for part in row.zones] == ["Z-1"]
        assert row.steps[-1].status is row.status
        return row


def problems(store: Store, **more: str) -> list[str]:
    return [str(one) for one in store.plan(csv_file("works", ROW | more)).problems]


def test_works_come_in_by_a_sheet_and_twice_changes_nothing(store: Store) -> None:
    sheet = csv_file("works", ROW)
    assert store.take_in(sheet).created == 1
    row = _imported(store)
    assert (row.estimate_minor, row.status) == (1_250_050, WorksStatus.PLANNED)
    again = store.take_in(sheet)
    assert (again.created, again.changed) == (0, 0)


def test_a_later_sheet_adds_a_status_and_keeps_the_earlier(store: Store) -> None:
    store.take_in(csv_file("works", ROW))
    new = {"works_status": "started", "works_status_date": "2026-02-10"}
    assert store.take_in(csv_file("works", ROW | new)).changed == 1
    _imported(store)
    with store.session() as session:
        steps = session.scalars(sa.select(WorksStep.status).order_by(WorksStep.id)).all()
    assert steps == [WorksStatus.PLANNED, WorksStatus.STARTED]


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ({"works_status": "complete"}, "An import cannot complete works"),
        ({"works_zones": "Z-9"}, "This building has no zone Z-9."),
        ({"works_status": "finished"}, 'column "Works status": "finished"'),
        ({"cost_estimate": "5k"}, "This is no amount of money."),
        ({"currency": "£"}, "This is no currency."),
        ({"works_status_date": "2026-09-01"}, "This day has not come yet."),
        ({"works_status_date": ""}, "A status has a day."),
        ({"decided": "test", "works_status": "started"}, "is said of building work"),
        ({"building": "B-9"}, "There is no such building: O-1 / B-9."),
    ],
)
def test_what_cannot_be_is_refused_with_its_place(
    store: Store, more: dict[str, str], told: str
) -> None:
    found = problems(store, **more)
    assert any(told in one for one in found), found
    assert all("works.csv" in one and "row 2" in one for one in found), found
    with pytest.raises(InputError):
        store.take_in(csv_file("works", ROW | more))
    with store.session() as session:
        assert session.query(Works).count() == 0

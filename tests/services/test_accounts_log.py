"""The change log: what each may read of it, on both databases."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import pytest
import sqlalchemy as sa

from portfolio.db.changelog import Actor, Entry, record
from portfolio.db.models import Event, Survey, Zone
from portfolio.db.people import BuildingGrant
from portfolio.domain.errors import InputError
from portfolio.domain.rights import Access
from portfolio.domain.surveys import Basis
from portfolio.services.accounts import log
from portfolio.services.accounts.log import LogFilter
from portfolio.services.viewer import LOCAL, Viewer
from tests.services.accounts_support import NOON, ON, People, people_in

READER, CONSULTANT = "reader@north.test", "reader@consultancy.test"


@pytest.fixture
def found(database_url: str) -> Iterator[People]:
    with people_in(database_url) as people_found:
        _write(people_found)
        yield people_found


def _write(found: People) -> None:
    """For each owner: entries of both buildings, a zone, a survey, a grant, a person."""
    with found.writing() as session:
        for ref in ("north", "south"):
            owner = found.organisation(ref)
            building = found.building(f"{ref.upper()}-1")
            zone = Zone(building_id=building, ref=f"{ref} zone")
            session.add(zone)
            session.flush()
            survey = Survey(
                zone_id=zone.id, ref=f"{ref} survey", basis=Basis.DRAWING, on=ON, build_up={}
            )
            session.add(survey)
            session.flush()
            other = found.building(f"{ref.upper()}-2")
            things = [
                ("building", building, f"{ref} one"),
                ("building", other, f"{ref} two"),
                ("zone", zone.id, f"{ref} zone"),
                ("survey", survey.id, f"{ref} survey"),
                ("grant", building, f"{ref} grant"),
                ("person", found.person(f"editor@{ref}.test").id, f"{ref} person"),
            ]
            entries = [Entry("changed", *thing, owner, {"x": (None, 1)}) for thing in things]
            record(session, Actor(f"Editor of {ref}"), entries)


def _refs(found: People, viewer: Viewer, **wanted: Any) -> list[str]:
    with found.reading() as session:
        page = log.read_log(session, viewer, LogFilter(**wanted), limit=50)
    assert page.total == len(page.lines)
    return [line.subject_ref for line in page.lines]


def test_one_reads_what_is_ones_own_newest_first(found: People) -> None:
    assert _refs(found, found.viewer(READER)) == [
        "north grant",
        "north survey",
        "north zone",
        "north two",
        "north one",
    ]


def test_entries_of_accounts_are_for_administrators_and_for_oneself(found: People) -> None:
    assert "north person" in _refs(found, found.viewer("administrator@north.test"))
    assert "north person" in _refs(found, found.viewer("editor@north.test"))
    assert "north person" not in _refs(found, found.viewer("engineer@north.test"))


def test_of_an_open_building_its_own_entries_are_read_but_not_to_whom_it_is_open(
    found: People,
) -> None:
    assert _refs(found, found.viewer(CONSULTANT)) == []
    row = BuildingGrant(
        building_id=found.building("NORTH-1"),
        organisation_id=found.organisation("consultancy"),
        access=Access.READ,
        from_day=ON,
        until_day=ON,
        granted_by="x",
    )
    with found.writing() as session:
        session.add(row)
    assert _refs(found, found.viewer(CONSULTANT)) == ["north survey", "north zone", "north one"]
    assert _refs(found, found.viewer(CONSULTANT, ON + timedelta(days=1))) == []


def test_the_local_viewer_reads_everything(found: People) -> None:
    assert len(_refs(found, LOCAL)) == 12


def test_the_log_is_filtered_by_kind_and_by_who(found: People) -> None:
    assert _refs(found, LOCAL, subject="zone") == ["south zone", "north zone"]
    assert _refs(found, LOCAL, subject="zone", actor="OF NORTH") == ["north zone"]
    assert _refs(found, LOCAL, actor="%") == []


def test_the_log_is_filtered_by_days_both_of_which_count(found: People) -> None:
    with found.reading() as session:
        day: date = session.scalars(sa.select(Event.at)).first().date()
    assert len(_refs(found, LOCAL, from_day=day, until_day=day)) == 12
    assert _refs(found, LOCAL, from_day=day + timedelta(days=1)) == []
    assert _refs(found, LOCAL, until_day=day - timedelta(days=1)) == []


def test_the_log_is_paged_in_the_store(found: People) -> None:
    with found.reading() as session:
        page = log.read_log(session, LOCAL, LogFilter(), limit=2, offset=2)
    assert [line.subject_ref for line in page.lines] == ["south survey", "south zone"]
    assert page.total == 12


def test_more_than_a_file_holds_is_refused_and_not_cut(
    found: People, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(log, "MOST_AT_ONCE", 11)
    with found.reading() as session, pytest.raises(InputError, match="Choose days"):
        log.read_log(session, LOCAL, LogFilter())


def test_every_kind_that_is_logged_can_be_asked_for(found: People) -> None:
    with found.reading() as session:
        logged = set(session.scalars(sa.select(Event.subject).distinct()))
    assert logged <= set(log.SUBJECTS)


def test_moments_are_those_of_the_store(found: People) -> None:
    with found.reading() as session:
        page = log.read_log(session, LOCAL, LogFilter(), limit=1)
    assert page.lines[0].at.year >= NOON.year
    assert page.lines[0].changes == (("x", "not recorded", "1"),)

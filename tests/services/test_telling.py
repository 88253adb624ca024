"""A save tells its effects on zones that the viewer sees, and on no other."""

from collections.abc import Iterator
from dataclasses import replace

import pytest
import sqlalchemy as sa

from portfolio.db.models import Building, Event, TestRecord
from portfolio.domain.errors import InputError
from portfolio.domain.evidence import Consent, Standing
from portfolio.domain.rights import Access
from portfolio.services.accounts.log import LogFilter, read_log
from portfolio.services.editing_buildings import editable_building, save_building
from portfolio.services.editing_tests import editable_test, save_test
from portfolio.services.history import SOMEBODY, history_of_zones
from portfolio.services.viewer import LOCAL, Viewer
from tests.services.world_support import Estate, estate_in
from tests.web.portfolios import ON


@pytest.fixture
def estate(database_url: str) -> Iterator[Estate]:
    """A published test of the holder's that covers a zone of its own and one of the owner's."""
    with estate_in(database_url) as found:
        with found.filling() as portfolio:
            holder, owner = (
                portfolio.organisation(ref="holder"),
                portfolio.organisation(ref="owner"),
            )
            for ref in ("consultancy", "rival"):
                portfolio.organisation(ref=ref)
            portfolio.test(holder, ref="T-1", consent=Consent.PUBLISHED)
            portfolio.zone(portfolio.building(holder, ref="OURS"), ref="Z-OURS")
            portfolio.zone(portfolio.building(owner, ref="THEIRS"), ref="Z-THEIRS")
            portfolio.building(owner, ref="SECRET")
        yield found


def building(estate: Estate, ref: str) -> int:
    with estate.reading() as session:
        found: int = session.scalars(sa.select(Building.id).filter_by(ref=ref)).one()
    return found


@pytest.mark.parametrize(("who", "zones"), [("holder", ["Z-OURS"]), ("", ["Z-OURS", "Z-THEIRS"])])
def test_who_withdraws_a_published_test_hears_of_the_own_zones(
    estate: Estate, who: str, zones: list[str]
) -> None:
    viewer = estate.viewer(who) if who else LOCAL
    with estate.writing() as session:
        test = session.scalars(sa.select(TestRecord.id)).one()
        facts = editable_test(session, viewer, test).facts
        facts = replace(facts, standing=Standing.WITHDRAWN, standing_note="by its sponsor")
        saved = save_test(session, viewer, test, facts, revision=1, on=ON)
    assert sorted(change.zone_ref for change in saved.changes) == zones
    assert saved.compared == len(zones), "a count of others' zones would tell of them"


def test_only_the_owner_changes_a_buildings_reference(estate: Estate) -> None:
    """Or a refusal would tell which references the owner has."""
    wanted = building(estate, "THEIRS")
    consultant = estate.viewer("consultancy", access=Access.EDIT, to=(wanted,))
    told = []
    for ref in ("SECRET", "FREE"):
        with estate.writing() as session:
            facts = replace(editable_building(session, consultant, wanted).facts, ref=ref)
            with pytest.raises(InputError) as refused:
                save_building(session, consultant, wanted, facts, revision=1, on=ON)
        told.append(str(refused.value).replace(ref, "REF"))
    assert told[0] == told[1]
    with estate.writing() as session:
        owner = estate.viewer("owner")
        facts = replace(editable_building(session, owner, wanted).facts, ref="FREE")
        assert save_building(session, owner, wanted, facts, revision=1, on=ON).ref == "FREE"


def _edited_by(estate: Estate, viewer: Viewer, wanted: int, note: str) -> None:
    with estate.writing() as session:
        found = editable_building(session, viewer, wanted)
        facts = replace(found.facts, note=note)
        save_building(session, viewer, wanted, facts, revision=found.revision, on=ON)


@pytest.mark.parametrize(
    ("who", "actors"),
    [
        ("owner", ["A. Person, rival", "A. Person, owner"]),
        ("rival", ["A. Person, rival", "A. Person, owner"]),
        ("consultancy", [SOMEBODY, "A. Person, owner"]),
    ],
)
def test_who_else_works_on_a_building_is_told_to_its_owner_only(
    estate: Estate, who: str, actors: list[str]
) -> None:
    wanted = building(estate, "THEIRS")
    _edited_by(estate, estate.viewer("owner"), wanted, "first")
    rival = estate.viewer("rival", access=Access.EDIT, to=(wanted,))
    _edited_by(estate, rival, wanted, "second")
    viewer = estate.viewer(who, to=() if who == "owner" else (wanted,))
    with estate.reading() as session:
        page = history_of_zones(session, viewer, [], building_id=wanted)
        log = read_log(session, viewer, LogFilter())
        by_name = read_log(session, viewer, LogFilter(actor="rival"))
        entries = session.scalar(sa.select(sa.func.count()).select_from(Event))
    assert entries == 2
    assert [line.actor for line in page.lines] == actors
    assert [line.actor for line in log.lines] == actors
    assert by_name.total == (0 if SOMEBODY in actors else 1)

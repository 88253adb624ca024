"""What an owner opens, to whom, from when to when, and how it ends, on both databases."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import sqlalchemy as sa

from portfolio.db.people import BuildingGrant, DemandShare
from portfolio.domain.errors import ForbiddenError, InputError, NotFoundError
from portfolio.domain.rights import Access, Right
from portfolio.services import sharing
from portfolio.services import sharing_lists as lists
from portfolio.services.sharing import GrantWanted
from portfolio.services.viewer import LOCAL
from tests.services.accounts_support import NOON, ON, People, people_in

OWNER, CONSULTANT = "administrator@north.test", "engineer@consultancy.test"
TOMORROW, YESTERDAY = ON + timedelta(days=1), ON - timedelta(days=1)


@pytest.fixture
def found(database_url: str) -> Iterator[People]:
    with people_in(database_url) as people_found:
        yield people_found


def _grant(found: People, *refs: str, by: str = OWNER, **more: Any) -> int:
    ids = tuple(found.building(ref) for ref in refs)
    values: dict[str, Any] = {
        "building_ids": ids,
        "organisation_ref": "consultancy",
        "access": Access.READ,
        "from_day": ON,
        "until_day": None,
    }
    viewer = found.viewer(by)
    with found.writing() as session:
        return sharing.grant(session, viewer, GrantWanted(**(values | more)))


def _rights(found: People, ref: str, on: Any = ON, who: str = CONSULTANT) -> set[Right]:
    return set(found.viewer(who, on).grants.get(found.building(ref), ()))


def _only(found: People) -> BuildingGrant:
    with found.reading() as session:
        return session.scalars(sa.select(BuildingGrant)).one()


# --- Buildings -----------------------------------------------------------------------------------


def test_nothing_is_open_before_it_is_opened(found: People) -> None:
    assert not found.viewer(CONSULTANT).grants


def test_only_the_buildings_named_are_open_and_only_as_far_as_said(found: People) -> None:
    assert _grant(found, "NORTH-1") == 1
    assert _rights(found, "NORTH-1") == {Right.READ}
    assert _rights(found, "NORTH-2") == set()
    assert _rights(found, "NORTH-1", who="engineer@laboratory.test") == set()


def test_access_to_edit_lets_engineers_decide(found: People) -> None:
    _grant(found, "NORTH-1", access=Access.EDIT)
    building, owner = found.building("NORTH-1"), found.organisation("north")
    may = {
        email: found.viewer(f"{email}@consultancy.test").may(Right.DECIDE, owner, building)
        for email in ("reader", "editor", "engineer")
    }
    assert may == {"reader": False, "editor": False, "engineer": True}


@pytest.mark.parametrize(
    ("from_day", "until_day", "is_open"),
    [
        (ON, None, True),
        (ON, ON, True),
        (YESTERDAY, ON, True),
        (TOMORROW, None, False),
        (YESTERDAY - timedelta(days=9), YESTERDAY, False),
    ],
)
def test_a_grant_counts_from_its_first_to_its_last_day(
    found: People, from_day: Any, until_day: Any, is_open: bool
) -> None:
    _grant(found, "NORTH-1", from_day=from_day, until_day=until_day)
    assert (_rights(found, "NORTH-1") == {Right.READ}) == is_open


def test_what_is_taken_back_is_closed_at_once(found: People) -> None:
    _grant(found, "NORTH-1")
    with found.writing() as session:
        sharing.take_back(session, found.viewer(OWNER), _only(found).id, NOON)
    assert _rights(found, "NORTH-1") == set()
    assert found.events("grant") == [("opened", "NORTH-1"), ("taken back", "NORTH-1")]


def test_taking_back_twice_is_logged_once(found: People) -> None:
    _grant(found, "NORTH-1")
    for later in (0, 1):
        with found.writing() as session:
            moment = NOON + timedelta(hours=later)
            sharing.take_back(session, found.viewer(OWNER), _only(found).id, moment)
    assert len(found.events("grant")) == 2


def test_everything_can_be_taken_back_from_a_consultancy(found: People) -> None:
    _grant(found, "NORTH-1", "NORTH-2")
    _grant(found, "SOUTH-1", by="administrator@south.test")
    with found.writing() as session:
        assert sharing.take_all_back(session, found.viewer(OWNER), "consultancy", NOON) == 2
    assert set(found.viewer(CONSULTANT).grants) == {found.building("SOUTH-1")}


def test_of_several_grants_the_widest_counts(found: People) -> None:
    _grant(found, "NORTH-1")
    _grant(found, "NORTH-1", access=Access.EDIT)
    assert Right.EDIT in _rights(found, "NORTH-1")


def test_a_building_of_another_owner_answers_like_one_that_does_not_exist(found: People) -> None:
    told = set()
    for building_id in (found.building("SOUTH-1"), 99_999, 0, -1):
        ids = (found.building("NORTH-1"), building_id)
        with pytest.raises(NotFoundError) as error:
            _grant(found, building_ids=ids)
        told.add(str(error.value))
    assert told == {"There is no such building."}
    assert found.events("grant") == []


def test_a_grant_of_another_owner_answers_like_one_that_does_not_exist(found: People) -> None:
    _grant(found, "SOUTH-1", by="administrator@south.test")
    told = set()
    with found.writing() as session:
        for grant_id in (_only(found).id, 99_999):
            with pytest.raises(NotFoundError) as error:
                sharing.take_back(session, found.viewer(OWNER), grant_id, NOON)
            told.add(str(error.value))
    assert len(told) == 1
    assert _only(found).taken_back_at is None


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"organisation_ref": "south"}, "no such consultancy"),
        ({"organisation_ref": "laboratory"}, "no such consultancy"),
        ({"organisation_ref": "nobody"}, "no such consultancy"),
        ({"until_day": YESTERDAY}, "before the first"),
        ({"building_ids": ()}, "at least one building"),
    ],
)
def test_a_grant_that_makes_no_sense_is_refused(
    found: People, more: dict[str, Any], words: str
) -> None:
    with pytest.raises(InputError, match=words):
        _grant(found, "NORTH-1", **more)


@pytest.mark.parametrize("role", ["reader", "editor", "engineer"])
def test_only_administrators_share(found: People, role: str) -> None:
    _grant(found, "NORTH-1")
    viewer, given = found.viewer(f"{role}@north.test"), _only(found)
    with pytest.raises(ForbiddenError):
        _grant(found, "NORTH-2", by=f"{role}@north.test")
    with found.writing() as session:
        for forbidden in (
            lambda: sharing.take_back(session, viewer, given.id, NOON),
            lambda: sharing.take_all_back(session, viewer, "consultancy", NOON),
            lambda: sharing.share_demand(session, viewer, "laboratory", is_named=True, on=ON),
            lambda: sharing.stop_sharing_demand(session, viewer, 1),
            lambda: lists.grants_given(session, viewer, limit=9, offset=0),
            lambda: lists.demand_shares(session, viewer),
            lambda: lists.choose_buildings(session, viewer, "", [], limit=9),
            lambda: lists.preview(session, viewer, "laboratory", ON),
        ):
            with pytest.raises(ForbiddenError):
                forbidden()


def test_a_consultancy_does_not_pass_on_what_is_open_to_it(found: People) -> None:
    _grant(found, "NORTH-1", access=Access.EDIT)
    with pytest.raises(NotFoundError):
        _grant(found, "NORTH-1", by="administrator@consultancy.test")


def test_nothing_is_shared_where_nobody_signs_in(found: People) -> None:
    with found.reading() as session, pytest.raises(NotFoundError):
        lists.demand_shares(session, LOCAL)


# --- Lists ---------------------------------------------------------------------------------------


def test_an_owner_sees_every_grant_of_its_own_newest_first(found: People) -> None:
    _grant(found, "NORTH-1")
    _grant(found, "NORTH-2", until_day=ON)
    _grant(found, "SOUTH-1", by="administrator@south.test")
    with found.reading() as session:
        page = lists.grants_given(session, found.viewer(OWNER), limit=1, offset=0)
    assert ([row.building.ref for row in page.rows], page.total) == (["NORTH-2"], 2)
    assert [holder.ref for holder in page.holders] == ["consultancy"]


def test_each_grant_says_whether_it_is_in_force(found: People) -> None:
    days = [(ON, None), (TOMORROW, None), (YESTERDAY, YESTERDAY)]
    states = []
    for number, (from_day, until_day) in enumerate(days):
        row = BuildingGrant(id=number, from_day=from_day, until_day=until_day)
        states.append(lists.state_of(row, ON))
    states.append(lists.state_of(BuildingGrant(from_day=ON, taken_back_at=NOON), ON))
    assert states == ["in force", "not begun", "run out", "taken back"]


def test_a_consultancy_sees_what_is_open_to_it_today_and_no_more(found: People) -> None:
    _grant(found, "NORTH-1")
    _grant(found, "NORTH-1", from_day=TOMORROW)
    _grant(found, "NORTH-1", from_day=YESTERDAY, until_day=YESTERDAY)
    _grant(found, "NORTH-2", from_day=TOMORROW)
    _grant(found, "SOUTH-1", from_day=YESTERDAY, until_day=YESTERDAY, by="administrator@south.test")
    with found.reading() as session:
        rows = lists.open_to_us(session, found.viewer(CONSULTANT), ON)
        others = lists.open_to_us(session, found.viewer("engineer@laboratory.test"), ON)
    assert [(row.building.ref, row.building.organisation.ref) for row in rows] == [
        ("NORTH-1", "north")
    ]
    assert others == []


def test_buildings_are_chosen_among_ones_own(found: People) -> None:
    viewer = found.viewer(OWNER)
    chosen = [found.building("NORTH-2"), found.building("SOUTH-1"), 0]
    with found.reading() as session:
        choice = lists.choose_buildings(session, viewer, "north", chosen, limit=50)
        everything = lists.matching_buildings(session, viewer, "")
        none = lists.choose_buildings(session, viewer, "south%", [], limit=50)
    assert [b.ref for b in choice.matching] == ["NORTH-1"]
    assert [b.ref for b in choice.chosen] == ["NORTH-2"]
    assert (choice.total, choice.more) == (2, 0)
    assert everything == [found.building("NORTH-1"), found.building("NORTH-2")]
    assert (none.matching, none.total) == ([], 0)


# --- Demand --------------------------------------------------------------------------------------


def _share(found: People, *, is_named: bool = False, ref: str = "laboratory") -> None:
    with found.writing() as session:
        sharing.share_demand(session, found.viewer(OWNER), ref, is_named=is_named, on=ON)


def _shares(found: People) -> list[DemandShare]:
    with found.reading() as session:
        return list(lists.demand_shares(session, found.viewer(OWNER)))


def test_demand_is_shared_once_with_each_laboratory_and_the_name_can_be_changed(
    found: People,
) -> None:
    _share(found)
    _share(found, is_named=True)
    assert [(share.laboratory.ref, share.is_named) for share in _shares(found)] == [
        ("laboratory", True)
    ]


def test_demand_is_shared_with_laboratories_only(found: People) -> None:
    for ref in ("consultancy", "south", "nobody"):
        with pytest.raises(InputError, match="no such laboratory"):
            _share(found, ref=ref)


def test_sharing_of_demand_stops_at_once_and_is_logged(found: People) -> None:
    _share(found)
    with found.writing() as session:
        sharing.stop_sharing_demand(session, found.viewer(OWNER), _shares(found)[0].id)
    assert _shares(found) == []
    actions = [action for action, _ in found.events("organisation")]
    assert actions == ["demand shared", "demand not shared"]


def test_a_share_of_another_owner_cannot_be_stopped(found: People) -> None:
    _share(found)
    other = found.viewer("administrator@south.test")
    with found.writing() as session, pytest.raises(NotFoundError):
        sharing.stop_sharing_demand(session, other, _shares(found)[0].id)


def test_a_laboratory_learns_how_many_owners_share_and_not_which(found: People) -> None:
    _share(found)
    with found.reading() as session:
        viewer = found.viewer("reader@laboratory.test")
        assert lists.owners_sharing_demand(session, viewer) == 1


def test_the_preview_says_whether_the_laboratory_sees_it_now(found: People) -> None:
    def previewed() -> Any:
        with found.reading() as session:
            return lists.preview(session, found.viewer(OWNER), "laboratory", ON)

    assert previewed().share is None
    _share(found, is_named=True)
    assert previewed().share.is_named
    with found.reading() as session, pytest.raises(NotFoundError):
        lists.preview(session, found.viewer(OWNER), "consultancy", ON)

"""What a laboratory sees of demand, and what an owner sees of it beforehand."""

from collections.abc import Iterator
from dataclasses import asdict, replace

import pytest
import sqlalchemy as sa

from portfolio.db.models import Organisation, OrganisationKind
from portfolio.db.people import DemandShare
from portfolio.domain.errors import NotFoundError
from portfolio.domain.rights import Role
from portfolio.services.demand import demand_groups, what_to_test
from portfolio.services.shared_demand import SharedTest, preview_for, shared_groups, shared_test
from portfolio.services.sharing import share_demand, stop_sharing_demand
from portfolio.services.viewer import Viewer
from tests.services.world_support import Estate, estate_in, share
from tests.web.portfolios import ON, wall

OWNERS = ("first", "second", "third")
HEIGHT_M = 23.47


@pytest.fixture
def estate(database_url: str) -> Iterator[Estate]:
    with estate_in(database_url) as found:
        yield found


def fill(estate: Estate, *owners: str, unwilling: tuple[str, ...] = ()) -> None:
    """Owners with one gap each, all of walls alike, who share with the laboratory."""
    with estate.filling() as portfolio:
        lab = portfolio.organisation(ref="lab", kind=OrganisationKind.LABORATORY)
        portfolio.organisation(ref="lab2", kind=OrganisationKind.LABORATORY)
        for name in owners:
            owner = portfolio.organisation(ref=name, name=f"Owner {name}")
            building = portfolio.building(
                owner,
                ref=f"B-{name}",
                name=f"House {name}",
                address=f"1 {name} street",
                heights=(HEIGHT_M,),
            )
            told = wall(facing__product=f"Panel of {name}", insulation__product=f"Wool of {name}")
            portfolio.zone(building, ref=f"Z-{name}", wall=told)
            share(portfolio, owner, lab, named=name not in unwilling)


def laboratory(estate: Estate) -> Viewer:
    return estate.viewer("lab", is_laboratory=True)


def _only(estate: Estate) -> SharedTest:
    """The one group that there is."""
    viewer = laboratory(estate)
    with estate.reading() as session:
        [group] = shared_groups(session, viewer, ON).groups
        return shared_test(session, viewer, group.key, ON)


@pytest.mark.parametrize(
    ("owners", "unwilling", "named", "why"),
    [
        (OWNERS[:1], (), (), "one owner is nobody to be named among"),
        (OWNERS[:2], (), (), "two owners know each other"),
        (OWNERS, (), OWNERS, "three owners who let themselves be named"),
        (OWNERS, ("second",), ("first", "third"), "the unwilling one is not named"),
        (OWNERS, OWNERS, (), "nobody wishes it"),
    ],
)
def test_owners_are_named_only_among_three_and_only_where_they_wish(
    estate: Estate,
    owners: tuple[str, ...],
    unwilling: tuple[str, ...],
    named: tuple[str, ...],
    why: str,
) -> None:
    fill(estate, *owners, unwilling=unwilling)
    found = _only(estate)
    assert [zone.owner for zone in found.named] == [f"Owner {name}" for name in named], why
    told = repr(asdict(found))
    hidden = [name for name in owners if name not in named]
    marks = [f"{what} {name}" for name in hidden for what in ("Owner", "House", "1")]
    marks += [f"{what}-{name}" for name in hidden for what in ("B", "Z")]
    assert [mark for mark in marks if mark in told] == [], why


@pytest.mark.parametrize(("owners", "words"), [(1, "fewer than 3"), (2, "fewer than 3"), (3, "3")])
def test_few_owners_are_not_counted(estate: Estate, owners: int, words: str) -> None:
    fill(estate, *OWNERS[:owners])
    assert _only(estate).group.owners == words


def test_three_owners_who_share_are_no_three_owners_of_every_group(estate: Estate) -> None:
    """Enough owners share, but two only have this wall."""
    fill(estate, *OWNERS)
    with estate.filling() as portfolio:
        for name in OWNERS[:2]:
            owner = portfolio.session.get(Organisation, estate.organisation(name))
            portfolio.zone(portfolio.building(owner), wall=wall(facing__material="glass"))
    viewer = laboratory(estate)
    with estate.reading() as session:
        groups = shared_groups(session, viewer, ON).groups
        named = {
            group.owners: shared_test(session, viewer, group.key, ON).named for group in groups
        }
    assert named.keys() == {"3", "fewer than 3"}
    assert named["fewer than 3"] == ()


def test_a_height_is_told_as_a_band_and_never_exactly(estate: Estate) -> None:
    fill(estate, *OWNERS)
    found = _only(estate)
    assert str(HEIGHT_M) not in repr(asdict(found))
    assert found.group.highest not in ("", "unknown")


def test_products_are_left_out(estate: Estate) -> None:
    fill(estate, *OWNERS)
    found = _only(estate)
    assert found.to_contain
    told = repr(found.to_contain)
    assert ("product" in told, "Panel" in told, "Wool" in told) == (False, False, False)


def test_the_owner_itself_reads_products_and_heights(estate: Estate) -> None:
    """What is left out for the laboratory is there to be left out."""
    fill(estate, "first")
    with estate.reading() as session:
        [group] = demand_groups(session, estate.viewer("first"), ON).groups
        found = what_to_test(session, estate.viewer("first"), group.key, ON)
    assert "Panel of first" in repr(found.to_contain)
    assert group.highest_m == HEIGHT_M


def test_the_preview_is_what_the_laboratory_sees_of_that_owners_part(estate: Estate) -> None:
    fill(estate, "first")
    with estate.reading() as session:
        before = preview_for(session, estate.viewer("first"), "lab", ON)
        assert before == shared_groups(session, laboratory(estate), ON)
    assert before.total == 1


def test_the_preview_holds_nothing_of_other_owners(estate: Estate) -> None:
    fill(estate, "first", "second")
    with estate.reading() as session:
        [own] = preview_for(session, estate.viewer("first"), "lab", ON).groups
        [both] = shared_groups(session, laboratory(estate), ON).groups
    assert (own.zones, both.zones) == (1, 2)
    assert replace(own, zones=2, buildings=2, area_m2=200.0) == both


def test_the_preview_is_there_before_anything_is_shared(estate: Estate) -> None:
    fill(estate, "first")
    with estate.reading() as session:
        viewer = estate.viewer("first")
        assert preview_for(session, viewer, "lab2", ON) == preview_for(session, viewer, "lab", ON)
        assert shared_groups(session, estate.viewer("lab2", is_laboratory=True), ON).total == 0


@pytest.mark.parametrize("ref", ["nobody", "first", ""])
def test_there_is_no_preview_for_what_is_no_laboratory(estate: Estate, ref: str) -> None:
    fill(estate, "first")
    with estate.reading() as session, pytest.raises(NotFoundError):
        preview_for(session, estate.viewer("first"), ref, ON)


def test_sharing_shows_at_once_and_stopping_removes_at_once(estate: Estate) -> None:
    fill(estate, *OWNERS)
    owner = estate.viewer("first", Role.ADMINISTRATOR)
    with estate.writing() as session:
        row = session.scalars(sa.select(DemandShare).filter_by(owner_id=owner.organisation_id))
        stop_sharing_demand(session, owner, row.one().id)
    stopped = _only(estate)
    assert (stopped.group.zones, stopped.group.owners, stopped.named) == (2, "fewer than 3", ())
    with estate.writing() as session:
        share_demand(session, owner, "lab", is_named=True, on=ON)
    assert (_only(estate).group.zones, len(_only(estate).named)) == (3, 3)


def test_a_group_of_an_owner_who_does_not_share_is_not_there(estate: Estate) -> None:
    fill(estate, "first")
    with estate.filling() as portfolio:
        other = portfolio.organisation(ref="other")
        portfolio.zone(portfolio.building(other), wall=wall(facing__material="glass"))
    with estate.reading() as session:
        [theirs] = demand_groups(session, estate.viewer("other"), ON).groups
        [shared] = shared_groups(session, laboratory(estate), ON).groups
        assert shared.key != theirs.key
        with pytest.raises(NotFoundError):
            shared_test(session, laboratory(estate), theirs.key, ON)


def test_a_consultancys_demand_is_its_own_and_that_of_open_buildings(estate: Estate) -> None:
    with estate.filling() as portfolio:
        owner, other = portfolio.organisation(ref="owner"), portfolio.organisation(ref="other")
        opened, shut = portfolio.building(owner), portfolio.building(owner)
        portfolio.zone(opened)
        portfolio.zone(shut, wall=wall(facing__material="glass"))
        portfolio.zone(portfolio.building(other), wall=wall(facing__material="zinc"))
        to = (opened.id,)
    with estate.reading() as session:
        consultancy = estate.viewer("other", to=to)
        assert demand_groups(session, consultancy, ON).total == 2
        assert demand_groups(session, estate.viewer("owner"), ON).total == 2
        assert demand_groups(session, estate.viewer("other"), ON).total == 1
        [hidden] = [
            group
            for group in demand_groups(session, estate.viewer("owner"), ON).groups
            if "glass" in repr(group.wall)
        ]
        with pytest.raises(NotFoundError):
            what_to_test(session, consultancy, hidden.key, ON)

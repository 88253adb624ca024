"""Importing into buildings that their owner opened for editing, and nothing else of that owner."""

from collections.abc import Iterator
from typing import Any

import pytest
import sqlalchemy as sa

from portfolio.db.models import Building, Event, HeightClaim, Organisation, Survey, TestRecord, Zone
from portfolio.db.session import writing
from portfolio.domain.errors import ForbiddenError, InputError, NotFoundError
from portfolio.domain.rights import RIGHTS_OF_ACCESS, RIGHTS_OF_ROLE, Access, Role
from portfolio.services.previewing import apply_preview, preview_import
from portfolio.services.viewer import Viewer
from portfolio.sheets.raw import GivenFile
from tests.services.importing_support import ESTATE, ON, Store, opened
from tests.sheets.support import building, csv_file, layer, record, zone


@pytest.fixture
def store(database_url: str) -> Iterator[Store]:
    """The first owner's B-1 with a zone, survey and test; its B-2; and a consultancy."""
    with opened(database_url) as found:
        found.take_in(*ESTATE)
        found.take_in(
            csv_file("buildings", building(building="B-2", name="Shut")),
            csv_file("zones", zone(building="B-2", zone="Z-9")),
            csv_file(
                "organisations", {"organisation": "C-1", "name": "Third", "kind": "consultancy"}
            ),
        )
        yield found


def consultant(
    store: Store, *, role: Role = Role.EDITOR, access: Access | None = Access.EDIT
) -> Viewer:
    """Somebody of the consultancy, to which B-1 is open."""
    with store.session() as session:
        own = session.scalars(sa.select(Organisation.id).filter_by(ref="C-1")).one()
        open_ = session.scalars(sa.select(Building.id).filter_by(ref="B-1")).one()
    grants = {} if access is None else {open_: RIGHTS_OF_ACCESS[access]}
    return Viewer("C. Tester, Third", own, None, RIGHTS_OF_ROLE[role], grants=grants)


def told(store: Store, viewer: Viewer, *files: GivenFile) -> list[str]:
    """The problems of a plan, without the place of the file."""
    return [problem.message for problem in store.plan(*files, viewer=viewer).problems]


def one(store: Store, kind: Any, **of: Any) -> Any:
    with store.session() as session:
        return session.scalars(sa.select(kind).filter_by(**of)).one_or_none()


def test_zones_surveys_heights_and_facts_of_an_open_building_are_written(store: Store) -> None:
    viewer = consultant(store)
    store.take_in(
        csv_file("buildings", building(name="House", storeys=8)),
        csv_file("heights", building(top_floor_height_m="19.2", height_method="measured")),
        csv_file("zones", zone(zone="Z-1", description="rendered"), zone(zone="Z-3")),
        csv_file("layers", layer(survey="S-2", role="facing", material="clay-brick")),
        viewer=viewer,
    )
    assert one(store, Building, ref="B-1").storeys == 8
    assert one(store, Zone, ref="Z-1").description == "rendered"
    assert one(store, Zone, ref="Z-3") is not None
    assert one(store, Survey, ref="S-2") is not None
    assert one(store, HeightClaim, metres=19.2) is not None


def test_what_a_consultancy_wrote_stands_in_the_owners_log_with_its_name(store: Store) -> None:
    viewer = consultant(store)
    store.take_in(csv_file("zones", zone(zone="Z-3")), viewer=viewer)
    owner = store.viewer_of("O-1").organisation_id
    with store.session() as session:
        event = session.scalars(sa.select(Event).order_by(Event.id.desc())).first()
    assert event is not None
    assert (event.organisation_id, event.actor) == (owner, viewer.name)
    assert event.acting_organisation_id == viewer.organisation_id


@pytest.mark.parametrize(
    ("files", "why"),
    [
        ([csv_file("buildings", building(building="B-2", name="Mine"))], "another building"),
        ([csv_file("buildings", building(building="B-7", name="New"))], "a new building"),
        ([csv_file("zones", zone(building="B-2", zone="Z-9"))], "a zone of another building"),
        ([csv_file("zones", zone(building="B-7"))], "a zone of none"),
        (
            [csv_file("heights", building(building="B-2", top_floor_height_m="3"))],
            "a height of another",
        ),
        ([csv_file("layers", layer(building="B-2", zone="Z-9", role="facing"))], "a survey"),
        ([csv_file("tests", record(test="T-9"))], "a test of the owner"),
        ([csv_file("tests", record(test="T-1", title="mine"))], "the owner's test"),
        (
            [csv_file("organisations", {"organisation": "O-1", "name": "Mine", "kind": "owner"})],
            "the owner itself",
        ),
    ],
)
def test_nothing_else_of_that_owner_can_be_written(
    store: Store, files: list[GivenFile], why: str
) -> None:
    viewer = consultant(store)
    plan = store.plan(*files, viewer=viewer)
    assert (plan.steps, bool(plan.problems)) == ((), True), why
    with pytest.raises(InputError):
        store.apply(plan, viewer)
    assert one(store, TestRecord, ref="T-1").title == "panel"


@pytest.mark.parametrize("sheet", ["buildings", "zones", "heights", "layers"])
def test_a_building_that_is_not_open_is_refused_like_one_that_is_not_there(
    store: Store, sheet: str
) -> None:
    rows = {
        "buildings": lambda ref: building(building=ref, name="x"),
        "zones": lambda ref: zone(building=ref, zone="Z-9"),
        "heights": lambda ref: building(building=ref, top_floor_height_m="3"),
        "layers": lambda ref: layer(building=ref, zone="Z-9", role="facing"),
    }
    viewer = consultant(store)
    shut, missing = (
        [
            line.replace(ref, "REF")
            for line in told(store, viewer, csv_file(sheet, rows[sheet](ref)))
        ]
        for ref in ("B-2", "B-7")
    )
    assert shut == missing != []


@pytest.mark.parametrize("access", [Access.READ, None])
def test_a_building_that_is_only_read_or_taken_back_is_not_written(
    store: Store, access: Access | None
) -> None:
    viewer = consultant(store, access=access)
    assert told(store, viewer, csv_file("zones", zone(zone="Z-3"))) != []
    assert one(store, Zone, ref="Z-3") is None


def test_a_plan_is_void_when_the_building_was_taken_back_meanwhile(store: Store) -> None:
    plan = store.plan(csv_file("zones", zone(zone="Z-3")), viewer=consultant(store))
    assert not plan.problems
    with pytest.raises(NotFoundError):
        store.apply(plan, consultant(store, access=None))
    assert one(store, Zone, ref="Z-3") is None


def test_the_same_file_again_changes_nothing(store: Store) -> None:
    viewer, files = consultant(store), [csv_file("zones", zone(zone="Z-3", face="north"))]
    store.take_in(*files, viewer=viewer)
    plan = store.plan(*files, viewer=viewer)
    assert (plan.creates, plan.updates, len(plan.leaves)) == ((), (), 1)


@pytest.mark.parametrize("ref", ["C-1", "O-1"])
def test_a_reader_imports_nothing(store: Store, ref: str) -> None:
    own = store.viewer_of(ref).organisation_id
    reader = Viewer("A. Reader", own, None, RIGHTS_OF_ROLE[Role.READER])
    files = [csv_file("buildings", {"owner": ref, "building": "B-5", "name": "x"})]
    editor = Viewer("An editor", own, None, RIGHTS_OF_ROLE[Role.EDITOR])
    plan = store.plan(*files, viewer=editor)
    with pytest.raises(ForbiddenError):
        store.plan(*files, viewer=reader)
    with pytest.raises(ForbiddenError):
        store.apply(plan, reader)
    assert one(store, Building, ref="B-5") is None


@pytest.mark.parametrize("role", [Role.EDITOR, Role.ADMINISTRATOR])
def test_an_import_never_turns_an_organisation_into_another_kind(store: Store, role: Role) -> None:
    """A laboratory sees what owners share, and a consultancy is opened buildings."""
    own = store.viewer_of("O-1").organisation_id
    viewer = Viewer("somebody", own, None, RIGHTS_OF_ROLE[role])
    row = {"organisation": "O-1", "name": "First owner", "kind": "laboratory"}
    assert told(store, viewer, csv_file("organisations", row)) == [
        "What an organisation is cannot be changed by an import."
    ]


def test_only_an_administrator_renames_the_own_organisation(store: Store) -> None:
    own = store.viewer_of("O-1").organisation_id
    file = csv_file("organisations", {"organisation": "O-1", "name": "Renamed", "kind": "owner"})
    editor = Viewer("an editor", own, None, RIGHTS_OF_ROLE[Role.EDITOR])
    administrator = Viewer("an administrator", own, None, RIGHTS_OF_ROLE[Role.ADMINISTRATOR])
    assert len(told(store, editor, file)) == 1
    store.take_in(file, viewer=administrator)
    assert one(store, Organisation, ref="O-1").name == "Renamed"


def test_applying_a_preview_tells_nothing_of_others_zones(store: Store) -> None:
    """A published test changes the coverage of every owner; who imports it hears of its own."""
    tests = [
        csv_file("tests", {"held_by": "C-1", "test": "T-P", "consent": "published"}),
        csv_file(
            "tested_layers", {"held_by": "C-1", "test": "T-P", "layer_no": 1, "role": "facing"}
        ),
    ]
    viewer = consultant(store, access=None)
    with store.session() as session:
        preview = preview_import(session, viewer, tests, ON)
    with writing(store.engine) as session:
        done = apply_preview(session, viewer, tests, preview.fingerprint, ON)
        assert done.created == 1
        assert done.changes == ()

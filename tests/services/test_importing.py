"""Importing on both databases: what a plan says is what is written, once, and is logged."""

from collections.abc import Iterator

import pytest
import sqlalchemy as sa

from portfolio.db import models
from portfolio.db.session import writing
from portfolio.domain.errors import InputError, NotFoundError
from portfolio.domain.evidence import Consent
from portfolio.services.exporting import export_csv, export_xlsx, gather_drafts
from portfolio.services.importing import Leave, plan_import
from portfolio.services.viewer import Viewer
from portfolio.sheets.raw import GivenFile
from tests.services.importing_support import ESTATE, LOCAL, ON, ORGANISATIONS, Store, opened
from tests.sheets.support import building, csv_file, drafts_of, layer, record, zone


@pytest.fixture
def store(database_url: str) -> Iterator[Store]:
    with opened(database_url) as found:
        yield found


@pytest.fixture
def estate(store: Store) -> Store:
    """A store that holds the small estate."""
    store.take_in(*ESTATE)
    return store


def _events(store: Store) -> list[tuple[str, str, str]]:
    with store.session() as session:
        query = sa.select(models.Event).order_by(models.Event.id)
        return [(e.action, e.subject, e.subject_ref) for e in session.scalars(query)]


def _count(store: Store, model: type[models.Base]) -> int:
    with store.session() as session:
        return session.scalar(sa.select(sa.func.count()).select_from(model)) or 0


# --- Creating and repeating -----------------------------------------------------------------------


def test_a_plan_writes_nothing(store: Store) -> None:
    plan = store.plan(*ESTATE)
    assert plan.counts() == {
        "organisation": (2, 0, 0),
        "building": (1, 0, 0),
        "zone": (2, 0, 0),
        "survey": (1, 0, 0),
        "test": (1, 0, 0),
    }
    assert _count(store, models.Building) == 0


def test_everything_in_the_file_is_stored_and_linked(estate: Store) -> None:
    with estate.session() as session:
        house = session.scalars(sa.select(models.Building)).one()
        assert (house.organisation.ref, house.ref, house.storeys) == ("O-1", "B-1", 7)
        assert [claim.metres for claim in house.heights] == [18.6]
        assert house.search_text == "b-1 house "
        assert [z.ref for z in house.zones] == ["Z-1", "Z-2"]
        assert house.zones[0].surveys[0].build_up["layers"][0]["material"] == "clay-brick"
        test = session.scalars(sa.select(models.TestRecord)).one()
        assert [(c.organisation_ref, c.consent) for c in test.consents] == [("O-2", Consent.GIVEN)]


def test_every_record_created_is_logged_once_with_its_author(estate: Store) -> None:
    assert _events(estate) == [
        ("created", "organisation", "O-1"),
        ("created", "organisation", "O-2"),
        ("created", "building", "B-1"),
        ("created", "zone", "B-1 / Z-1"),
        ("created", "zone", "B-1 / Z-2"),
        ("created", "survey", "B-1 / Z-1 / S-1"),
        ("created", "test", "T-1"),
    ]
    with estate.session() as session:
        event = session.scalars(sa.select(models.Event)).first()
        assert event is not None
        assert (event.actor, event.reason) == ("A. Tester", "import of 2026-03-01")


def test_the_result_names_what_must_be_computed_again(store: Store) -> None:
    result = store.take_in(*ESTATE)
    assert (result.created, result.changed, result.tests_changed) == (7, 0, True)
    assert (len(result.zone_ids), len(result.building_ids)) == (2, 1)


def test_the_same_file_twice_changes_nothing(estate: Store) -> None:
    plan = estate.plan(*ESTATE)
    assert all(isinstance(step, Leave) for step in plan.steps)
    before = _events(estate)
    result = estate.apply(plan)
    assert (result.zone_ids, result.building_ids, result.tests_changed) == (set(), set(), False)
    assert _events(estate) == before


def test_an_export_imports_again_without_a_change(estate: Store) -> None:
    with estate.session() as session:
        workbook = GivenFile("estate.xlsx", export_xlsx(session, LOCAL))
        files = [GivenFile(*file) for file in export_csv(session, LOCAL).items()]
    for given in ([workbook], files):
        plan = estate.plan(*given)
        assert (plan.problems, plan.creates, plan.updates) == ((), (), ())


def test_stored_text_that_no_sheet_can_hold_as_it_is_does_not_count_as_a_change(
    estate: Store,
) -> None:
    with writing(estate.engine) as session:
        house = session.scalars(sa.select(models.Building)).one()
        house.note = " two\r\nlines "
        house.zones[0].area_m2 = 1 / 3
        house.heights[0].metres = 56 / 3
    with estate.session() as session:
        workbook = GivenFile("estate.xlsx", export_xlsx(session, LOCAL))
    assert estate.plan(workbook).updates == ()


# --- Changing -------------------------------------------------------------------------------------


def test_a_changed_building_shows_old_and_new_and_counts_a_save(estate: Store) -> None:
    changed = csv_file("buildings", building(storeys=8, use="flats"))
    plan = estate.plan(changed)
    (update,) = plan.updates
    assert update.changes == {"storeys": (7, 8), "use": ("", "flats")}
    result = estate.apply(plan)
    assert len(result.zone_ids) == 2
    with estate.session() as session:
        house = session.scalars(sa.select(models.Building)).one()
        assert (house.storeys, house.use, house.revision) == (8, "flats", 2)
        event = session.scalars(sa.select(models.Event).order_by(models.Event.id)).all()[-1]
        assert (event.action, event.changes["storeys"]) == ("changed", [7, 8])


def test_a_column_that_the_file_has_not_is_left_alone(estate: Store) -> None:
    estate.take_in(csv_file("buildings", building(storeys=8)))
    with estate.session() as session:
        house = session.scalars(sa.select(models.Building)).one()
        assert (house.name, house.note) == ("House", "n")


def test_an_empty_cell_makes_a_value_unknown_again(estate: Store) -> None:
    estate.take_in(csv_file("buildings", building(storeys="", note="")))
    with estate.session() as session:
        house = session.scalars(sa.select(models.Building)).one()
        assert (house.storeys, house.note) == (None, "")


def test_a_changed_zone_touches_only_itself(estate: Store) -> None:
    result = estate.take_in(csv_file("zones", zone(face="east"), zone(zone="Z-2", face="south")))
    assert (result.changed, len(result.zone_ids)) == (1, 1)


def test_a_changed_name_is_found_by_searching(estate: Store) -> None:
    estate.take_in(csv_file("buildings", building(name="Tower")))
    with estate.session() as session:
        assert session.scalars(sa.select(models.Building.search_text)).one() == "b-1 tower "


def test_a_new_height_is_added_and_none_is_taken_away(estate: Store) -> None:
    result = estate.take_in(csv_file("heights", building(top_floor_height_m="19")))
    assert (result.changed, len(result.zone_ids)) == (1, 2)
    plan = estate.plan(csv_file("buildings", building(top_floor_height_m="")))
    assert plan.updates == ()
    with estate.session() as session:
        metres = session.scalars(
            sa.select(models.HeightClaim.metres).order_by(models.HeightClaim.id)
        )
        assert list(metres) == [18.6, 19]


def test_a_height_that_is_known_already_changes_nothing(estate: Store) -> None:
    assert estate.plan(csv_file("heights", building(top_floor_height_m="18.6"))).updates == ()


def test_a_survey_is_never_changed(estate: Store) -> None:
    correction = layer(role="facing", material="fibre-cement", survey_source="report 4")
    (problem,) = estate.plan(csv_file("layers", correction)).problems
    assert (problem.row, problem.column, problem.value) == (2, "Survey", "S-1")
    assert "give the correction a new survey reference" in str(problem)
    assert "the layers differ" in str(problem)


def test_a_correction_is_another_survey_of_the_same_zone(estate: Store) -> None:
    result = estate.take_in(csv_file("layers", layer(survey="S-2", role="facing")))
    assert (result.created, len(result.zone_ids)) == (1, 1)
    assert _count(estate, models.Survey) == 2


def test_a_changed_test_keeps_what_the_file_does_not_speak_of(estate: Store) -> None:
    plan = estate.plan(csv_file("tests", record(standing="disputed", standing_note="new report")))
    (update,) = plan.updates
    assert update.changes.keys() == {"standing", "standing_note"}
    assert estate.apply(plan).tests_changed
    with estate.session() as session:
        test = session.scalars(sa.select(models.TestRecord)).one()
        assert (test.title, test.standing.value, test.revision) == ("panel", "disputed", 2)
        assert test.build_up["layers"][0]["material"] == "fibre-cement"
        assert test.build_up["substrate"] == "masonry"
        assert [c.organisation_ref for c in test.consents] == ["O-2"]


def test_changed_layers_of_a_test_are_told_in_words(estate: Store) -> None:
    files = (
        csv_file("tests", record(substrate="steel-frame")),
        csv_file("tested_layers", record(layer_no=1, role="facing", thickness_mm="8 to 10")),
    )
    (update,) = estate.plan(*files).updates
    assert update.changes == {
        "substrate": ("masonry", "steel-frame"),
        "layers": (["facing: material fibre-cement"], ["facing: thickness 8..10 mm"]),
    }


def test_consent_follows_the_list_of_the_file_and_leaves_other_answers(estate: Store) -> None:
    with writing(estate.engine) as session:
        test_id = session.scalars(sa.select(models.TestRecord.id)).one()
        third = models.Organisation(
            ref="O-3", name="Third", kind=models.OrganisationKind.CONSULTANCY
        )
        session.add(third)
        session.flush()
        session.add(
            models.TestConsent(
                test_id=test_id,
                organisation_ref="O-3",
                organisation_id=third.id,
                consent=Consent.ASKED,
            )
        )
    estate.take_in(csv_file("tests", record(consent_given_to="")))
    assert _consents(estate) == {("O-3", "asked")}
    estate.take_in(csv_file("tests", record(consent_given_to="O-3; O-2")))
    assert _consents(estate) == {("O-2", "given"), ("O-3", "given")}


def _consents(store: Store) -> set[tuple[str, str]]:
    with store.session() as session:
        rows = session.scalars(sa.select(models.TestConsent))
        return {(row.organisation_ref, row.consent.value) for row in rows}


# --- Refusing -------------------------------------------------------------------------------------


def test_what_leans_on_nothing_is_a_problem(estate: Store) -> None:
    plan = estate.plan(
        csv_file("zones", zone(building="B-9")),
        csv_file("layers", layer(zone="Z-9", role="facing")),
        csv_file("heights", building(building="B-8", top_floor_height_m="4")),
    )
    assert [str(problem).partition(" Expected")[0] for problem in plan.problems] == [
        'heights.csv, row 2, column "Building": "B-8": There is no such building: O-1 / B-8.',
        'zones.csv, row 2, column "Building": "B-9": There is no such building: O-1 / B-9.',
        'layers.csv, row 2, column "Zone": "Z-9": There is no such zone: O-1 / B-1 / Z-9.',
    ]


def test_an_unknown_organisation_is_a_problem_that_says_to_add_its_row(store: Store) -> None:
    plan = store.plan(csv_file("buildings", building()), csv_file("tests", record()))
    assert [problem.column for problem in plan.problems] == ["Owner", "Held by"]
    assert "a row for it in the sheet Organisations" in str(plan.problems[0])


def test_consent_may_name_any_reference_and_takes_effect_where_there_is_one(
    estate: Store,
) -> None:
    estate.take_in(csv_file("tests", record(consent_given_to="O-2;O-9")))
    with estate.session() as session:
        said = session.scalars(sa.select(models.TestConsent).order_by("organisation_ref")).all()
        named = [(row.organisation_ref, row.organisation_id is not None) for row in said]
    assert named == [("O-2", True), ("O-9", False)]
    estate.take_in(csv_file("organisations", {"organisation": "O-9", "kind": "owner"}))
    assert estate.plan(csv_file("tests", record(consent_given_to="O-9;O-2"))).updates == ()
    with estate.session() as session:
        late = session.scalars(sa.select(models.TestConsent).filter_by(organisation_ref="O-9"))
        assert late.one().organisation_id is None, "who comes later does not take it over"


def test_a_new_organisation_says_what_it_is_and_a_known_one_need_not(estate: Store) -> None:
    rows = [
        {"organisation": "O-1", "name": "Renamed", "kind": ""},
        {"organisation": "O-5", "name": "", "kind": ""},
    ]
    plan = estate.plan(csv_file("organisations", *rows))
    assert [(problem.row, problem.column) for problem in plan.problems] == [(3, "Kind")]
    assert plan.updates[0].changes == {"name": ("First owner", "Renamed")}


def test_a_refused_row_is_not_reported_again_by_what_leans_on_it(store: Store) -> None:
    plan = store.plan(
        ORGANISATIONS,
        csv_file("buildings", building(storeys="many")),
        csv_file("zones", zone()),
        csv_file("layers", layer(role="facing")),
    )
    assert [problem.column for problem in plan.problems] == ["Storeys"]


def test_a_plan_with_problems_is_not_carried_out(estate: Store) -> None:
    plan = estate.plan(
        csv_file("buildings", building(building="B-2", storeys=""), building(storeys="x"))
    )
    with pytest.raises(InputError, match="Storeys|storeys"):
        estate.apply(plan)
    assert _count(estate, models.Building) == 1


def test_a_plan_that_somebody_overtook_is_not_carried_out(estate: Store) -> None:
    plan = estate.plan(
        csv_file("buildings", building(storeys=9)), csv_file("zones", zone(zone="Z-3"))
    )
    estate.take_in(csv_file("buildings", building(storeys=8)))
    with pytest.raises(InputError, match="since the plan was made"):
        estate.apply(plan)
    assert _count(estate, models.Zone) == 2


def test_a_record_that_somebody_else_created_meanwhile_is_not_created_twice(
    estate: Store,
) -> None:
    plan = estate.plan(csv_file("zones", zone(zone="Z-3")))
    estate.apply(plan)
    with pytest.raises(InputError, match="make the plan again"):
        estate.apply(plan)


# --- Whose records --------------------------------------------------------------------------------


def test_a_viewer_of_an_organisation_changes_its_own_records(estate: Store) -> None:
    viewer = estate.viewer_of("O-1")
    result = estate.take_in(csv_file("zones", zone(face="west")), viewer=viewer)
    assert result.changed == 1
    assert _events(estate)[-1] == ("changed", "zone", "B-1 / Z-1")


def test_another_organisation_is_refused_in_the_words_for_one_that_does_not_exist(
    estate: Store,
) -> None:
    viewer = estate.viewer_of("O-2")

    def refusals(ref: str) -> list[str]:
        files = (
            csv_file("organisations", {"organisation": ref, "name": "x", "kind": "owner"}),
            csv_file("buildings", building(owner=ref)),
            csv_file("heights", building(owner=ref, building="B-2", top_floor_height_m="3")),
            csv_file("zones", zone(owner=ref, building="B-2")),
            csv_file("layers", layer(owner=ref, role="facing", zone="Z-7")),
            csv_file("tests", record(held_by=ref)),
        )
        plan = estate.plan(*files, viewer=viewer)
        assert plan.steps == ()
        return [str(problem).replace(ref, "REF") for problem in plan.problems]

    assert refusals("O-1") == refusals("O-9")
    assert len(refusals("O-1")) == 6


def test_a_building_of_another_organisation_cannot_be_seen_through_its_zones(
    estate: Store,
) -> None:
    plan = estate.plan(csv_file("zones", zone(zone="Z-9")), viewer=estate.viewer_of("O-2"))
    assert "no such building" in str(plan.problems[0])


def test_a_plan_serves_only_the_viewer_it_was_made_for(estate: Store) -> None:
    plan = estate.plan(*ESTATE)
    with pytest.raises(NotFoundError):
        estate.apply(plan, estate.viewer_of("O-2"))


def test_a_viewer_of_no_known_organisation_can_plan_nothing(estate: Store) -> None:
    with pytest.raises(NotFoundError), estate.session() as session:
        plan_import(session, Viewer("C. Tester", 999), drafts_of(*ESTATE), ON)


def test_an_export_holds_only_what_belongs_to_the_viewer(estate: Store) -> None:
    estate.take_in(csv_file("buildings", building(owner="O-2", building="B-7")))
    with estate.session() as session:
        drafts = gather_drafts(session, estate.viewer_of("O-2"))
    assert [draft.organisation for draft in drafts.organisations] == ["O-2"]
    assert [draft.building for draft in drafts.buildings] == ["B-7"]
    assert (drafts.zones, drafts.surveys, drafts.tests) == ((), (), ())


def test_an_owners_export_imports_again_for_that_owner(estate: Store) -> None:
    viewer = estate.viewer_of("O-1")
    with estate.session() as session:
        workbook = GivenFile("estate.xlsx", export_xlsx(session, viewer))
    plan = estate.plan(workbook, viewer=viewer)
    assert (plan.problems, plan.creates, plan.updates) == ((), (), ())


def test_the_date_of_the_import_is_the_callers(estate: Store) -> None:
    with estate.session() as session:
        reasons = set(session.scalars(sa.select(models.Event.reason)))
    assert reasons == {f"import of {ON.isoformat()}"}

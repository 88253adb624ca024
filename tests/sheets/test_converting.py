"""Converting: every problem is told, in its place; unknown is unknown and nothing is guessed."""

from datetime import date
from typing import Any

import pytest

from portfolio.domain.evidence import Answer3, Consent, Holding, Outcome, Standing
from portfolio.domain.measures import exactly
from portfolio.domain.parameters import Role
from portfolio.domain.values import UNKNOWN, Range, known
from portfolio.sheets.dates import read_date
from portfolio.sheets.drafts import LAYERS
from tests.sheets.support import (
    building,
    csv_file,
    drafts_of,
    layer,
    record,
    told,
    workbook,
    zone,
)


def _columns(sheet: str, *rows: Any) -> list[tuple[int | None, str]]:
    """Where the problems of a sheet are: row and column."""
    return [(p.row, p.column) for p in drafts_of(csv_file(sheet, *rows)).problems]


def test_every_problem_of_every_row_is_told() -> None:
    rows = [building(storeys="four", homes="-1"), building(building="", storeys="2", homes="x")]
    assert _columns("buildings", *rows) == [
        (2, "Storeys"),
        (2, "Homes"),
        (3, "Building"),
        (3, "Homes"),
    ]


@pytest.mark.parametrize("word", ["", "unknown", "N/K", "tbc", "?", "-", "not recorded"])
def test_words_for_unknown_leave_a_building_unknown(word: str) -> None:
    row = building(
        jurisdiction=word,
        use=word,
        storeys=word,
        top_floor_height_m=word,
        homes=word,
        evacuation=word,
        sprinklers=word,
    )
    drafts = drafts_of(csv_file("buildings", row))
    assert drafts.problems == ()
    (found,) = drafts.buildings
    assert (found.jurisdiction, found.use, found.storeys, found.homes) == ("", "", None, None)
    assert (found.heights, found.evacuation, found.sprinklers) == ((), "", "")


def test_no_sprinklers_is_not_the_same_as_not_knowing() -> None:
    (found,) = drafts_of(csv_file("buildings", building(sprinklers="None"))).buildings
    assert found.sprinklers == "none"


def test_a_use_may_be_given_in_words() -> None:
    row = building(use="Flats, general needs", jurisdiction="england")
    (found,) = drafts_of(csv_file("buildings", row)).buildings
    assert (found.use, found.jurisdiction) == ("flats", "England")


def test_a_building_without_a_name_is_called_by_its_reference() -> None:
    assert drafts_of(csv_file("buildings", building(name=""))).buildings[0].name == "B-1"


def test_a_record_tells_which_columns_the_file_had() -> None:
    (found,) = drafts_of(csv_file("buildings", building(storeys="3"))).buildings
    assert found.columns == {"owner", "building", "storeys"}


@pytest.mark.parametrize("text", ["18-20", "18 ± 1", "about 18", "-18", "60 ft", "2000000"])
def test_a_height_is_one_number_of_metres(text: str) -> None:
    rows = building(top_floor_height_m=text)
    assert _columns("buildings", rows) == [(2, "Top floor height (m)")]


def test_what_is_said_about_a_height_needs_the_height() -> None:
    rows = building(top_floor_height_m="", height_method="measured", height_date="2026-01-01")
    assert _columns("buildings", rows) == [(2, "Height method"), (2, "Height date")]


def test_further_heights_join_their_building_and_others_stay_alone() -> None:
    tabs = {
        "Buildings": [["Owner", "Building", "Top floor height (m)"], ["O-1", "B-1", 18]],
        "Heights": [
            ["Owner", "Building", "Top floor height (m)"],
            ["O-1", "B-1", 18.4],
            ["O-1", "B-1", 18],
            ["O-1", "B-2", 30],
        ],
    }
    drafts = drafts_of(workbook(tabs))
    assert [claim.metres for claim in drafts.buildings[0].heights] == [18, 18.4]
    assert [(draft.building, draft.claim.metres) for draft in drafts.heights] == [("B-2", 30)]


def test_a_row_of_heights_without_one_is_a_problem() -> None:
    rows = building(top_floor_height_m="unknown")
    assert _columns("heights", rows) == [(2, "Top floor height (m)")]


def test_a_key_that_stands_twice_is_a_problem_naming_the_first_row() -> None:
    drafts = drafts_of(csv_file("zones", zone(face="north"), zone(face="south")))
    assert [(p.row, p.column) for p in drafts.problems] == [(3, "Zone")]
    assert "zones.csv, row 2" in told(drafts)[0]


@pytest.mark.parametrize(
    ("cells", "column"),
    [
        ({"area_m2": "-4"}, "Area (m2)"),
        ({"area_m2": "3 to 4"}, "Area (m2)"),
        ({"from_storey": "5", "to_storey": "2"}, "To storey"),
        ({"from_storey": "1.5"}, "From storey"),
        ({"attachment": "perhaps"}, "Attachment"),
        ({"face": "x" * 61}, "Face"),
        ({"description": "bell\x07"}, "Description"),
    ],
)
def test_a_zone_that_cannot_be_so_is_a_problem(cells: dict[str, str], column: str) -> None:
    assert _columns("zones", zone(**cells)) == [(2, column)]


def test_a_reference_holds_no_semicolon() -> None:
    assert _columns("zones", zone(zone="a;b")) == [(2, "Zone")]


# --- Dates ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", ["2026-03-04", "04/03/2026", "4/3/2026", "2026-3-4"])
def test_dates_have_the_year_or_the_day_first(text: str) -> None:
    assert read_date(text) == date(2026, 3, 4)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("03/31/2026", "the day comes before the month"),
        ("2026-02-30", "no such day"),
        ("03/04/26", "one way only"),
        ("March 2026", "one way only"),
        ("0226-03-04", "The year 226"),
    ],
)
def test_a_date_that_is_ambiguous_or_impossible_is_refused(text: str, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        read_date(text)


def test_a_date_that_is_refused_says_what_was_expected() -> None:
    drafts = drafts_of(csv_file("layers", layer(survey_date="03/04/26")))
    assert '"03/04/26"' in told(drafts)[0]
    assert "day first, 31/03/2026" in told(drafts)[0]


# --- Layers ---------------------------------------------------------------------------------------


def test_layers_are_ordered_by_number_whatever_the_order_of_the_rows() -> None:
    rows = [
        layer(layer_no=2, role="cavity", material="ventilated", thickness_mm="50"),
        layer(layer_no=1, role="insulation", material="Stone wool", thickness_mm="100 to 120"),
    ]
    (found,) = drafts_of(csv_file("layers", *rows)).surveys
    first, second = found.build_up.layers
    assert (first.role, first.value("thickness")) == (Role.INSULATION, Range(100, 120))
    assert (second.value("ventilation"), second.value("depth")) == (
        known("ventilated"),
        exactly(50),
    )


def test_a_layer_that_is_known_not_to_be_there_is_absent() -> None:
    row = layer(role="barrier-horizontal", material="none")
    (found,) = drafts_of(csv_file("layers", row)).surveys
    assert found.build_up.layers[0].is_absent


def test_what_nobody_knows_of_a_layer_is_unknown() -> None:
    row = layer(role="facing", material="?", thickness_mm="tbc", product="unknown")
    (found,) = drafts_of(csv_file("layers", row)).surveys
    assert dict(found.build_up.layers[0].values) == {}
    assert found.build_up.substrate is UNKNOWN


def test_a_survey_whose_rows_have_no_role_has_no_layers() -> None:
    (found,) = drafts_of(csv_file("layers", layer(layer_no=""))).surveys
    assert found.build_up.layers == ()


@pytest.mark.parametrize(
    ("cells", "column"),
    [
        ({"role": "cladding"}, "Role"),
        ({"role": "", "material": "stone-wool"}, "Role"),
        ({"role": "facing", "material": "plutonium"}, "Material"),
        ({"role": "cavity", "class": "A1"}, "Class"),
        ({"role": "facing", "spacing_mm": "900"}, "Spacing (mm)"),
        ({"role": "facing", "class": "A9"}, "Class"),
        ({"role": "facing", "thickness_mm": "4 in"}, "Thickness (mm)"),
        ({"role": "facing", "layer_no": ""}, "Layer no."),
        ({"role": "facing", "layer_no": "2"}, "Layer no."),
        ({"role": "facing", "thickness_mm": "0"}, "Thickness (mm)"),
        ({"role": "cavity", "thickness_mm": "0.0"}, "Thickness (mm)"),
        ({"role": "barrier-horizontal", "spacing_mm": "0 ± 0"}, "Spacing (mm)"),
        ({"basis": "hearsay"}, "Basis"),
        ({"basis": ""}, "Basis"),
        ({"survey_date": "unknown"}, "Survey date"),
        ({"substrate": "straw"}, "Substrate"),
    ],
)
def test_a_layer_that_cannot_be_so_is_a_problem(cells: dict[str, str], column: str) -> None:
    assert _columns("layers", layer(**cells)) == [(2, column)]


def test_two_layers_of_the_same_number_are_a_problem() -> None:
    rows = [layer(role="facing"), layer(role="cavity")]
    assert _columns("layers", *rows) == [(3, "Layer no.")]


@pytest.mark.parametrize("place", [1, 2, 3])
@pytest.mark.parametrize(
    ("wrong", "column"), [({"role": "roof"}, "Role"), ({"layer_no": "x"}, "Layer no.")]
)
def test_a_layer_that_is_refused_has_its_place_all_the_same(
    place: int, wrong: dict[str, str], column: str
) -> None:
    roles = {1: "lining", 2: "insulation", 3: "facing"}
    rows = [
        layer(**({"layer_no": n, "role": role} | (wrong if n == place else {})))
        for n, role in roles.items()
    ]
    assert _columns("layers", *rows) == [(place + 1, column)]


def test_a_layer_tells_everything_that_is_wrong_with_it() -> None:
    assert _columns("layers", layer(role="roof", layer_no="x")) == [(2, "Role"), (2, "Layer no.")]


def test_more_layers_of_a_role_than_a_wall_has_places_are_a_problem() -> None:
    rows = [layer(layer_no=n, role="facing") for n in (1, 2, 3)]
    assert _columns("layers", *rows) == [(3, "Role")]


def test_a_core_that_contradicts_its_calorific_value_is_a_problem_at_the_facing() -> None:
    rows = [
        layer(role="lining", core_category="", calorific_value_mj_kg=""),
        layer(
            layer_no=2,
            role="facing",
            material="metal-composite-panel",
            core_category="1",
            calorific_value_mj_kg="40",
        ),
    ]
    assert _columns("layers", *rows) == [(3, "Core category")]


def test_rows_of_one_survey_must_agree_on_what_is_said_of_all_of_it() -> None:
    rows = [layer(role="facing"), layer(layer_no=2, role="finish", survey_date="2026-02-11")]
    drafts = drafts_of(csv_file("layers", *rows))
    assert [(p.row, p.column) for p in drafts.problems] == [(3, "Survey date")]
    assert "row 2" in told(drafts)[0]


def test_a_survey_with_a_problem_in_one_row_is_not_taken_in_part() -> None:
    drafts = drafts_of(csv_file("layers", layer(role="facing"), layer(layer_no=2, role="roof")))
    assert drafts.surveys == ()
    assert drafts.is_refused("layers", ("O-1", "B-1", "Z-1", "S-1"))


# --- Tests ----------------------------------------------------------------------------------------


def test_an_empty_test_row_claims_nothing_in_its_favour() -> None:
    (found,) = drafts_of(csv_file("tests", record())).tests
    assert (found.external_spread, found.burn_through) == (Answer3.UNKNOWN, Answer3.UNKNOWN)
    assert (found.printed_outcome, found.holding) == (Outcome.NOT_TOLD, Holding.NOT_SEEN)
    assert (found.consent, found.standing) == (Consent.NOT_ASKED, Standing.LIVE)


def test_a_criterion_that_does_not_apply_is_not_unknown() -> None:
    (found,) = drafts_of(csv_file("tests", record(burn_through="not applicable"))).tests
    assert found.burn_through is None


def test_unknown_words_in_a_test_are_the_careful_default() -> None:
    row = record(external_spread="n/k", printed_outcome="unknown", holding="?", consent="tbc")
    (found,) = drafts_of(csv_file("tests", row)).tests
    assert (found.external_spread, found.printed_outcome) == (Answer3.UNKNOWN, Outcome.NOT_TOLD)
    assert (found.holding, found.consent) == (Holding.NOT_SEEN, Consent.NOT_ASKED)


@pytest.mark.parametrize(
    ("cells", "column"),
    [
        ({"standing": "unknown"}, "Standing"),
        ({"burn_through": "perhaps"}, "Burn-through"),
        ({"tested_on": "2018"}, "Tested on"),
        ({"part": "part number one"}, "Part"),
        ({"consent_given_to": "O-2; O-1"}, "Consent given to"),
        ({"printed_outcome": "good"}, "Printed outcome"),
    ],
)
def test_a_test_that_cannot_be_so_is_a_problem(cells: dict[str, str], column: str) -> None:
    assert _columns("tests", record(**cells)) == [(2, column)]


def test_references_are_parted_by_semicolons_and_each_counts_once() -> None:
    row = record(consent_given_to="O-3; O-2;O-3;", leans_on="T-9; T-2")
    (found,) = drafts_of(csv_file("tests", row)).tests
    assert (found.consent_given_to, found.leans_on) == (("O-2", "O-3"), ("T-9", "T-2"))


def test_layers_join_their_test_and_a_test_without_the_sheet_says_nothing_of_layers() -> None:
    layers = csv_file("tested_layers", record(layer_no="1", role="facing", material="clay-brick"))
    tests = csv_file("tests", record())
    (with_layers,) = drafts_of(tests, layers).tests
    (without,) = drafts_of(tests).tests
    assert [layer.role for layer in with_layers.build_up.layers] == [Role.FACING]
    assert LAYERS in with_layers.columns
    assert LAYERS not in without.columns


def test_layers_of_a_test_that_is_not_in_the_files_are_a_problem() -> None:
    assert _columns("tested_layers", record(test="T-9", layer_no="1", role="facing")) == [
        (2, "Test")
    ]

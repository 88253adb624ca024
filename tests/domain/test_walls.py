"""Layers, build-ups, and their reading as parameters."""

import pytest

from portfolio.domain.parameters import PARAMETERS, PLACES, Role, folded, presence_key
from portfolio.domain.values import (
    NOT_APPLICABLE,
    UNKNOWN,
    Named,
    OneOf,
    Range,
    Value,
    exactly,
    known,
    one_of,
)
from portfolio.domain.walls import (
    BuildUp,
    Layer,
    core_category_within,
    is_applicable,
    parameters_of,
    role_is_absent,
)
from tests.domain.factories import COMPLETE, complete, make_build_up

COMPOSITE = known("metal-composite-panel")


def facing(**values: Value) -> Layer:
    return Layer(Role.FACING, values)


def test_a_complete_build_up_says_something_of_every_parameter() -> None:
    assert parameters_of(make_build_up(COMPLETE)).keys() == PARAMETERS.keys()


def test_what_is_not_listed_is_unknown_unless_all_layers_are_listed() -> None:
    told = complete(without=[key for key in COMPLETE if key.startswith("lining")])
    listed = parameters_of(make_build_up(told))
    unlisted = parameters_of(make_build_up(told, lists_all_layers=False))
    assert listed["lining.1.material"] == known("none")
    assert "lining.1.material" not in unlisted


def test_an_absent_layer_has_no_thickness_and_no_second_layer_behind_it() -> None:
    found = parameters_of(BuildUp((Layer(Role.INSULATION, {"material": known("none")}),)))
    assert found["insulation.1.thickness"] is NOT_APPLICABLE
    assert found["insulation.2.material"] == known("none")


def test_a_second_layer_is_known_as_the_second_from_the_inside() -> None:
    inner, outer = (Layer(Role.SHEATHING, {"thickness": exactly(n)}) for n in (9, 12))
    found = parameters_of(BuildUp((inner, outer)))
    assert found["sheathing.1.thickness"] == exactly(9)
    assert found["sheathing.2.thickness"] == exactly(12)


def test_a_second_absent_layer_says_nothing_of_a_third() -> None:
    layers = (
        Layer(Role.SHEATHING, {"material": known("osb")}),
        Layer(Role.SHEATHING, {"material": known("none")}),
    )
    assert parameters_of(BuildUp(layers))["sheathing.2.thickness"] is NOT_APPLICABLE


def test_a_value_given_as_unknown_is_no_claim() -> None:
    found = parameters_of(BuildUp((Layer(Role.CAVITY, {"depth": UNKNOWN}),)))
    assert "cavity.1.depth" not in found


def test_more_layers_of_a_role_than_there_are_places_are_refused() -> None:
    layers = tuple(Layer(Role.CAVITY) for _ in range(PLACES[Role.CAVITY] + 1))
    with pytest.raises(ValueError, match="more than 1 cavity layers"):
        BuildUp(layers)


def test_a_layer_refuses_an_attribute_its_role_does_not_have() -> None:
    with pytest.raises(ValueError, match="a cavity layer has no colour"):
        Layer(Role.CAVITY, {"colour": known("blue")})


def test_layers_with_equal_values_in_another_order_are_equal() -> None:
    one = Layer(Role.CAVITY, {"depth": exactly(50), "ventilation": known("ventilated")})
    other = Layer(Role.CAVITY, {"ventilation": known("ventilated"), "depth": exactly(50)})
    assert one == other
    assert hash(one) == hash(other)


# --- Order of layers -----------------------------------------------------------------------------


def test_the_order_of_layers_is_known_only_where_all_are_listed() -> None:
    assert "wall.sequence" not in parameters_of(make_build_up(COMPLETE, lists_all_layers=False))
    assert isinstance(parameters_of(make_build_up(COMPLETE))["wall.sequence"], Named)


def test_insulation_outside_the_membrane_is_another_order_than_inside() -> None:
    membrane, insulation = Layer(Role.MEMBRANE), Layer(Role.INSULATION)
    one = BuildUp((membrane, insulation), lists_all_layers=True)
    other = BuildUp((insulation, membrane), lists_all_layers=True)
    assert parameters_of(one)["wall.sequence"] != parameters_of(other)["wall.sequence"]


@pytest.mark.parametrize(
    "layer",
    [Layer(Role.BARRIER_HORIZONTAL), Layer(Role.FINISH, {"material": known("none")})],
    ids=["barriers stand inside the cavity", "an absent layer has no place"],
)
def test_what_has_no_place_of_its_own_does_not_change_the_order(layer: Layer) -> None:
    cavity = Layer(Role.CAVITY)
    with_it = parameters_of(BuildUp((layer, cavity), lists_all_layers=True))
    without = parameters_of(BuildUp((cavity,), lists_all_layers=True))
    assert with_it["wall.sequence"] == without["wall.sequence"]


# --- Core of a composite panel -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("calorific_value", "categories", "why"),
    [
        (exactly(0), {"1"}, "no heat at all"),
        (exactly(3), {"1"}, "up to 3 included"),
        (exactly(3.001), {"2"}, "above 3"),
        (exactly(13.6), {"2"}, "between"),
        (exactly(35), {"2"}, "up to 35 included"),
        (exactly(35.001), {"3"}, "above 35"),
        (Range(2, 4), {"1", "2"}, "either side of 3"),
        (Range(3, 35), {"1", "2"}, "both ends included"),
        (Range(30, 44), {"2", "3"}, "either side of 35"),
        (Range(0, 99), {"1", "2", "3"}, "anything"),
    ],
)
def test_a_calorific_value_leaves_its_core_categories_open(
    calorific_value: Value, categories: set[str], why: str
) -> None:
    layer = facing(material=COMPOSITE, calorific_value=calorific_value)
    assert core_category_within(layer) == one_of(categories), why


def test_a_stated_category_narrows_what_a_calorific_value_leaves_open() -> None:
    layer = facing(
        material=COMPOSITE, calorific_value=Range(2, 4), core_category=one_of(("2", "3"))
    )
    assert core_category_within(layer) == known("2")


@pytest.mark.parametrize(
    ("category", "calorific_value"),
    [("1", 3.001), ("2", 3), ("2", 35.001), ("3", 35)],
)
def test_a_category_that_contradicts_the_calorific_value_is_refused(
    category: str, calorific_value: float
) -> None:
    layer = facing(
        material=COMPOSITE,
        core_category=known(category),
        calorific_value=exactly(calorific_value),
    )
    with pytest.raises(ValueError, match="does not go with a calorific value"):
        parameters_of(BuildUp((layer,)))


def test_a_core_left_wholly_open_is_no_claim() -> None:
    assert "facing.1.core_category" not in parameters_of(BuildUp((facing(material=COMPOSITE),)))


def test_a_laboratory_that_gives_only_the_calorific_value_still_gives_the_category() -> None:
    found = parameters_of(BuildUp((facing(calorific_value=exactly(44)),)))
    assert found["facing.1.core_category"] == known("3")


def test_a_category_stated_without_the_facing_material_is_kept() -> None:
    found = parameters_of(BuildUp((facing(core_category=known("2")),)))
    assert found["facing.1.core_category"] == known("2")


def test_a_facing_that_may_be_a_composite_may_have_a_core() -> None:
    material = one_of(("metal-composite-panel", "solid-aluminium"))
    found = parameters_of(BuildUp((facing(material=material),)))
    assert "facing.1.core_category" not in found


def test_a_facing_without_a_core_has_no_core_category() -> None:
    found = parameters_of(BuildUp((facing(material=known("terracotta")),)))
    assert found["facing.1.core_category"] is NOT_APPLICABLE
    assert found["facing.1.calorific_value"] is NOT_APPLICABLE


def test_a_facing_not_known_says_nothing_of_a_core() -> None:
    found = parameters_of(BuildUp((facing(thickness=exactly(4)),)))
    assert found.keys() == {"facing.1.thickness"}


# --- Joints --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("joint", "width", "expected"),
    [
        ("closed", None, NOT_APPLICABLE),
        ("closed", 15.0, exactly(15)),
        ("open", None, None),
    ],
)
def test_a_closed_joint_needs_no_width(
    joint: str, width: float | None, expected: Value | None
) -> None:
    values: dict[str, Value] = {"joint": known(joint)}
    if width is not None:
        values["joint_width"] = exactly(width)
    found = parameters_of(BuildUp((Layer(Role.FACING, values),)))
    assert found.get("facing.1.joint_width") == expected


# --- Presence ------------------------------------------------------------------------------------


def test_absent_and_not_known_are_told_apart() -> None:
    none = parameters_of(BuildUp((Layer(Role.LINING, {"material": known("none")}),)))
    assert role_is_absent(none, Role.LINING, 1)
    assert not role_is_absent({}, Role.LINING, 1)
    assert not is_applicable(none, "lining.1.thickness")
    assert is_applicable({}, "lining.1.thickness")


def test_an_open_material_is_not_absent() -> None:
    open_material: dict[str, Value] = {"lining.1.material": OneOf(frozenset({"none", "plaster"}))}
    assert not role_is_absent(open_material, Role.LINING, 1)


def test_whether_a_layer_is_there_is_asked_before_how_thick_it_is() -> None:
    keys = {"lining.1.thickness", "lining.1.material", "cavity.1.depth", "wall.substrate"}
    assert folded(keys) == ("wall.substrate", "lining.1.material", "cavity.1.depth")


def test_the_first_attribute_of_a_role_tells_whether_it_is_there() -> None:
    assert presence_key(Role.BARRIER_VERTICAL, 1) == "barrier-vertical.1.type"

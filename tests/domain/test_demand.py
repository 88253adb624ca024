"""Gaps that recur: walls alike, and what one test of them would have to contain."""

from portfolio.domain.buildings import Building, Zone
from portfolio.domain.coverage import Coverage, ZoneCoverage
from portfolio.domain.demand import ALIKE_BY, WallGap, demand, repr_of, wall_key
from portfolio.domain.heights import HeightClaim
from portfolio.domain.parameters import PARAMETERS
from portfolio.domain.priorities import Gap
from portfolio.domain.surveys import Wall
from portfolio.domain.values import exactly, known, one_of
from tests.domain.factories import PIR, make_partial, make_wall, solid, wall_of

NOTHING = ZoneCoverage(Coverage.NO_MATCHING_EVIDENCE, False, False, (), (), (), ())


def wall_gap(
    wall: Wall,
    *,
    building: str = "B1",
    owner: str = "an owner",
    area_m2: float | None = 100.0,
    height_m: float | None = 20.0,
) -> WallGap:
    heights = () if height_m is None else (HeightClaim(height_m, "measured", 0.1),)
    found = Building(building, "a building", owner, heights=heights)
    return WallGap(Gap(found, Zone("Z1", building, area_m2=area_m2), NOTHING), wall)


def test_walls_alike_in_their_main_materials_are_one_demand() -> None:
    thicker = make_wall({"insulation.1.thickness": "150"})
    [group] = demand([wall_gap(make_wall()), wall_gap(thicker, building="B2")])
    assert group.buildings == ("B1", "B2")


def test_walls_with_another_insulation_are_another_demand() -> None:
    assert len(demand([wall_gap(make_wall()), wall_gap(make_wall(PIR))])) == 2


def test_a_wall_with_an_unknown_core_is_not_alike_one_that_is_known() -> None:
    unknown = make_wall(without=["facing.1.core_category", "facing.1.calorific_value"])
    groups = demand([wall_gap(make_wall()), wall_gap(unknown)])
    assert [g.unknown_of_signature for g in groups].count(("facing.1.core_category",)) == 1


def test_areas_are_added_and_unknown_ones_counted() -> None:
    wall = make_wall()
    [group] = demand([wall_gap(wall), wall_gap(wall, area_m2=None), wall_gap(wall, area_m2=50.5)])
    assert (group.area_m2, group.area_unknown) == (150.5, 1)


def test_the_highest_building_is_named_and_unknown_heights_are_left_out() -> None:
    wall = make_wall()
    [group] = demand([wall_gap(wall, height_m=None), wall_gap(wall, height_m=31.0)])
    assert group.highest_m == 31.0
    [unknown] = demand([wall_gap(wall, height_m=None)])
    assert unknown.highest_m is None


def test_owners_are_named_once() -> None:
    wall = make_wall()
    [group] = demand([wall_gap(wall, owner=name) for name in ("b", "a", "b")])
    assert group.owners == ("a", "b")


def test_the_group_with_most_zones_comes_first_then_the_one_with_most_area() -> None:
    small, large, many = make_wall(), make_wall(PIR), make_wall(solid())
    gaps = [
        wall_gap(small, area_m2=10, building="small"),
        wall_gap(large, area_m2=900, building="large"),
        wall_gap(many, area_m2=1, building="many"),
        wall_gap(many, area_m2=1, building="many"),
    ]
    assert [g.buildings for g in demand(gaps)] == [("many",), ("large",), ("small",)]
    assert [g.signature for g in demand(gaps)] == [g.signature for g in demand(gaps[::-1])]


def test_a_test_would_have_to_contain_the_most_frequent_values_first() -> None:
    walls = [make_wall({"insulation.1.thickness": text}) for text in ("150", "100", "150", "")]
    [group] = demand([wall_gap(wall) for wall in walls])
    needed = {key: (values, unknown) for key, values, unknown in group.to_contain}
    assert needed["insulation.1.thickness"] == ((exactly(150), exactly(100)), 1)


def test_what_is_unknown_everywhere_is_not_asked_of_a_test() -> None:
    wall = wall_of(make_partial({"facing.1.material": "terracotta"}))
    [group] = demand([wall_gap(wall)])
    assert {key for key, _, _ in group.to_contain} == set(wall.facts)


def test_walls_share_a_key_exactly_when_they_are_one_demand() -> None:
    assert wall_key(make_wall()) == wall_key(make_wall({"cavity.1.depth": "60"}))
    assert wall_key(make_wall()) != wall_key(make_wall(PIR))


def test_walls_are_alike_by_parameters_that_exist() -> None:
    assert set(ALIKE_BY) <= PARAMETERS.keys()


def test_a_text_to_order_by_does_not_depend_on_how_a_set_is_stored() -> None:
    assert repr_of(one_of(["a", "b"])) == repr_of(one_of(["b", "a"])) == "a,b"
    assert repr_of((known("a"), exactly(1))) == "(a,Range(low=1.0, high=1.0))"

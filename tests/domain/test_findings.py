"""What to find out, cheapest first."""

import pytest

from portfolio.domain.findings import Way, findings
from portfolio.domain.parameters import PARAMETERS


@pytest.mark.parametrize(
    ("parameter", "way", "why"),
    [
        ("cavity.1.depth", Way.PAPERS, "paper is enough to lean on"),
        ("facing.1.product", Way.PAPERS, "a product is named on paper"),
        ("wall.system_family", Way.PAPERS, "decisive, and paper is enough"),
        ("facing.1.joint", Way.FROM_OUTSIDE, "joints are seen from outside"),
        ("finish.1.material", Way.FROM_OUTSIDE, "finishes are seen from outside"),
        ("insulation.1.material", Way.OPENING_UP, "decisive, behind the facing"),
        ("barrier-vertical.1.type", Way.OPENING_UP, "a drawing is no sighting"),
        ("facing.1.core_category", Way.LABORATORY, "a core is told by a sample"),
        ("facing.1.calorific_value", Way.LABORATORY, "a core is told by a sample"),
    ],
)
def test_each_fact_has_its_usual_way(parameter: str, way: Way, why: str) -> None:
    [found] = findings([parameter])
    assert (found.parameter, found.way) == (parameter, way), why
    assert found.title == PARAMETERS[parameter].title


def test_the_cheapest_way_comes_first_and_each_fact_once() -> None:
    asked = ["facing.1.core_category", "insulation.1.material", "cavity.1.depth"] * 2
    assert [f.parameter for f in findings(asked)] == [
        "cavity.1.depth",
        "insulation.1.material",
        "facing.1.core_category",
    ]


def test_facts_found_the_same_way_come_from_the_inside_out() -> None:
    found = [f.parameter for f in findings(["cavity.1.depth", "lining.1.class"])]
    assert found == ["lining.1.class", "cavity.1.depth"]


def test_every_parameter_can_be_found_out_some_way_that_has_words() -> None:
    assert len(findings(PARAMETERS)) == len(PARAMETERS)
    assert len({way.words for way in Way}) == len(Way)


def test_nothing_unknown_is_nothing_to_find() -> None:
    assert findings([]) == ()

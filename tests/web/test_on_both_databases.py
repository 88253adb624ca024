"""What the overview and the lists ask of the store gets the same answers on both databases."""

from collections.abc import Iterator
from typing import Any

import pytest
from sqlalchemy.orm import Session

from portfolio.db.session import engine_for, reading
from portfolio.services import building_list
from portfolio.services.building_list import BuildingFilter
from portfolio.services.overview import overview
from portfolio.services.viewer import LOCAL, Viewer
from tests.web.portfolios import ON, fill_one_of_each, filling, wall


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def session(request: pytest.FixtureRequest) -> Iterator[Session]:
    """A session on a portfolio with a zone of every coverage but inferred, and a conflict."""
    url: str = request.getfixturevalue(f"{request.param}_url")
    with filling(url) as portfolio:
        fill_one_of_each(portfolio)
        zone = portfolio.zone(
            portfolio.building(portfolio.organisation(), ref="Zwölf", name="Ärmel")
        )
        portfolio.survey(zone, wall(insulation__material="pir-foam", insulation__class="E"))
    engine = engine_for(url)
    with reading(engine) as session:
        yield session
    engine.dispose()


def test_the_overview_counts_alike(session: Session) -> None:
    found = overview(session, LOCAL, ON)
    assert [(c.zones, c.area_m2, c.area_unknown) for c in found.counts] == [
        (1, 100.0, 0),
        (0, 0.0, 0),
        (2, 200.0, 0),
        (1, 100.0, 0),
        (1, 0.0, 1),
        (1, 100.0, 0),
    ]
    assert (found.not_recorded.zones_unsurveyed, found.not_recorded.zones_in_conflict) == (1, 1)
    assert {c.key for c in found.conflicts} == {"insulation.1.material", "insulation.1.class"}
    assert found.not_recorded.heights == 1


@pytest.mark.parametrize(
    ("order", "refs"),
    [
        ("first", ["TALL", "Zwölf", "LOW", "EMPTY"]),
        ("ref", ["EMPTY", "LOW", "TALL", "Zwölf"]),
        ("height", ["EMPTY", "TALL", "Zwölf", "LOW"]),
        ("people", ["EMPTY", "LOW", "TALL", "Zwölf"]),
        ("gaps", ["LOW", "TALL", "Zwölf", "EMPTY"]),
    ],
)
def test_buildings_are_sorted_alike(session: Session, order: str, refs: list[str]) -> None:
    page = building_list.list_buildings(session, LOCAL, BuildingFilter(), order=order)
    assert [row.ref for row in page.rows] == refs


@pytest.mark.parametrize(
    ("wanted", "refs"),
    [
        ({"text": "ÄRMEL zwö"}, ["Zwölf"]),
        ({"coverage": "too-little-known"}, ["EMPTY", "LOW", "Zwölf"]),
        ({"coverage": "contradicted", "by_inference": False}, ["TALL"]),
        ({"height_band": building_list.NOT_RECORDED}, ["EMPTY"]),
        ({"owner": "south"}, ["EMPTY"]),
    ],
)
def test_buildings_are_filtered_alike(
    session: Session, wanted: dict[str, Any], refs: list[str]
) -> None:
    page = building_list.list_buildings(session, LOCAL, BuildingFilter(**wanted), order="ref")
    assert [row.ref for row in page.rows] == refs
    assert page.total == len(refs)


def test_a_viewer_is_offered_only_its_own_owners_and_jurisdictions(session: Session) -> None:
    found = building_list.choices(session, Viewer("someone", 2))
    assert [ref for ref, _ in found.owners] == ["south"]
    assert found.jurisdictions == ()

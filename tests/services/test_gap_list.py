"""The list of gaps: its order, its places, and what its filters keep, on both databases."""

from collections.abc import Iterator
from dataclasses import replace

import pytest

from portfolio.services.gaps import GapFilter, GapRow, list_gaps
from portfolio.services.viewer import LOCAL, Viewer
from tests.services.world_support import Estate, estate_in
from tests.web.portfolios import wall

ALL, GAPS = GapFilter(gaps_only=False), GapFilter()


@pytest.fixture
def estate(database_url: str) -> Iterator[Estate]:
    with estate_in(database_url) as found:
        yield found


def fill(estate: Estate) -> dict[str, int]:
    """Two owners; the first has a low and a tall building with a gap each, and a covered zone."""
    with estate.filling() as portfolio:
        first, second = portfolio.organisation(ref="first"), portfolio.organisation(ref="second")
        portfolio.organisation(ref="consultancy")
        portfolio.test(first, ref="T-1")
        low = portfolio.building(first, ref="LOW", name="Low House", heights=(8.0,))
        tall = portfolio.building(first, ref="TALL", name="Tall House", heights=(33.0,))
        other = portfolio.building(second, ref="OTHER", heights=(50.0,))
        portfolio.zone(
            low, ref="Z-LOW", description="by the 100%_gate", wall=wall(cavity__depth="80")
        )
        portfolio.zone(tall, ref="Z-TALL", wall=wall(cavity__depth="80"))
        portfolio.zone(tall, ref="Z-COVERED")
        portfolio.zone(tall, ref="Z-UNSURVEYED", wall=None)
        portfolio.zone(other, ref="Z-OTHER", wall=wall(facing__material="glass"))
        return {"LOW": low.id, "TALL": tall.id, "OTHER": other.id}


def listed(estate: Estate, viewer: Viewer, wanted: GapFilter = GAPS) -> list[GapRow]:
    with estate.reading() as session:
        return list(list_gaps(session, viewer, wanted).rows)


def refs(rows: list[GapRow]) -> set[str]:
    return {row.zone_ref for row in rows}


def test_an_owner_sees_its_own_gaps_numbered_from_one(estate: Estate) -> None:
    fill(estate)
    rows = listed(estate, estate.viewer("first"))
    assert refs(rows) == {"Z-LOW", "Z-TALL", "Z-UNSURVEYED"}
    assert [row.rank for row in rows] == [1, 2, 3]


def test_places_are_counted_among_what_the_viewer_sees(estate: Estate) -> None:
    """The other owner's gap stands between, and moves nobody's place but the local viewer's."""
    fill(estate)
    assert [row.rank for row in listed(estate, estate.viewer("second"))] == [1]
    assert [row.rank for row in listed(estate, LOCAL)] == [1, 2, 3, 4]


def test_a_place_does_not_depend_on_filters_or_pages(estate: Estate) -> None:
    fill(estate)
    viewer = estate.viewer("first")
    places = {row.zone_ref: row.rank for row in listed(estate, viewer)}
    filtered = [
        *listed(estate, viewer, GapFilter(text="low")),
        *listed(estate, viewer, GapFilter(coverage="to-assess")),
        *listed(estate, viewer, GapFilter(height_band="30")),
    ]
    assert refs(filtered) == {"Z-LOW", "Z-TALL", "Z-UNSURVEYED"}
    assert {row.zone_ref: row.rank for row in filtered}.items() <= places.items()
    with estate.reading() as session:
        page = list_gaps(session, viewer, GapFilter(), limit=2, offset=1)
    assert (page.total, [row.rank for row in page.rows]) == (3, [2, 3])


def test_covered_zones_come_last_and_have_no_place(estate: Estate) -> None:
    fill(estate)
    rows = listed(estate, estate.viewer("first"), ALL)
    assert (rows[-1].zone_ref, rows[-1].rank, len(rows)) == ("Z-COVERED", None, 4)


@pytest.mark.parametrize(
    ("wanted", "kept"),
    [
        (replace(ALL, coverage="covered"), {"Z-COVERED"}),
        (GapFilter(coverage="too-little-known"), {"Z-UNSURVEYED"}),
        (GapFilter(coverage="to-assess", by_inference=True), set()),
        (GapFilter(text="tall house"), {"Z-TALL", "Z-UNSURVEYED"}),
        (GapFilter(text="z-low"), {"Z-LOW"}),
        (GapFilter(text="100%_gate"), {"Z-LOW"}),
        (GapFilter(text="100__gate"), set()),
        (GapFilter(text="metal composite"), {"Z-LOW", "Z-TALL"}),
        (GapFilter(owner="first", text="z-tall"), {"Z-TALL"}),
        (GapFilter(owner="second"), set()),
        (GapFilter(text="z-other"), set()),
        (GapFilter(text="glass"), set()),
    ],
)
def test_filters_keep_what_they_say_of_what_the_viewer_sees(
    estate: Estate, wanted: GapFilter, kept: set[str]
) -> None:
    fill(estate)
    with estate.reading() as session:
        page = list_gaps(session, estate.viewer("first"), wanted)
    assert (refs(list(page.rows)), page.total) == (kept, len(kept))


def test_a_consultancy_sees_gaps_of_open_buildings_only(estate: Estate) -> None:
    ids = fill(estate)
    opened = estate.viewer("consultancy", to=(ids["LOW"],))
    assert [(row.zone_ref, row.rank) for row in listed(estate, opened)] == [("Z-LOW", 1)]
    assert listed(estate, estate.viewer("consultancy")) == []

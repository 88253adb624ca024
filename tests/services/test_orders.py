"""Orders of gaps: places and ranges of what a viewer sees, and orders kept version by version."""

import contextlib
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import pytest
import sqlalchemy as sa

from portfolio.db import changelog
from portfolio.db.models import Building, BuildingResult, Event
from portfolio.domain.errors import ForbiddenError, InputError, NotFoundError
from portfolio.domain.order_facts import Fact
from portfolio.domain.own_orders import OwnOrder
from portfolio.domain.priorities import CRITERIA
from portfolio.domain.rights import Role
from portfolio.reference.loader import HOUSE, load_reference
from portfolio.services.coverage import refresh
from portfolio.services.editing import Saved, StaleError
from portfolio.services.gaps import GapFilter, GapRow, list_gaps, list_placed_gaps
from portfolio.services.orders.known import known_orders, order_named
from portfolio.services.orders.pages import order_page, orders_on
from portfolio.services.orders.recording import editable_order, moves_of_order, record_order
from portfolio.services.orders.texts import OrderTexts, StepTexts, read_order, write_order
from portfolio.services.viewer import LOCAL, Viewer
from tests.services.world_support import Estate, estate_in
from tests.web.portfolios import ON, wall

PUBLISHED = ("call-in-england-2024", "victoria-guideline-15")
BY_SPRINKLERS = OrderTexts(
    "sprinklers-first",
    "Sprinklers first",
    "Invented for a test.",
    (
        StepTexts("coverage", "2", ""),
        StepTexts("sprinklers", "1", "none, parts | throughout"),
        StepTexts("height-band", "3", "18, 11"),
        StepTexts("people"),
    ),
)


@pytest.fixture
def estate(database_url: str) -> Iterator[Estate]:
    """North owns a tall building with sprinklers, a low one without, and one of unknown height;
    south has one that north cannot see; a consultancy owns nothing."""
    with estate_in(database_url) as found:
        with found.filling() as portfolio:
            north, south = (portfolio.organisation(ref=ref) for ref in ("north", "south"))
            portfolio.organisation(ref="consult")
            portfolio.test(north, ref="T-1")
            for ref, heights, sprinklers in (
                ("TALL", (33.0,), "throughout"),
                ("LOW", (8.0,), "none"),
                ("WHO-KNOWS", (), "parts"),
            ):
                building = portfolio.building(
                    north, ref=ref, heights=heights, sprinklers=sprinklers
                )
                portfolio.zone(building, ref="Z", wall=wall(cavity__depth="80"))
            other = portfolio.building(south, ref="TALL", heights=(60.0,))
            portfolio.zone(other, ref="Z", wall=wall(cavity__depth="80"))
        yield found


class _GivenUpError(Exception):
    """Ends a transaction without saving it."""


def listed(estate: Estate, viewer: Viewer, name: str = HOUSE) -> list[GapRow]:
    with estate.reading() as session:
        order = order_named(session, viewer, name)
        return list(list_placed_gaps(session, viewer, GapFilter(), order).rows)


def ranges(rows: list[GapRow]) -> dict[str, tuple[int, int, int]]:
    return {
        row.building_ref: (row.placed.place, row.placed.first, row.placed.last)
        for row in rows
        if row.placed
    }


def write(
    estate: Estate,
    texts: OrderTexts = BY_SPRINKLERS,
    *,
    ref: str = "north",
    version: int = 0,
    role: Role = Role.ENGINEER,
    days: int = 0,
) -> Saved:
    with estate.writing() as session:
        owner, on = estate.organisation(ref), ON + timedelta(days=days)
        viewer = estate.viewer(ref, role)
        return record_order(session, viewer, owner, texts, version=version, on=on)


# --- Places --------------------------------------------------------------------------------------


def test_a_gap_of_unknown_height_has_a_range_and_the_others_depend_on_it(estate: Estate) -> None:
    rows = listed(estate, estate.viewer("north"))
    assert ranges(rows) == {"WHO-KNOWS": (1, 1, 3), "TALL": (2, 1, 2), "LOW": (3, 2, 3)}
    by_ref = {row.building_ref: row.placed for row in rows}
    assert by_ref["WHO-KNOWS"] is not None
    assert by_ref["WHO-KNOWS"].unknown == (Fact.HEIGHT,)
    assert by_ref["LOW"] is not None
    assert by_ref["LOW"].unknown == ()


def test_the_house_order_is_the_same_with_ranges_as_without(estate: Estate) -> None:
    for viewer in (LOCAL, estate.viewer("north"), estate.viewer("south")):
        with estate.reading() as session:
            without = list_gaps(session, viewer, GapFilter()).rows
        found = listed(estate, viewer)
        assert [replace(row, placed=None) for row in found] == list(without)
        assert [row.placed.place for row in found if row.placed] == [r.rank for r in without]


def test_places_count_among_what_the_viewer_sees(estate: Estate) -> None:
    """South's taller building moves nobody's place but the local viewer's."""
    assert ranges(listed(estate, estate.viewer("south"))) == {"TALL": (1, 1, 1)}
    assert len(listed(estate, LOCAL)) == 4
    assert listed(estate, estate.viewer("consult")) == []
    with estate.reading() as session:
        low = session.scalars(sa.select(Building.id).where(Building.ref == "LOW")).one()
    assert ranges(listed(estate, estate.viewer("consult", to=(low,)))) == {"LOW": (1, 1, 1)}


def test_two_buildings_of_one_reference_are_told_apart_by_their_owners(estate: Estate) -> None:
    with estate.filling() as portfolio:
        for ref in ("east", "west"):
            owner = portfolio.organisation(ref=ref)
            building = portfolio.building(owner, ref="SAME", heights=(20.0,))
            for zone in ("A", "B"):
                portfolio.zone(building, ref=zone, wall=None)
    rows = [row for row in listed(estate, LOCAL) if row.building_ref == "SAME"]
    assert [(row.owner, row.zone_ref) for row in rows] == [
        *(("east", "A"), ("east", "B")),
        *(("west", "A"), ("west", "B")),
    ]


def test_a_change_is_seen_at_once(estate: Estate) -> None:
    """What a process keeps is kept under the stamp of the results."""
    viewer = estate.viewer("north")
    assert ranges(listed(estate, viewer))["LOW"] == (3, 2, 3)
    with estate.writing() as session:
        low = session.scalars(sa.select(Building).where(Building.ref == "LOW")).one()
        low.heights[0].metres = 55.0
        session.flush()
        refresh(session, ON)
    assert ranges(listed(estate, viewer))["LOW"] == (1, 1, 1)


def test_a_change_that_is_given_up_leaves_nothing_behind(estate: Estate) -> None:
    viewer = estate.viewer("north")
    before = ranges(listed(estate, viewer))
    with contextlib.suppress(_GivenUpError), estate.writing() as session:
        low = session.scalars(sa.select(Building).where(Building.ref == "LOW")).one()
        low.heights[0].metres = 55.0
        session.flush()
        refresh(session, ON)
        order = order_named(session, viewer, HOUSE)
        list_placed_gaps(session, viewer, GapFilter(), order)
        raise _GivenUpError
    assert ranges(listed(estate, viewer)) == before


@pytest.mark.parametrize("name", PUBLISHED)
def test_a_published_order_lists_every_gap_once_with_its_own_reasons(
    estate: Estate, name: str
) -> None:
    rows = listed(estate, estate.viewer("north"), name)
    assert [row.rank for row in rows] == [1, 2, 3]
    title = load_reference().orders[name].steps[0].title
    assert all(row.reasons[0].startswith(f"{title}: ") for row in rows)


def test_pages_and_filters_of_another_order_are_parts_of_its_whole_list(estate: Estate) -> None:
    viewer = estate.viewer("north")
    whole = listed(estate, viewer, PUBLISHED[1])
    with estate.reading() as session:
        order = order_named(session, viewer, PUBLISHED[1])
        given = session, viewer
        page = list_placed_gaps(*given, GapFilter(), order, limit=1, offset=1)
        kept = list_placed_gaps(*given, GapFilter(text="low"), order)
        every = list_placed_gaps(*given, GapFilter(gaps_only=False), order)
    assert (page.total, list(page.rows)) == (3, whole[1:2])
    assert list(kept.rows) == [row for row in whole if row.building_ref == "LOW"]
    assert list(every.rows) == whole


def test_a_building_counts_as_composite_as_soon_as_one_zone_is(estate: Estate) -> None:
    with estate.filling() as portfolio:
        owner = portfolio.organisation(ref="panels")
        for ref, facings in (
            ("ONE-IS", ("metal-composite-panel", "fibre-cement")),
            ("NONE-IS", ("fibre-cement",)),
            ("NOBODY-LOOKED", ("fibre-cement", "")),
        ):
            building = portfolio.building(owner, ref=ref)
            for facing in facings:
                core = (
                    {"facing__core_category": "3", "facing__calorific_value": "45"}
                    if "composite" in facing
                    else {}
                )
                told = wall(facing__material=facing, **core) if facing else None
                portfolio.zone(building, wall=told)
    with estate.reading() as session:
        query = sa.select(Building.ref, BuildingResult.metal_composite).join(BuildingResult)
        found = {row.ref: row.metal_composite for row in session.execute(query)}
    assert found.items() >= {"ONE-IS": "yes", "NONE-IS": "no", "NOBODY-LOOKED": ""}.items()


# --- Orders of one's own -------------------------------------------------------------------------


def test_an_own_order_lists_gaps_by_its_steps(estate: Estate) -> None:
    write(estate)
    rows = listed(estate, estate.viewer("north"), "sprinklers-first")
    # none and parts count alike, then coverage is level, then the height: unknown before low
    assert [row.building_ref for row in rows] == ["WHO-KNOWS", "LOW", "TALL"]
    assert rows[1].reasons[0] == "Sprinklers: none"
    assert rows[1].reasons[2] == "Height of the top floor: below 11 m"


def test_who_would_move_is_told_before_anything_is_saved(estate: Estate) -> None:
    owner, viewer = estate.organisation("north"), estate.viewer("north")
    with estate.reading() as session:
        moves = moves_of_order(session, viewer, owner, BY_SPRINKLERS, version=0)
        assert list(known_orders(session, viewer)) == [HOUSE, *PUBLISHED]
    assert (moves.up, moves.down, moves.stay) == (1, 1, 1)
    [up], [down] = moves.furthest_up, moves.furthest_down
    assert (up.building_ref, up.before, up.after) == ("LOW", 3, 2)
    assert (down.building_ref, down.before, down.after) == ("TALL", 2, 3)
    write(estate)
    after = {row.building_ref: row.rank for row in listed(estate, viewer, "sprinklers-first")}
    assert (after["LOW"], after["TALL"]) == (up.after, down.after)


def test_a_further_version_takes_the_place_and_the_first_is_kept(estate: Estate) -> None:
    first = write(estate)
    by_height = replace(BY_SPRINKLERS, steps=(StepTexts("height-band", "1", ""),))
    second = write(estate, by_height, version=1, days=5)
    viewer = estate.viewer("north")
    with estate.reading() as session:
        page = order_page(session, viewer, second.id)
        assert [line.row.version for line in page.versions] == [2, 1]
        old = order_page(session, viewer, first.id)
        assert not old.is_latest
        assert [step.criterion for step in old.order.steps] == [
            "sprinklers",
            "coverage",
            "height-band",
        ]
        order = known_orders(session, viewer)["sprinklers-first"].order
        assert (order.version, len(order.steps)) == ("2", 1)


def test_looking_back_finds_the_version_of_that_day(estate: Estate) -> None:
    write(estate)
    by_height = replace(BY_SPRINKLERS, steps=(StepTexts("height-band", "1", ""),))
    write(estate, by_height, version=1, days=5)
    viewer = estate.viewer("north")
    with estate.reading() as session:
        on = {
            days: [line.row.version for line in orders_on(session, viewer, ON + timedelta(days))]
            for days in (-1, 0, 4, 5)
        }
    assert on == {-1: [], 0: [1], 4: [1], 5: [2]}


def test_who_wrote_what_and_why_is_in_the_change_log(estate: Estate) -> None:
    write(estate)
    with estate.reading() as session:
        [event] = session.scalars(sa.select(Event).where(Event.subject == "order"))
        assert (event.action, event.subject_ref) == ("created", "sprinklers-first")
        assert event.actor.startswith("A. Person, north")
        assert event.reason == "Invented for a test."
        assert event.changes["steps"] == [
            None,
            "1. sprinklers (none, parts | throughout); 2. coverage; 3. height-band (18, 11)",
        ]
        assert changelog.broken_at(session) is None


def test_an_order_is_its_organisations_alone(estate: Estate) -> None:
    saved = write(estate)
    south = estate.viewer("south")
    with estate.reading() as session:
        assert list(known_orders(session, south)) == [HOUSE, *PUBLISHED]
        for asked in (
            lambda: order_page(session, south, saved.id),
            lambda: editable_order(session, south, saved.id),
            lambda: order_page(session, south, 999),
        ):
            with pytest.raises(NotFoundError, match="There is no such order"):
                asked()
        with pytest.raises(InputError, match="There is no such order"):
            order_named(session, south, "sprinklers-first")
        assert order_named(session, LOCAL, "north/sprinklers-first").order.version == "1"


@pytest.mark.parametrize("role", [Role.READER, Role.EDITOR, Role.ADMINISTRATOR])
def test_only_engineers_write_orders(estate: Estate, role: Role) -> None:
    with pytest.raises(ForbiddenError):
        write(estate, role=role)


def test_two_who_write_at_once_notice_each_other(estate: Estate) -> None:
    write(estate)
    by_height = replace(BY_SPRINKLERS, steps=(StepTexts("height-band", "1", ""),))
    write(estate, by_height, version=1)
    with pytest.raises(StaleError):
        write(estate, replace(by_height, title="Other"), version=1)
    with pytest.raises(InputError, match="key already"):
        write(estate, by_height)
    with pytest.raises(InputError, match="latest version says already"):
        write(estate, by_height, version=2)


# --- Texts ---------------------------------------------------------------------------------------


def steps(*told: tuple[str, str, str]) -> OrderTexts:
    return replace(BY_SPRINKLERS, steps=tuple(StepTexts(*each) for each in told))


@pytest.mark.parametrize(
    ("texts", "column"),
    [
        (steps(("coverage", "", "")), "place"),
        (steps(("coverage", "first", "")), "place"),
        (steps(("coverage", "0", "")), "place"),
        (steps(("coverage", "1", ""), ("people", "1", "")), "place"),
        (steps(("colour", "1", "")), "bands"),
        (steps(("table", "1", "")), "bands"),
        # milder first would move a gap down for having no sprinklers
        (steps(("sprinklers", "1", "throughout | parts | none")), "bands"),
        (steps(("sprinklers", "1", "none | throughout")), "bands"),
        (steps(("sprinklers", "1", "none | | parts, throughout")), "bands"),
        (steps(("height-band", "1", "tall, low")), "bands"),
        (steps(("height-band", "1", "18, 18")), "bands"),
        (steps(("people", "1", "0")), "bands"),
        (steps(("people", "1", "1.5")), "bands"),
        (replace(BY_SPRINKLERS, key="house"), "key"),
        (replace(BY_SPRINKLERS, key="Not a key"), "key"),
        (replace(BY_SPRINKLERS, key=""), "key"),
        (replace(BY_SPRINKLERS, title="  "), "title"),
        (replace(BY_SPRINKLERS, reason=""), "reason"),
    ],
)
def test_what_is_no_order_is_refused_where_it_stands(texts: OrderTexts, column: str) -> None:
    with pytest.raises(InputError) as refused:
        read_order(texts, "A. Person")
    assert {problem.column for problem in refused.value.problems} == {column}


def test_an_order_is_written_as_it_is_read() -> None:
    order = read_order(BY_SPRINKLERS, "A. Person")
    written = write_order(order)
    assert isinstance(order, OwnOrder)
    assert read_order(written, "A. Person") == order
    assert [step.criterion for step in written.steps] == list(CRITERIA)

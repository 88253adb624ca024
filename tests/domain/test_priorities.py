"""The order of gaps: total, repeatable, and never softened by what is worse or unknown."""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.buildings import Building, Zone
from portfolio.domain.coverage import Coverage, ZoneCoverage
from portfolio.domain.heights import HeightClaim
from portfolio.domain.own_orders import OwnOrder, OwnStep, as_order
from portfolio.domain.priorities import CRITERIA, Gap, Step, milder, position, ranked, reasons
from portfolio.reference.loader import EVACUATION, SPRINKLERS, load_reference

ORDER = load_reference().order
USES = sorted(load_reference().uses)
BY_HOMES = replace(ORDER, steps=(Step("homes", "Homes", (), {}, "ours", "house"),))
OWN = as_order(
    OwnOrder(
        "own",
        "Own",
        (
            OwnStep("sprinklers", groups=(("none", "parts"), ("throughout",))),
            OwnStep("height-band", limits=(40.0, 17.5)),
            OwnStep("homes", limits=(200, 11)),
            OwnStep("people"),
        ),
        "A. Person",
        "Invented for a test.",
    ),
    "1",
    ORDER,
)
ORDERS = {**load_reference().orders, OWN.key: OWN}
GAPS = tuple(coverage for coverage in Coverage if coverage.is_gap)


def coverage_of(coverage: Coverage, *, by_inference: bool = False) -> ZoneCoverage:
    return ZoneCoverage(coverage, by_inference, False, (), (), (), ())


def make_gap(
    coverage: Coverage = Coverage.TO_ASSESS,
    *,
    by_inference: bool = False,
    zone: str = "Z1",
    **building: object,
) -> Gap:
    defaults: dict[str, object] = {
        "ref": "B1",
        "use": "flats",
        "heights": (HeightClaim(12.0, "measured", 0.1),),
        "people": 50,
        "evacuation": "phased",
        "sprinklers": "parts",
    }
    found = Building(name="a building", **(defaults | building))  # type: ignore[arg-type]
    covered = coverage_of(coverage, by_inference=by_inference)
    return Gap(found, Zone(zone, found.ref), covered)


def high(metres: float) -> dict[str, object]:
    return {"heights": (HeightClaim(metres, "measured", 0.1),)}


@st.composite
def gaps(draw: st.DrawFn) -> Gap:
    coverage = draw(st.sampled_from(GAPS))
    metres = draw(st.none() | st.integers(min_value=0, max_value=60))
    return make_gap(
        coverage,
        by_inference=coverage is Coverage.CONTRADICTED and draw(st.booleans()),
        zone=draw(st.sampled_from(["Z1", "Z2", "Z10"])),
        ref=draw(st.sampled_from(["B1", "B 1", "B-1", "B", "b1"])),
        use=draw(st.sampled_from([*USES, "", "lighthouse"])),
        heights=() if metres is None else (HeightClaim(float(metres), "measured"),),
        people=draw(st.none() | st.integers(min_value=0, max_value=2000)),
        evacuation=draw(st.sampled_from([*EVACUATION, ""])),
        sprinklers=draw(st.sampled_from([*SPRINKLERS, ""])),
        homes=draw(st.none() | st.integers(min_value=0, max_value=300)),
        homes_in_reach=draw(st.none() | st.integers(min_value=0, max_value=6)),
        metal_composite=draw(st.sampled_from(["yes", "no", ""])),
    )


def comes_first(first: Gap, second: Gap) -> bool:
    return position(first, ORDER) < position(second, ORDER)


# Each step on its own, worst first.
STEPS: dict[str, tuple[Gap, ...]] = {
    "coverage": (
        make_gap(Coverage.CONTRADICTED),
        make_gap(Coverage.CONTRADICTED, by_inference=True),
        make_gap(Coverage.TOO_LITTLE_KNOWN),
        make_gap(Coverage.NO_MATCHING_EVIDENCE),
        make_gap(Coverage.TO_ASSESS),
    ),
    "sleeping": (make_gap(use="care-home"), make_gap(use="flats"), make_gap(use="office")),
    "height-band": tuple(make_gap(**high(m)) for m in (50.2, 30.2, 18.2, 11.2, 3.0)),
    "evacuation": tuple(
        make_gap(evacuation=e) for e in ("stay-put", "progressive", "phased", "simultaneous")
    ),
    "sprinklers": tuple(make_gap(sprinklers=s) for s in ("none", "parts", "throughout")),
    "people": tuple(make_gap(people=n) for n in (5000, 50, 1, 0)),
    "homes": tuple(make_gap(homes=n) for n in (200, 12, 1, 0)),
}


@pytest.mark.parametrize("criterion", CRITERIA)
def test_each_step_puts_its_worse_value_first(criterion: str) -> None:
    by_it = BY_HOMES if criterion == "homes" else ORDER
    places = [position(gap, by_it) for gap in STEPS[criterion]]
    assert all(worse < milder for worse, milder in pairwise(places))


UNKNOWN: dict[str, dict[str, object]] = {
    "sleeping": {"use": ""},
    "height-band": {"heights": (), "storeys": None},
    "evacuation": {"evacuation": ""},
    "sprinklers": {"sprinklers": ""},
}


@pytest.mark.parametrize("criterion", sorted(UNKNOWN))
def test_an_unknown_value_ranks_with_the_worst(criterion: str) -> None:
    worst = STEPS[criterion][0]
    unknown = Gap(replace(worst.building, **UNKNOWN[criterion]), worst.zone, worst.coverage)
    assert position(unknown, ORDER) == position(worst, ORDER)


def test_an_unknown_number_of_people_comes_before_any_number() -> None:
    assert comes_first(make_gap(people=None), make_gap(people=10**12))


@pytest.mark.parametrize("criterion", sorted(UNKNOWN))
def test_the_reason_says_that_a_value_was_unknown(criterion: str) -> None:
    found = reasons(make_gap(**UNKNOWN[criterion]), ORDER)
    [reason] = [r for r in found if r.was_unknown]
    assert "unknown, so placed with the worst" in reason.text


def test_an_unknown_number_of_people_is_told_as_such() -> None:
    assert reasons(make_gap(people=None), ORDER)[-1].was_unknown


def test_reasons_follow_the_steps_in_words_for_a_reader() -> None:
    found = reasons(make_gap(Coverage.CONTRADICTED, by_inference=True), ORDER)
    assert [reason.title for reason in found] == [step.title for step in ORDER.steps]
    assert found[0].text == "Coverage: contradicted by inference"
    assert not any(reason.was_unknown for reason in found)


def test_a_height_either_side_of_a_limit_says_so() -> None:
    gap = make_gap(heights=(HeightClaim(17.7, "drawings"), HeightClaim(17.77, "measured")))
    [reason] = [r for r in reasons(gap, ORDER) if "Height" in r.title]
    assert "17.7 m and 17.77 m claimed: either side of a limit" in reason.text
    assert "18 m" in reason.text


def test_a_height_well_inside_a_band_says_nothing_of_limits() -> None:
    assert not any("either side" in r.text for r in reasons(make_gap(**high(14.0)), ORDER))


def test_an_earlier_step_decides_before_every_later_one() -> None:
    worse_first = make_gap(use="care-home", people=1, sprinklers="throughout", **high(3.0))
    worse_later = make_gap(use="flats", people=9000, sprinklers="none", **high(60.0))
    assert comes_first(worse_first, worse_later)


@given(st.lists(gaps(), max_size=8))
def test_ranks_count_from_one_in_the_order_of_position(found: list[Gap]) -> None:
    in_order = ranked(found, ORDER)
    assert [r.rank for r in in_order] == list(range(1, len(found) + 1))
    places = [position(r.gap, ORDER) for r in in_order]
    assert places == sorted(places)


@given(st.lists(gaps(), max_size=6), st.randoms())
def test_the_order_does_not_depend_on_how_the_gaps_came_in(found: list[Gap], rng: object) -> None:
    shuffled = list(found)
    rng.shuffle(shuffled)  # type: ignore[attr-defined]
    first, second = ranked(found, ORDER), ranked(shuffled, ORDER)
    assert [position(r.gap, ORDER) for r in first] == [position(r.gap, ORDER) for r in second]


@given(gaps(), gaps())
def test_only_gaps_of_one_zone_can_share_a_position(one: Gap, other: Gap) -> None:
    if position(one, ORDER) == position(other, ORDER):
        assert (one.building.ref, one.zone.ref) == (other.building.ref, other.zone.ref)


def worsened(building: Building) -> dict[str, Building]:
    """The building with one thing made worse, by name."""
    higher = tuple(replace(c, metres=c.metres + 7) for c in building.heights)
    return {
        "sprinklers removed": replace(building, sprinklers="none"),
        "sprinklers taken from parts": replace(
            building, sprinklers="parts" if building.sprinklers == "throughout" else "none"
        ),
        "made higher": replace(building, heights=higher),
        "people sleep": replace(
            building,
            use="flats"
            if ORDER.sleeping_by_use.get(building.use) == "not-sleeping"
            else building.use,
        ),
        "people need help": replace(building, use="care-home"),
        "one more person": replace(
            building, people=None if building.people is None else building.people + 1
        ),
        "slower to leave": replace(building, evacuation="stay-put"),
        "one more home": replace(
            building, homes=None if building.homes is None else building.homes + 1
        ),
        "a composite facing": replace(building, metal_composite="yes"),
    }


@given(gaps(), st.sampled_from(sorted(ORDERS)))
def test_what_makes_a_building_worse_never_moves_its_gap_down(gap: Gap, key: str) -> None:
    """A law of every order: the house order, the published ones, and any that one may write."""
    before = position(gap, ORDERS[key])
    for what, building in worsened(gap.building).items():
        assert position(replace(gap, building=building), ORDERS[key]) <= before, what


@given(gaps(), st.sampled_from(sorted(ORDERS)))
def test_the_mildest_that_is_unknown_never_moves_a_gap_up(gap: Gap, key: str) -> None:
    order = ORDERS[key]
    mildest = replace(gap, building=milder(gap.building, order))
    assert position(mildest, order) >= position(gap, order)


@given(gaps(), st.sampled_from(["use", "heights", "people", "evacuation", "sprinklers"]))
def test_forgetting_a_fact_never_moves_a_gap_down(gap: Gap, name: str) -> None:
    nothing: dict[str, object] = {"heights": (), "people": None}
    # with homes recorded the people would not be forgotten but estimated
    building = replace(gap.building, homes=None, **{name: nothing.get(name, "")})
    gap = replace(gap, building=replace(gap.building, homes=None))
    assert position(replace(gap, building=building), ORDER) <= position(gap, ORDER)


def test_every_gap_coverage_has_a_place_in_the_house_order() -> None:
    [step] = [s for s in ORDER.steps if s.criterion == "coverage"]
    told = {c.value for c in GAPS} | {"contradicted-by-inference"}
    assert set(step.values) == told


def test_the_words_of_every_step_are_words_that_a_building_can_have() -> None:
    words = {step.criterion: set(step.values) for step in ORDER.steps}
    assert words["sleeping"] == set(ORDER.sleeping_by_use.values())
    assert words["height-band"] == {band.key for band in ORDER.bands}
    assert words["evacuation"] == set(EVACUATION)
    assert words["sprinklers"] == set(SPRINKLERS)


def test_the_bands_of_an_own_order_are_told_worst_first() -> None:
    assert [step.direction for step in OWN.steps] == [
        "none or in parts, then throughout",
        "40 m or more, then 17.5 m to below 40 m, then below 17.5 m",
        "200 or more, then 11 or more, then fewer",
        "more before fewer",
    ]


@given(gaps(), gaps())
def test_zones_of_two_owners_buildings_of_one_reference_do_not_mix(one: Gap, other: Gap) -> None:
    """Every zone of the first owner's building before every one of the second's, or after."""
    first, second = (
        replace(gap, building=replace(one.building, ref="B", owner=owner), coverage=one.coverage)
        for gap, owner in ((one, "east"), (other, "west"))
    )
    assert position(first, ORDER) < position(second, ORDER)

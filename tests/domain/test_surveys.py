"""The resolved build-up: strongest basis, later over earlier, conflicts, settlements."""

from datetime import date, timedelta
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.coverage import Coverage
from portfolio.domain.parameters import Strength
from portfolio.domain.surveys import Basis, Settlement, Survey, resolve
from portfolio.domain.values import (
    NOT_APPLICABLE,
    UNKNOWN,
    OneOf,
    Range,
    Value,
    agree,
    exactly,
    known,
    one_of,
)
from tests.domain.factories import (
    PIR,
    complete,
    core,
    judge,
    make_partial,
    make_survey,
    make_test,
    make_wall,
    solid,
    value_of,
    wall_of,
)

INSULATION = "insulation.1.material"
DEPTH = "cavity.1.depth"
JANUARY, FEBRUARY, MARCH = (date(2026, month, 1) for month in (1, 2, 3))


def says(
    text: str,
    key: str = INSULATION,
    *,
    basis: Basis = Basis.OPENING_UP,
    on: date = JANUARY,
    ref: str = "S1",
) -> Survey:
    return make_partial({key: text}, basis=basis, on=on, ref=ref)


def ruling(survey_ref: str, on: date, parameter: str = INSULATION) -> Settlement:
    return Settlement(parameter, survey_ref, "a named engineer", on, "seen again")


STRONGER_FIRST = (
    (Basis.OPENING_UP, Basis.DRAWING),
    (Basis.LABORATORY, Basis.CERTIFICATE),
    (Basis.DRAWING, Basis.OUTSIDE),
    (Basis.CERTIFICATE, Basis.OUTSIDE),
    (Basis.OUTSIDE, Basis.ASSUMPTION),
)


@pytest.mark.parametrize(("stronger", "weaker"), STRONGER_FIRST)
def test_the_stronger_basis_counts_even_when_it_is_older(stronger: Basis, weaker: Basis) -> None:
    wall = resolve(
        [
            says("pir", basis=stronger, on=JANUARY, ref="old"),
            says("stone wool", basis=weaker, on=MARCH, ref="new"),
        ]
    )
    assert wall.as_resolved(INSULATION) == known("pir-foam")
    assert wall.conflicts == ()


def test_a_certificate_is_paper_like_a_drawing_and_a_laboratory_like_an_opening_up() -> None:
    assert Basis.CERTIFICATE.strength == Basis.DRAWING.strength == Strength.ON_PAPER
    assert Basis.LABORATORY.strength == Basis.OPENING_UP.strength == Strength.OPENED_UP


def test_every_basis_has_a_name_for_a_reader() -> None:
    assert len({basis.label for basis in Basis}) == len(Basis)


def test_what_the_stronger_survey_is_silent_on_comes_from_the_weaker() -> None:
    drawing = make_partial({DEPTH: "50"}, basis=Basis.DRAWING, ref="S2")
    wall = resolve([says("pir"), drawing])
    assert wall.as_resolved(DEPTH) == exactly(50)
    assert wall.facts[DEPTH].strength is Strength.ON_PAPER


def test_a_later_survey_on_the_same_basis_is_shown_and_the_earlier_kept_beside_it() -> None:
    wall = resolve([says("stone wool", ref="old"), says("stone wool", on=MARCH, ref="new")])
    fact = wall.facts[INSULATION]
    assert fact.claim.survey.ref == "new"
    assert [claim.survey.ref for claim in fact.others] == ["old"]


def test_a_wall_without_surveys_is_unknown_throughout() -> None:
    assert resolve([]).as_resolved(INSULATION) is UNKNOWN
    assert resolve([]).as_relied_on(INSULATION) is UNKNOWN


# --- Leaning on a source -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("key", "basis", "is_good_enough", "why"),
    [
        (INSULATION, Basis.DRAWING, False, "decisive layers need an opening-up"),
        (INSULATION, Basis.OPENING_UP, True, "decisive layers need an opening-up"),
        ("barrier-horizontal.1.type", Basis.DRAWING, False, "a drawing is no sighting"),
        ("barrier-horizontal.1.type", Basis.LABORATORY, True, "seen"),
        (DEPTH, Basis.OUTSIDE, False, "a cavity is not seen from outside"),
        (DEPTH, Basis.DRAWING, True, "paper is enough"),
        ("facing.1.joint", Basis.OUTSIDE, True, "joints are seen from outside"),
        ("facing.1.joint", Basis.ASSUMPTION, False, "an assumption is no knowledge"),
    ],
)
def test_a_fact_is_relied_on_only_from_a_good_enough_source(
    key: str, basis: Basis, is_good_enough: bool, why: str
) -> None:
    text = complete()[key]
    wall = resolve([says(text, key, basis=basis)])
    assert wall.as_resolved(key) == value_of(key, text)
    assert (wall.as_relied_on(key) is not UNKNOWN) is is_good_enough, why


# --- Conflicts -----------------------------------------------------------------------------------


def test_two_surveys_of_equal_strength_that_disagree_are_a_conflict_with_both_possible() -> None:
    wall = resolve([says("pir", ref="old"), says("stone wool", on=MARCH, ref="new")])
    assert wall.conflicts == (INSULATION,)
    assert wall.as_resolved(INSULATION) == one_of(("pir-foam", "stone-wool"))


def test_a_conflict_blocks_cover() -> None:
    wall = wall_of(make_survey(), says("pir", ref="S2"))
    found = judge(wall, make_test())
    assert (found.coverage, found.conflicts) == (Coverage.TOO_LITTLE_KNOWN, (INSULATION,))


def test_a_conflict_over_something_a_test_allows_either_way_still_blocks_cover() -> None:
    wall = resolve([make_survey(), says("51", DEPTH, ref="S2")])
    assert judge(wall, make_test()).coverage is Coverage.TOO_LITTLE_KNOWN


def test_a_conflict_comes_before_an_engineer_even_where_every_claim_differs_from_the_test() -> None:
    wall = wall_of(make_survey(complete({DEPTH: "70"})), says("90", DEPTH, ref="S2"))
    found = judge(wall, make_test())
    assert found.differences == (DEPTH,)
    assert (found.coverage, found.conflicts) == (Coverage.TOO_LITTLE_KNOWN, (DEPTH,))


def test_measurements_within_tolerance_are_no_conflict() -> None:
    wall = resolve([says("50", DEPTH), says("52", DEPTH, ref="S2", on=MARCH)], (), {DEPTH: 2.0})
    assert wall.conflicts == ()
    # neither is wrong: what is compared with a test must hold for both
    assert wall.as_resolved(DEPTH) == Range(50, 52)


def test_what_only_two_surveys_together_would_make_certain_nobody_has_found() -> None:
    """Two openings at two spots: each leaves the insulation open, in its own way."""
    told = [says("stone-wool|pir-foam"), says("stone-wool|eps", ref="S2", on=MARCH)]
    assert resolve(told).as_resolved(INSULATION) == one_of(("stone-wool", "pir-foam", "eps"))
    told = [says("60 to 100", DEPTH), says("100 to 160", DEPTH, ref="S2", on=MARCH)]
    assert resolve(told).as_resolved(DEPTH) == Range(60, 160)


def test_a_wall_that_looks_otherwise_since_it_was_opened_is_in_conflict() -> None:
    opened = says("stone wool", basis=Basis.OPENING_UP, on=JANUARY, ref="old")
    seen = says("pir", basis=Basis.OUTSIDE, on=MARCH, ref="new")
    wall = resolve([opened, seen])
    assert wall.conflicts == (INSULATION,)
    assert wall.as_resolved(INSULATION) == one_of(("stone-wool", "pir-foam"))
    same_day = says("pir", basis=Basis.OUTSIDE, on=JANUARY, ref="same day")
    assert resolve([opened, same_day]).conflicts == (INSULATION,)
    before = says("pir", basis=Basis.OUTSIDE, on=date(2020, 1, 1), ref="before")
    assert resolve([opened, before]).conflicts == ()


@pytest.mark.parametrize(
    ("days", "basis", "drawn", "said"),
    [
        (1, Basis.DRAWING, "pir-foam", ["S2"]),
        (1, Basis.CERTIFICATE, "pir-foam", ["S2"]),
        (1, Basis.DRAWING, "stone-wool", []),
        (0, Basis.DRAWING, "pir-foam", []),
        (-1, Basis.CERTIFICATE, "pir-foam", []),
        (1, Basis.ASSUMPTION, "pir-foam", []),
    ],
)
def test_a_later_paper_that_says_otherwise_is_named_and_changes_nothing(
    days: int, basis: Basis, drawn: str, said: list[str]
) -> None:
    key = "insulation.1.material"
    opened = make_partial({key: "stone-wool"}, ref="S1")
    later = make_partial({key: drawn}, ref="S2", basis=basis, on=opened.on + timedelta(days=days))
    fact = wall_of(opened, later).facts[key]
    assert fact.value == known("stone-wool")
    assert fact.in_conflict == ()
    assert [claim.survey.ref for claim in fact.said_since] == said


def test_a_vaguer_claim_is_no_conflict_and_the_exact_one_stands() -> None:
    wall = resolve([says("stone wool"), says("mineral wool", ref="S2", on=MARCH)])
    assert wall.conflicts == ()
    assert wall.as_resolved(INSULATION) == known("stone-wool")


def test_two_earlier_surveys_that_disagree_are_a_conflict_beneath_a_vague_later_one() -> None:
    wall = resolve(
        [
            says("stone wool", ref="A"),
            says("glass wool", ref="B", on=FEBRUARY),
            says("mineral wool", ref="C", on=MARCH),
        ]
    )
    assert wall.conflicts == (INSULATION,)
    assert wall.as_resolved(INSULATION) == one_of(("stone-wool", "glass-wool"))


def test_a_third_survey_that_sides_with_one_leaves_the_conflict_as_it_is() -> None:
    wall = resolve(
        [
            says("pir", ref="A"),
            says("stone wool", ref="B", on=FEBRUARY),
            says("pir", ref="C", on=MARCH),
        ]
    )
    assert wall.conflicts == (INSULATION,)
    assert wall.as_resolved(INSULATION) == one_of(("pir-foam", "stone-wool"))


def test_barriers_in_conflict_do_not_acquit_a_wall_whichever_way_a_third_survey_sides() -> None:
    key = "barrier-horizontal.1.type"
    bare = {key: "none", "barrier-horizontal.1.spacing": "", "barrier-horizontal.1.product": ""}
    wall = wall_of(
        make_partial(complete(PIR, without=bare)),
        says("full fill", key, ref="A", on=FEBRUARY),
        says("none", key, ref="B", on=FEBRUARY),
        says("full fill", key, ref="C", on=MARCH),
    )
    failing = make_test(PIR, bare, fails=True)
    assert judge(wall, failing).coverage is Coverage.CONTRADICTED


words = st.sampled_from(["stone wool", "glass wool", "mineral wool", "pir", "foam", "eps | xps"])
depths = st.sampled_from(["40", "50", "51", "52", "40-60", "50-55"])
claims = st.lists(
    st.tuples(words, depths, st.sampled_from(list(Basis)), st.sampled_from([JANUARY, MARCH])),
    min_size=1,
    max_size=4,
)


def surveys_of(told: list[tuple[str, str, Basis, date]]) -> list[Survey]:
    return [
        make_partial({INSULATION: material, DEPTH: depth}, basis=basis, on=on, ref=f"S{i}")
        for i, (material, depth, basis, on) in enumerate(told)
    ]


def strongest(surveys: list[Survey]) -> list[Survey]:
    best = max(survey.basis.strength for survey in surveys)
    return [survey for survey in surveys if survey.basis.strength == best]


def told_by(survey: Survey, attribute: str) -> Value:
    return next(
        layer.values[attribute] for layer in survey.build_up.layers if attribute in layer.values
    )


def seen_since(surveys: list[Survey]) -> list[Survey]:
    """The looks from outside after the last opening-up, where there was one."""
    opened = [s.on for s in strongest(surveys) if s.basis in (Basis.OPENING_UP, Basis.LABORATORY)]
    return [s for s in surveys if s.basis is Basis.OUTSIDE and opened and s.on >= max(opened)]


@given(claims)
def test_the_order_of_surveys_is_irrelevant(told: list[tuple[str, str, Basis, date]]) -> None:
    surveys = surveys_of(told)
    found = [resolve(list(order), (), {DEPTH: 2.0}) for order in permutations(surveys)]
    assert all(wall == found[0] for wall in found)


@given(claims)
def test_the_strongest_surveys_conflict_exactly_when_they_cannot_all_be_true(
    told: list[tuple[str, str, Basis, date]],
) -> None:
    surveys = surveys_of(told)
    wall = resolve(surveys)
    keys = [told_by(survey, "material").keys for survey in strongest(surveys)]  # type: ignore[union-attr]
    common = frozenset.intersection(*keys)
    found = common if common in keys else frozenset.union(*keys)
    seen = [told_by(survey, "material").keys for survey in seen_since(surveys)]  # type: ignore[union-attr]
    looks_otherwise = [keys for keys in seen if not keys & found]
    assert (INSULATION in wall.conflicts) == (not common or bool(looks_otherwise))
    if common:
        expected = found.union(*looks_otherwise)
        assert wall.as_resolved(INSULATION) == OneOf(expected)


@given(claims)
def test_what_is_held_possible_leaves_room_for_each_of_the_strongest_surveys(
    told: list[tuple[str, str, Basis, date]],
) -> None:
    surveys = surveys_of(told)
    wall = resolve(surveys)
    for survey in strongest(surveys):
        assert agree(wall.as_resolved(DEPTH), told_by(survey, "depth"))
        assert agree(wall.as_resolved(INSULATION), told_by(survey, "material"))


# --- Settlements ---------------------------------------------------------------------------------


def test_a_named_person_settles_a_conflict_for_one_survey() -> None:
    wall = resolve([says("pir", ref="A"), says("stone wool", ref="B")], [ruling("A", FEBRUARY)])
    assert wall.conflicts == ()
    assert wall.as_resolved(INSULATION) == known("pir-foam")
    assert wall.facts[INSULATION].settlement == ruling("A", FEBRUARY)


def test_a_survey_made_after_the_ruling_re_opens_the_question() -> None:
    surveys = [says("pir", ref="A"), says("stone wool", ref="B")]
    later = says("stone wool", ref="C", on=MARCH)
    assert resolve([*surveys, later], [ruling("A", FEBRUARY)]).conflicts == (INSULATION,)


def test_a_survey_on_the_day_of_the_ruling_was_before_the_person_who_ruled() -> None:
    surveys = [says("pir", ref="A"), says("stone wool", ref="B", on=FEBRUARY)]
    assert resolve(surveys, [ruling("A", FEBRUARY)]).conflicts == ()


def test_a_later_ruling_replaces_an_earlier_one() -> None:
    surveys = [says("pir", ref="A"), says("stone wool", ref="B")]
    wall = resolve(surveys, [ruling("B", MARCH), ruling("A", FEBRUARY)])
    assert wall.as_resolved(INSULATION) == known("stone-wool")


def test_a_ruling_for_a_survey_that_is_silent_settles_nothing() -> None:
    surveys = [says("pir", ref="A"), says("stone wool", ref="B"), says("50", DEPTH, ref="C")]
    assert resolve(surveys, [ruling("C", FEBRUARY)]).conflicts == (INSULATION,)


def test_a_ruling_on_one_parameter_settles_no_other() -> None:
    surveys = [says("pir", ref="A"), says("stone wool", ref="B")]
    assert resolve(surveys, [ruling("A", FEBRUARY, DEPTH)]).conflicts == (INSULATION,)


def test_a_ruling_for_a_weaker_source_is_leaned_on_only_as_far_as_that_source() -> None:
    surveys = [says("pir", ref="A"), says("stone wool", ref="B", basis=Basis.DRAWING)]
    wall = resolve(surveys, [ruling("B", FEBRUARY)])
    assert wall.as_resolved(INSULATION) == known("stone-wool")
    assert wall.as_relied_on(INSULATION) is UNKNOWN


def test_a_single_survey_needs_no_ruling() -> None:
    assert resolve([says("pir")], [ruling("S1", FEBRUARY)]) == resolve([says("pir")])


# --- What an overruled layer would have had ------------------------------------------------------


def test_a_board_that_the_drawing_left_out_has_an_unknown_thickness_once_found() -> None:
    boards = [key for key in complete() if key.startswith("sheathing")]
    drawing = make_survey(complete(without=boards), basis=Basis.DRAWING, ref="drawing")
    found = make_partial({"sheathing.1.material": "cement board"}, ref="opened")
    wall = resolve([drawing, found])
    assert wall.as_resolved("sheathing.1.material") == known("cement-particle-board")
    assert wall.as_resolved("sheathing.1.thickness") is UNKNOWN


def test_a_panel_drawn_as_solid_and_found_to_be_composite_has_an_unknown_core() -> None:
    drawing = make_survey(complete(solid()), basis=Basis.DRAWING, ref="drawing")
    found = make_partial({"facing.1.material": "metal composite panel"}, ref="opened")
    wall = resolve([drawing, found])
    assert wall.as_resolved("facing.1.core_category") is UNKNOWN
    assert judge(wall, make_test()).coverage is Coverage.TOO_LITTLE_KNOWN


def test_a_joint_drawn_closed_and_found_open_has_an_unknown_width() -> None:
    drawing = make_partial({"facing.1.joint": "closed"}, basis=Basis.DRAWING, ref="drawing")
    wall = resolve([drawing, make_partial({"facing.1.joint": "open"}, ref="opened")])
    assert wall.as_resolved("facing.1.joint_width") is UNKNOWN


def test_a_weaker_source_speaks_where_a_stronger_one_was_overruled() -> None:
    outside = make_partial({"facing.1.joint_width": "12"}, basis=Basis.OUTSIDE, ref="outside")
    drawing = make_partial({"facing.1.joint": "closed"}, basis=Basis.DRAWING, ref="drawing")
    opened = make_partial({"facing.1.joint": "open"}, ref="opened")
    assert resolve([outside, drawing, opened]).as_resolved("facing.1.joint_width") == exactly(12)


def test_a_layer_found_absent_has_no_thickness_whatever_was_drawn() -> None:
    drawing = make_survey(basis=Basis.DRAWING, ref="drawing")
    wall = resolve([drawing, says("none")])
    assert wall.as_resolved("insulation.1.thickness") is NOT_APPLICABLE


def test_a_laboratory_value_that_contradicts_the_category_on_site_is_a_conflict() -> None:
    site = make_survey(complete(core("2")), ref="site")
    laboratory = make_partial(
        {"facing.1.calorific_value": "44"}, basis=Basis.LABORATORY, ref="laboratory"
    )
    wall = wall_of(site, laboratory)
    assert "facing.1.core_category" in wall.conflicts
    assert wall.as_resolved("facing.1.core_category") == one_of(("2", "3"))


def test_a_laboratory_value_alone_lets_a_failing_test_of_that_core_speak() -> None:
    told = complete(core("3"), without=["facing.1.core_category", "facing.1.calorific_value"])
    laboratory = make_partial(
        {"facing.1.calorific_value": "44"}, basis=Basis.LABORATORY, ref="laboratory"
    )
    wall = wall_of(make_survey(told), laboratory)
    found = judge(wall, make_test(core("3"), fails=True))
    assert (found.coverage, found.by_inference) == (Coverage.CONTRADICTED, False)


def test_the_complete_wall_is_covered_by_a_test_of_it() -> None:
    assert judge(make_wall(), make_test()).coverage is Coverage.COVERED

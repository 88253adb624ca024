"""Published situations, each with the conclusion that a competent engineer would draw.

Generic words; condensed from government consolidated advice and data releases 2017 to 2020,
inquiry reporting, Scottish Government notes and articles of professional bodies. Everything that a
situation does not mention is as in the test, opened up and known.
"""

from dataclasses import replace
from datetime import date

import pytest

from portfolio.domain import reaction
from portfolio.domain.buildings import Building, Zone
from portfolio.domain.coverage import Coverage, ZoneCoverage, worst
from portfolio.domain.evidence import (
    Answer3,
    Classification,
    Consent,
    Criteria,
    Holding,
    Outcome,
    Standing,
    outcome_of,
)
from portfolio.domain.heights import HeightClaim, Operator, Side, Threshold, band_of, side_of
from portfolio.domain.nearest import Verdict
from portfolio.domain.priorities import Gap, ranked
from portfolio.domain.surveys import Basis
from portfolio.reference.loader import load_reference
from tests.domain.factories import (
    ALL_MET,
    PIR,
    STONE_WOOL,
    complete,
    core,
    judge,
    judge_all,
    make_partial,
    make_survey,
    make_test,
    make_wall,
    solid,
    wall_of,
)

BARRIERS = ("barrier-horizontal.1.type", "barrier-vertical.1.type")
BARRIER_WORDS = tuple(
    f"{role}.1.{key}"
    for role in ("barrier-horizontal", "barrier-vertical")
    for key in ("type", "spacing", "product")
)
NO_BARRIERS = dict.fromkeys(BARRIER_WORDS, "") | dict.fromkeys(BARRIERS, "none")
AT_LEAST_18 = Threshold(18.0, Operator.AT_LEAST)


def pair(coverage: ZoneCoverage) -> tuple[Coverage, bool]:
    return coverage.coverage, coverage.by_inference


# 1. The FR-core panel passed with stone wool. Installed: the same panel with PIR. That pair failed
# in its own test. Conclusion: contradicted by a failing test; one shared layer is no match.


def test_the_panel_with_another_insulation_is_contradicted_by_the_test_of_that_pair() -> None:
    passing = make_test(core("2"), STONE_WOOL, ref="passed")
    failing = make_test(core("2"), PIR, ref="failed", fails=True)
    zone = judge(make_wall(core("2"), PIR), passing, failing)
    assert pair(zone) == (Coverage.CONTRADICTED, False)
    assert (zone.against, zone.covered_too) == (("failed",), False)


def test_one_shared_layer_with_a_passing_test_is_no_match() -> None:
    zone = judge(make_wall(core("2"), PIR), make_test(core("2"), STONE_WOOL))
    assert zone.coverage is Coverage.NO_MATCHING_EVIDENCE


# 2. PE-core panel with stone wool. Conclusion: contradicted; a non-combustible insulation did not
# rescue it.


def test_stone_wool_does_not_rescue_a_core_of_category_3() -> None:
    failing = make_test(core("3"), STONE_WOOL, fails=True)
    assert pair(judge(make_wall(core("3"), STONE_WOOL), failing)) == (Coverage.CONTRADICTED, False)


# 3. Mineral-core panel with PIR passed with cavity barriers fitted. In the building nobody has
# looked for barriers. Conclusion: too little known; seen and missing, not covered.


def test_barriers_that_nobody_looked_for_leave_the_zone_too_little_known() -> None:
    wall = make_wall(core("1"), PIR, without=BARRIER_WORDS)
    unlisted = make_partial(complete(core("1"), PIR, without=BARRIER_WORDS))
    zones = judge_all([wall_of(unlisted), wall], make_test(core("1"), PIR))
    assert zones[0].coverage is Coverage.TOO_LITTLE_KNOWN
    assert set(BARRIERS) <= set(zones[0].unknowns)


def test_barriers_seen_to_be_missing_are_a_difference_and_no_cover() -> None:
    zone = judge(make_wall(core("1"), PIR, NO_BARRIERS), make_test(core("1"), PIR))
    assert zone.coverage is Coverage.TO_ASSESS
    assert set(BARRIERS) <= set(zone.differences)


def test_barriers_seen_as_tested_cover() -> None:
    zone = judge(make_wall(core("1"), PIR), make_test(core("1"), PIR))
    assert zone.coverage is Coverage.COVERED


# 5. Panel of core category 3, insulation not disclosed. Conclusion: adverse by inference, because
# the mildest insulation tested with that core failed; kept apart from a tested fail.


def test_category_3_with_insulation_undisclosed_is_contradicted_by_inference_only() -> None:
    failing = make_test(core("3"), STONE_WOOL, fails=True)
    wall = make_wall(core("3"), without=["insulation.1.material"])
    assert pair(judge(wall, failing)) == (Coverage.CONTRADICTED, True)


# 6. The report describes the facing; a further board was in the rig and not declared; the report
# is withdrawn. Conclusion: evidence void, every zone that leaned on it is open again; the later
# re-test is new evidence.


def test_a_withdrawn_report_re_opens_every_zone_that_leaned_on_it() -> None:
    walls = [make_wall(), make_wall({"cavity.1.depth": "51"})]
    before = judge_all(walls, make_test())
    after = judge_all(walls, make_test(standing=Standing.WITHDRAWN))
    assert {zone.coverage for zone in before} == {Coverage.COVERED}
    assert {zone.coverage for zone in after} == {Coverage.NO_MATCHING_EVIDENCE}


def test_a_re_test_without_the_undeclared_board_is_new_evidence() -> None:
    zone = judge(make_wall(), make_test(standing=Standing.WITHDRAWN), make_test(ref="re-test"))
    assert (zone.coverage, zone.tests) == (Coverage.COVERED, ("re-test",))


def test_a_re_test_that_declares_the_board_does_not_cover_a_wall_without_it() -> None:
    board = {
        "sheathing.2.material": "magnesium oxide board",
        "sheathing.2.class": "A1",
        "sheathing.2.thickness": "12",
        "sheathing.2.product": "board C",
    }
    zone = judge(make_wall(), make_test(board))
    assert zone.coverage is Coverage.TO_ASSESS
    assert "sheathing.2.material" in zone.differences


# 8. Flames above the rig at 43 min; the test was not stopped; no outcome is printed. Conclusion:
# not met. A report is no pass, and an assessment that leans on it falls too.

FLAMES_LATE = replace(ALL_MET, no_flames_above_rig=Answer3.NOT_MET, no_early_end=Answer3.MET)


def test_flames_above_the_rig_fail_a_test_that_nobody_stopped() -> None:
    test = make_test(criteria=FLAMES_LATE, printed_outcome=Outcome.NOT_TOLD)
    assert outcome_of(test) is Outcome.FAILED
    assert pair(judge(make_wall(), test)) == (Coverage.CONTRADICTED, False)


def test_a_report_without_an_outcome_is_no_pass() -> None:
    test = make_test(criteria=Criteria(), printed_outcome=Outcome.NOT_TOLD)
    assert judge(make_wall(), test).coverage is Coverage.TOO_LITTLE_KNOWN


def test_an_assessment_that_leans_on_a_failed_test_falls_with_it() -> None:
    failed = make_test(PIR, ref="burnt", criteria=FLAMES_LATE, printed_outcome=Outcome.NOT_TOLD)
    leaning = make_test(ref="assessment", leans_on=("burnt",))
    assert judge(make_wall(), make_test(ref="assessment")).coverage is Coverage.COVERED
    assert judge(make_wall(), leaning, failed).coverage is Coverage.NO_MATCHING_EVIDENCE


# 9. Barriers on the drawings; found too small and missing at the roof. Below 11 m. Total loss.
# Conclusion: a drawing is no sighting; low height does not clear a wall.


def test_barriers_on_a_drawing_are_no_sighting() -> None:
    seen = make_partial(complete(without=BARRIER_WORDS))
    drawn = make_survey(basis=Basis.DRAWING, ref="drawing")
    zone = judge(wall_of(seen, drawn), make_test())
    assert zone.coverage is Coverage.TOO_LITTLE_KNOWN
    assert set(BARRIERS) <= set(zone.unknowns)


def test_an_opening_up_that_finds_no_barriers_outranks_the_drawing() -> None:
    drawn = make_survey(basis=Basis.DRAWING, ref="drawing", on=date(2026, 2, 1))
    found = make_survey(complete(NO_BARRIERS))
    zone = judge(wall_of(drawn, found), make_test())
    assert zone.coverage is Coverage.TO_ASSESS
    assert set(BARRIERS) <= set(zone.differences)


def test_low_height_does_not_take_a_contradicted_wall_behind_a_taller_uncertain_one() -> None:
    contradicted = judge(make_wall(PIR), make_test(PIR, fails=True))
    to_assess = judge(make_wall({"wall.substrate": "masonry"}), make_test())
    low = Building("low", "low", heights=(HeightClaim(9.0, "measured", 0.1),))
    tall = Building("tall", "tall", heights=(HeightClaim(60.0, "measured", 0.1),))
    gaps = [Gap(tall, Zone("Z1", "tall"), to_assess), Gap(low, Zone("Z1", "low"), contradicted)]
    first, *_ = ranked(gaps, load_reference().order)
    assert first.gap.building.ref == "low"


# 12. Every component A2 or better; the system failed on internal temperature. Conclusion:
# component classes do not add up to a system pass, and a system pass does not follow from them.


def test_components_of_limited_combustibility_do_not_acquit_a_wall_whose_system_failed() -> None:
    described = complete(solid("fibre-cement", "A2-s1,d0"), {"membrane.1.class": "A2-s1,d0"})
    classes = [text for key, text in described.items() if key.endswith(".class")]
    assert all(reaction.is_limited_combustibility(name) for name in classes)
    failing = make_test(
        described, fails=True, criteria=replace(ALL_MET, internal_spread=Answer3.NOT_MET)
    )
    assert pair(judge(wall_of(make_survey(described)), failing)) == (Coverage.CONTRADICTED, False)


def test_components_of_limited_combustibility_are_no_cover_without_a_test() -> None:
    described = complete(solid("fibre-cement", "A2-s1,d0"), {"membrane.1.class": "A2-s1,d0"})
    assert judge(wall_of(make_survey(described))).coverage is Coverage.NO_MATCHING_EVIDENCE


def test_a_covered_wall_keeps_the_class_of_each_of_its_layers() -> None:
    wall = make_wall()
    assert judge(wall, make_test()).coverage is Coverage.COVERED
    facing_class = wall.as_resolved("facing.1.class")
    assert facing_class.keys == {"B-s1,d0"}  # type: ignore[union-attr]
    assert not reaction.is_limited_combustibility("B-s1,d0")


# 14. Tested on masonry (part 1); the building has a steel frame infill (part 2), or the other way
# round. Conclusion: not covered; an engineer may assess.


@pytest.mark.parametrize(
    ("part", "annex", "tested", "built"),
    [("1", "A", "masonry", "steel-frame"), ("2", "B", "steel-frame", "masonry")],
)
def test_a_test_on_another_substrate_is_for_an_engineer_to_assess(
    part: str, annex: str, tested: str, built: str
) -> None:
    test = make_test(
        {"wall.substrate": tested},
        part=part,
        classification=Classification("BR 135", "third edition (2013)", annex, "C-1"),
    )
    zone = judge(make_wall({"wall.substrate": built}), test)
    assert (zone.coverage, zone.differences) == (Coverage.TO_ASSESS, ("wall.substrate",))


# 16. Spandrel and window infill panels of unknown make beside a well-documented rainscreen.
# Conclusion: their own zone with their own build-up, however small.


def test_an_unknown_spandrel_beside_a_covered_rainscreen_governs_the_building() -> None:
    spandrel = make_partial({"facing.1.joint": "closed"}, basis=Basis.OUTSIDE)
    zones = judge_all([make_wall(), wall_of(spandrel)], make_test())
    assert [zone.coverage for zone in zones] == [Coverage.COVERED, Coverage.TOO_LITTLE_KNOWN]
    assert worst([pair(zone) for zone in zones]) == (Coverage.TOO_LITTLE_KNOWN, False)


# 17. Mineral-core panels; balcony decking of an unclassified wood-plastic board. Conclusion: the
# zone may be covered and the attachment is not; report both.


def test_a_covered_wall_and_its_uncovered_balcony_are_both_reported() -> None:
    decking = make_survey(
        {"facing.1.material": "wood-plastic composite boards", "insulation.1.material": "none"}
    )
    wall = make_wall(core("1"), STONE_WOOL)
    zones = judge_all([wall, wall_of(decking)], make_test(core("1"), STONE_WOOL))
    assert zones[0].coverage is Coverage.COVERED
    assert zones[1].coverage is Coverage.NO_MATCHING_EVIDENCE
    assert worst([pair(zone) for zone in zones]) == (Coverage.NO_MATCHING_EVIDENCE, False)


# 19. Height 17.77 m by one survey, 17.7 m by another, threshold 18 m; no tolerance stated.
# Conclusion: keep every value with method, date and tolerance; near a threshold say "either side".


def test_two_heights_just_below_a_threshold_without_tolerance_are_either_side() -> None:
    claims = (HeightClaim(17.77, "measured"), HeightClaim(17.7, "from drawings"))
    assert side_of(claims, AT_LEAST_18) is Side.EITHER_SIDE


def test_two_heights_just_below_a_threshold_with_a_narrow_tolerance_are_below() -> None:
    claims = (HeightClaim(17.77, "measured", 0.05), HeightClaim(17.7, "from drawings", 0.1))
    assert side_of(claims, AT_LEAST_18) is Side.BELOW


def test_a_height_either_side_of_a_threshold_is_ordered_as_if_above() -> None:
    band = band_of((HeightClaim(17.7, "from drawings"),), load_reference().order.bands)
    assert band is not None
    assert band.key == "18"


# 22. The sponsor of a passing report refuses consent, or nobody has seen it. Conclusion: "exists,
# not seen" never covers.


def test_a_report_whose_sponsor_refuses_never_covers() -> None:
    zone = judge(make_wall(), make_test(consent=Consent.REFUSED))
    assert (zone.coverage, zone.nearest) == (Coverage.NO_MATCHING_EVIDENCE, ())


@pytest.mark.parametrize(
    ("more", "gate"),
    [
        ({"holding": Holding.NOT_SEEN}, "the report was seen"),
        ({"holding": Holding.SUMMARY}, "the report was seen"),
        ({"consent": Consent.NOT_ASKED}, "the sponsor consents"),
        ({"consent": Consent.ASKED}, "the sponsor consents"),
    ],
)
def test_a_report_not_seen_or_not_released_leaves_the_zone_open(
    more: dict[str, object], gate: str
) -> None:
    zone = judge(make_wall(), make_test(**more))
    assert zone.coverage is Coverage.TOO_LITTLE_KNOWN
    assert zone.nearest[0].verdict is Verdict.OPEN
    assert zone.nearest[0].open_gates == (gate,)


# 24. One building: brick, zinc and another brick zone, PIR in one and glass wool in another.
# Conclusion: the worst zone governs; never average.


def test_the_worst_zone_of_a_mixed_building_governs() -> None:
    brick = solid("clay brick outer leaf")
    zinc = solid("solid zinc sheet")
    glass_wool = {"insulation.1.material": "glass wool"}
    walls = [make_wall(brick, glass_wool), make_wall(zinc, PIR), make_wall(brick, PIR)]
    tests = [
        make_test(brick, glass_wool, ref="brick"),
        make_test(zinc, PIR, ref="zinc"),
        make_test(brick, PIR, ref="brick and foam", fails=True),
    ]
    found = [pair(zone) for zone in judge_all(walls, *tests)]
    assert found == [
        (Coverage.COVERED, False),
        (Coverage.COVERED, False),
        (Coverage.CONTRADICTED, False),
    ]
    assert worst(found) == (Coverage.CONTRADICTED, False)

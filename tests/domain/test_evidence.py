"""What a test showed: the stricter of what is printed and what the criteria say."""

from dataclasses import replace
from itertools import product

import pytest

from portfolio.domain.evidence import (
    SUBSTRATE_OF_PART,
    Answer3,
    Criteria,
    Outcome,
    Standing,
    outcome_from_criteria,
    outcome_of,
    outcomes_disagree,
    reference_only,
)
from portfolio.domain.walls import BuildUp
from portfolio.reference.loader import load_reference
from tests.domain.factories import ALL_MET, make_test

PASSED, FAILED, NOT_TOLD = Outcome.PASSED, Outcome.FAILED, Outcome.NOT_TOLD
CRITERIA_BY_OUTCOME = {
    PASSED: ALL_MET,
    FAILED: replace(ALL_MET, internal_spread=Answer3.NOT_MET),
    NOT_TOLD: replace(ALL_MET, internal_spread=Answer3.UNKNOWN),
}
NAMES = (
    "external_spread",
    "internal_spread",
    "burn_through",
    "no_flames_above_rig",
    "no_early_end",
)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(
    ("answer", "outcome"), [(Answer3.NOT_MET, FAILED), (Answer3.UNKNOWN, NOT_TOLD)]
)
def test_one_criterion_decides_against_a_pass(name: str, answer: Answer3, outcome: Outcome) -> None:
    criteria = replace(ALL_MET, **{name: answer})
    assert outcome_from_criteria(criteria) is outcome


def test_every_criterion_met_is_a_pass() -> None:
    assert outcome_from_criteria(ALL_MET) is PASSED


def test_a_criterion_not_met_fails_whatever_else_is_unknown() -> None:
    criteria = replace(Criteria(), no_flames_above_rig=Answer3.NOT_MET)
    assert outcome_from_criteria(criteria) is FAILED


def test_burn_through_is_left_out_where_it_does_not_apply() -> None:
    criteria = replace(ALL_MET, burn_through=None)
    assert "burn-through" not in criteria.answers()
    assert outcome_from_criteria(criteria) is PASSED


@pytest.mark.parametrize(
    ("printed", "by_criteria", "counts", "why"),
    [
        (PASSED, PASSED, PASSED, "they agree"),
        (PASSED, FAILED, FAILED, "a printed pass does not heal a criterion not met"),
        (FAILED, PASSED, FAILED, "a printed fail stands"),
        (FAILED, NOT_TOLD, FAILED, "a printed fail stands"),
        (NOT_TOLD, FAILED, FAILED, "an outcome follows from the criteria"),
        (NOT_TOLD, PASSED, PASSED, "an outcome follows from the criteria"),
        (PASSED, NOT_TOLD, PASSED, "printed; the gate asks for the criteria"),
        (NOT_TOLD, NOT_TOLD, NOT_TOLD, "a report is no pass"),
    ],
)
def test_the_stricter_outcome_counts(
    printed: Outcome, by_criteria: Outcome, counts: Outcome, why: str
) -> None:
    test = make_test(criteria=CRITERIA_BY_OUTCOME[by_criteria], printed_outcome=printed)
    assert outcome_of(test) is counts, why


def test_only_an_outright_contradiction_is_a_disagreement() -> None:
    disagreeing = {
        (printed, by_criteria)
        for printed, by_criteria in product(Outcome, repeat=2)
        if outcomes_disagree(
            make_test(criteria=CRITERIA_BY_OUTCOME[by_criteria], printed_outcome=printed)
        )
    }
    assert disagreeing == {(PASSED, FAILED), (FAILED, PASSED)}


@pytest.mark.parametrize("fails", [False, True])
def test_a_test_shown_by_reference_only_keeps_its_outcome_and_tells_nothing_of_its_wall(
    fails: bool,
) -> None:
    test = make_test(fails=fails, printed_outcome=Outcome.NOT_TOLD, standing=Standing.DISPUTED)
    shown = reference_only(test)
    assert outcome_of(shown) is outcome_of(test)
    assert (shown.ref, shown.standing, shown.consent) == (test.ref, test.standing, test.consent)
    assert shown.build_up == BuildUp()
    assert shown.title != test.title


@pytest.mark.parametrize(("part", "substrate"), [("1", "masonry"), ("2", "steel-frame")])
def test_each_part_of_the_test_standard_has_its_substrate(part: str, substrate: str) -> None:
    assert SUBSTRATE_OF_PART["BS 8414", part] == substrate
    assert substrate in load_reference().vocabulary["substrate"].singles


def test_burn_through_is_never_beside_the_point_on_a_frame() -> None:
    met = Answer3.MET
    told = Criteria(met, met, None, met, met)
    parts = {part: make_test(part=part, criteria=told) for part in ("1", "2")}
    found = {part: outcome_from_criteria(test.criteria) for part, test in parts.items()}
    assert found == {"1": Outcome.PASSED, "2": Outcome.NOT_TOLD}

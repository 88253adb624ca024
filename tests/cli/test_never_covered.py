"""One thing is not as it should be, and the zone is not covered; one thing burnt, and it is told.

Each case is handed in as a workbook and read back with `coverage --json`, as a user would.
"""

from collections.abc import Callable
from typing import Any

import pytest
from click.testing import Result

from tests.cli.walls import BURNT, FAILED, TESTED, Estate, changed

Ask = Callable[..., Any]
TakeIn = Callable[[Estate], Result]
UNCLASSIFIED = {"Classification document": None, "Classification edition": None}
UNRECORDED = dict.fromkeys(
    (
        "External spread",
        "Internal spread",
        "Burn-through",
        "No flames above rig",
        "Not ended early",
        "Printed outcome",
    )
)


def _zone(wall: Any, **survey: Any) -> Estate:
    found = Estate()
    found.building("B")
    found.zone("B", "Z")
    found.survey("B", "Z", "S", wall, **survey)
    return found


@pytest.fixture
def judge(take_in: TakeIn, ask: Ask) -> Callable[[Estate], dict[str, Any]]:
    """The coverage of the only zone of an estate."""

    def judging(found: Estate) -> dict[str, Any]:
        take_in(found)
        (answer,) = ask("coverage")
        return dict(answer)

    return judging


Judged = Callable[[Estate], dict[str, Any]]


def test_the_wall_as_tested_is_covered(judge: Judged) -> None:
    found = _zone(TESTED)
    found.test("T", TESTED)
    assert judge(found)["coverage"] == "covered"


@pytest.mark.parametrize(
    "spoilt",
    [
        {"Edition": "2020"},
        {"Edition": "2005"},
        {"Edition": None},
        {"Edition": "unknown"},
        {"Part": None},
        {"Standard": "another"},
        {"Standing": "withdrawn"},
        {"Standing": "superseded"},
        {"Standing": "disputed"},
        {"Consent": "refused"},
        {"Consent": "asked"},
        {"Consent": "not-asked"},
        {"Consent": None},
        {"Holding": "summary"},
        {"Holding": "not-seen"},
        {"Holding": None},
        {"External spread": "unknown"},
        {"Internal spread": None},
        {"No flames above rig": None},
        {"Not ended early": "unknown"},
        {"Burn-through": "unknown"},
        UNCLASSIFIED,
        {"Classification edition": None},
        {"Classification annex": "B"},
        {"All layers listed": "no"},
        {"Leans on": "T-gone"},
    ],
    ids=str,
)
def test_a_test_with_one_thing_amiss_never_covers(judge: Judged, spoilt: dict[str, Any]) -> None:
    found = _zone(TESTED)
    found.test("T", TESTED, **spoilt)
    if "Leans on" in spoilt:
        found.test("T-gone", BURNT, Standing="withdrawn")
    assert judge(found)["coverage"] not in ("covered", "contradicted")


@pytest.mark.parametrize(
    ("role", "unknown"),
    [
        ("lining", {"product": None}),
        ("insulation", {"product": "unknown"}),
        ("insulation", {"product": "tbc"}),
        ("facing", {"product": "?"}),
        ("insulation", {"material": "mineral-wool"}),
        ("insulation", {"material": "stone-wool|glass-wool"}),
        ("insulation", {"thickness": "100 to 140"}),
        ("barrier-horizontal", {"material": "fitted-type-not-known"}),
        ("facing", {"calorific_value": None}),
        ("facing", {"class": None}),
        ("facing", {"joint": None}),
        ("finish", {"material": "unknown"}),
    ],
    ids=str,
)
def test_unknown_on_both_sides_is_never_the_same(
    judge: Judged, role: str, unknown: dict[str, Any]
) -> None:
    wall = changed(TESTED, role, **unknown)
    found = _zone(wall)
    found.test("T", wall)
    assert judge(found)["coverage"] == "too-little-known"


@pytest.mark.parametrize("basis", ["certificate", "drawing", "outside", "assumption"])
def test_what_was_not_opened_up_is_not_covered(judge: Judged, basis: str) -> None:
    found = _zone(TESTED, Basis=basis)
    found.test("T", TESTED)
    assert judge(found)["coverage"] == "too-little-known"


def test_a_survey_that_may_have_left_layers_out_is_not_covered(judge: Judged) -> None:
    found = _zone(TESTED, **{"All layers listed": "no"})
    found.test("T", TESTED)
    assert judge(found)["coverage"] == "too-little-known"


@pytest.mark.parametrize("day", ["2020-01-01", "2026-03-01", "2026-06-01"])
@pytest.mark.parametrize("basis", ["opening-up", "laboratory"])
def test_a_conflict_is_not_covered_whichever_survey_is_later(
    judge: Judged, day: str, basis: str
) -> None:
    found = _zone(TESTED)
    other = changed(TESTED, "insulation", material="glass-wool")
    found.survey("B", "Z", "S-2", other, Basis=basis, **{"Survey date": day})
    found.test("T", TESTED)
    answer = judge(found)
    assert answer["coverage"] == "too-little-known"
    assert answer["conflicts"] == ["insulation.1.material"]


@pytest.mark.parametrize("jurisdiction", [None, "unknown", "Elsewhere"])
def test_where_the_route_is_not_recorded_nothing_is_covered(
    take_in: TakeIn, ask: Ask, jurisdiction: str | None
) -> None:
    found = Estate()
    found.building("B", Jurisdiction=jurisdiction)
    found.zone("B", "Z")
    found.survey("B", "Z", "S", TESTED)
    found.test("T", TESTED)
    take_in(found)
    assert [row["coverage"] for row in ask("coverage")] == ["too-little-known"]


@pytest.mark.parametrize(
    "failed",
    [
        FAILED,
        FAILED | {"Standing": "disputed"},
        FAILED | {"Consent": "refused"},
        FAILED | {"Holding": "not-seen"},
        FAILED | {"Edition": "2020"},
        FAILED | UNCLASSIFIED,
        {"Burn-through": "not-met"},
        {"Printed outcome": "failed"},
        {"Not ended early": "not-met", "Printed outcome": "passed"},
        UNRECORDED | {"Printed outcome": "failed"},
        UNRECORDED | {"Internal spread": "not-met"},
    ],
    ids=str,
)
@pytest.mark.parametrize("basis", ["opening-up", "assumption"])
def test_a_failing_test_of_the_same_wall_is_never_missed(
    judge: Judged, failed: dict[str, Any], basis: str
) -> None:
    found = _zone(BURNT, Basis=basis)
    found.test("T-pass", BURNT)
    found.test("T-fail", BURNT, **failed)
    answer = judge(found)
    assert (answer["coverage"], answer["tests"]) == ("contradicted", ["T-fail"])


def test_a_worse_wall_than_a_failing_one_is_contradicted_by_inference(judge: Judged) -> None:
    found = _zone(changed(BURNT, "insulation", material="eps", **{"class": "E"}))
    found.test("T-fail", BURNT, **FAILED)
    answer = judge(found)
    assert (answer["coverage"], answer["by_inference"]) == ("contradicted", True)

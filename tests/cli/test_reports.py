"""What the reading commands answer: the same for people and for scripts."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from portfolio.domain.caution import CAUTION
from portfolio.domain.coverage import Coverage
from tests.cli.conftest import Run
from tests.cli.walls import ANSWERS, BURNT, FAILED, TESTED, Estate, changed, estate

Ask = Callable[..., Any]
TakeIn = Callable[[Estate], Result]
COVERAGE = {"building": str, "zone": str, "coverage": str, "by_inference": bool}
COVERAGE |= {"covered_too": bool, "tests": list, "conflicts": list}
GAPS = COVERAGE | {"rank": int, "reasons": list, "top_floor_height_m": float, "people": int}
GAPS |= {"differences": list, "unknowns": list}
COMPARISON = {"test": str, "parameter": str, "zone_value": str, "test_value": str, "answer": str}
COMPARISON |= {"rule": str, "source": str}
WORDS = {
    "covered",
    "contradicted",
    "to-assess",
    "too-little-known",
    "no-matching-evidence",
}


def _check_fields(found: dict[str, Any], fields: dict[str, type]) -> None:
    assert {key: type(found[key]) for key in fields} == fields


def _words(text: str) -> str:
    return " ".join(text.split())


def test_the_words_for_coverage_are_these_five() -> None:
    assert {state.value for state in Coverage} == WORDS


@pytest.mark.usefixtures("filled")
def test_coverage_answers_every_zone_as_known(ask: Ask) -> None:
    found = ask("coverage")
    assert {(row["building"], row["zone"]): row["coverage"] for row in found} == ANSWERS
    for row in found:
        _check_fields(row, COVERAGE)
    by_zone = {row["zone"]: row for row in found}
    assert by_zone["North"]["tests"] == ["T-pass"]
    assert by_zone["South"]["tests"] == ["T-fail"]


@pytest.mark.usefixtures("filled")
def test_gaps_leave_out_what_is_covered_and_say_what_placed_the_rest(ask: Ask) -> None:
    found = ask("gaps")
    assert [row["rank"] for row in found] == list(range(1, len(ANSWERS)))
    assert ("B-01", "North") not in {(row["building"], row["zone"]) for row in found}
    assert found[0]["zone"] == "South"
    for row in found:
        _check_fields(row, GAPS)
        assert row["reasons"]
    by_zone = {row["zone"]: row for row in found}
    assert by_zone["E"]["differences"] == ["insulation.1.thickness"]
    assert by_zone["N"]["unknowns"] == ["barrier-horizontal.1.product"]


@pytest.mark.usefixtures("filled")
def test_gaps_for_people_have_the_reasons_and_the_caution(run: Run) -> None:
    result = run("gaps")
    assert result.exit_code == 0
    assert "1  B-01/South: Coverage: contradicted by a failing test" in result.stdout
    assert _words(CAUTION) in _words(result.stdout)


@pytest.mark.usefixtures("filled")
def test_the_first_gaps_are_the_beginning_of_all(ask: Ask, run: Run) -> None:
    assert ask("gaps", "--first", "2") == ask("gaps")[:2]
    assert run("gaps", "--first", "0").exit_code == 2


@pytest.mark.usefixtures("filled")
def test_gaps_come_in_the_order_asked_for_with_where_else_they_could_stand(
    ask: Ask, run: Run
) -> None:
    found = ask("gaps", "--order", "victoria-guideline-15")
    assert [row["rank"] for row in found] == list(range(1, len(found) + 1))
    assert {row["zone"] for row in found} == {row["zone"] for row in ask("gaps")}
    for row in found:
        assert row["could_be_from"] <= row["rank"] <= row["could_be_to"]
        assert row["reasons"][0].startswith("Rating by apartments in reach: ")
    told = run("gaps", "--order", "call-in-england-2024").stdout
    assert f"1st of {len(found)}; " in " ".join(told.split())


@pytest.mark.usefixtures("filled")
def test_an_order_that_there_is_not_is_refused_with_those_there_are(run: Run) -> None:
    result = run("gaps", "--order", "none")
    assert result.exit_code == 1
    assert "victoria-guideline-15" in result.stderr


@pytest.mark.usefixtures("filled")
def test_explain_compares_every_parameter_with_every_test(ask: Ask) -> None:
    found = ask("explain", "B-01/North")
    _check_fields(found, {"building": str, "zone": str, "coverage": str, "by_inference": bool})
    assert (found["building"], found["zone"], found["coverage"]) == ("B-01", "North", "covered")
    for comparison in found["comparisons"]:
        _check_fields(comparison, COMPARISON)
        assert comparison["answer"] in {"same", "allowed", "differs", "unknown"}
    answers = {
        test: {row["answer"] for row in found["comparisons"] if row["test"] == test}
        for test in ("T-pass", "T-fail")
    }
    assert answers == {"T-pass": {"same"}, "T-fail": {"same", "differs"}}


def test_explain_names_the_rule_that_allows(take_in: TakeIn, ask: Ask) -> None:
    found = Estate()
    found.building("B")
    found.zone("B", "Z")
    found.survey("B", "Z", "S", changed(TESTED, "insulation", thickness=121))
    found.test("T", TESTED)
    take_in(found)
    answer = ask("explain", "B/Z")
    assert answer["coverage"] == "covered"
    allowed = [row for row in answer["comparisons"] if row["answer"] == "allowed"]
    assert [row["parameter"] for row in allowed] == ["insulation.1.thickness"]
    assert "as-tested-insulation-thickness" in allowed[0]["rule"]
    assert allowed[0]["source"]


@pytest.mark.usefixtures("filled")
@pytest.mark.parametrize(
    ("zone", "first"),
    [
        ("B-01/North", "B-01/North: covered; resting on: T-pass"),
        ("B-01/South", "B-01/South: contradicted; resting on: T-fail"),
        ("B-02/S", "B-02/S: no-matching-evidence; nearest: T-pass"),
    ],
)
def test_explain_for_people_never_calls_a_near_test_a_basis(
    run: Run, zone: str, first: str
) -> None:
    result = run("explain", zone)
    assert (result.exit_code, result.stdout.splitlines()[0]) == (0, first)
    assert _words(CAUTION) in _words(result.stdout)


def test_explain_names_the_failing_test_that_one_thing_alone_keeps_away(
    take_in: TakeIn, ask: Ask, run: Run
) -> None:
    found = Estate()
    found.building("B")
    found.zone("B", "Z")
    found.survey("B", "Z", "S", TESTED)
    worse = changed(TESTED, "facing", core_category="3", calorific_value=40)
    found.test("T-1", worse, **FAILED)
    take_in(found)
    [close] = ask("explain", "B/Z")["close_failures"]
    assert (close["test"], close["parameter"], close["apart"]) == (
        "T-1",
        "facing.1.core_category",
        "milder",
    )
    assert "A wall that failed is close. Test T-1 failed" in run("explain", "B/Z").stdout


def test_contradicted_and_covered_are_both_said(take_in: TakeIn, ask: Ask, run: Run) -> None:
    found = Estate()
    found.building("B")
    found.zone("B", "Z")
    found.survey("B", "Z", "S", TESTED)
    found.test("T-1", TESTED)
    found.test("T-2", TESTED, **FAILED)
    take_in(found)
    answer = ask("coverage")[0]
    assert (answer["coverage"], answer["covered_too"], answer["tests"]) == (
        "contradicted",
        True,
        ["T-2"],
    )
    assert "contradicted (covered too)" in run("coverage").stdout
    assert "contradicted, covered too; resting on: T-2" in run("explain", "B/Z").stdout


def test_a_conflict_between_surveys_is_told(take_in: TakeIn, ask: Ask, run: Run) -> None:
    found = Estate()
    found.building("B")
    found.zone("B", "Z")
    found.survey("B", "Z", "S-1", TESTED)
    found.survey("B", "Z", "S-2", changed(TESTED, "insulation", material="glass-wool"))
    found.test("T", TESTED)
    take_in(found)
    answer = ask("coverage")[0]
    assert (answer["coverage"], answer["conflicts"]) == (
        "too-little-known",
        ["insulation.1.material"],
    )
    assert "contradict each other on: insulation.1.material" in run("explain", "B/Z").stdout


@pytest.mark.usefixtures("filled")
def test_demand_tells_what_one_test_would_have_to_contain(ask: Ask, run: Run) -> None:
    found = ask("demand")
    assert found
    _check_fields(found[0], {"wall": dict, "zones": int, "buildings": int, "to_contain": list})
    assert ask("demand", "--first", "1") == found[:1]
    result = run("demand")
    assert result.exit_code == 0
    assert _words(CAUTION) in _words(result.stdout)


@pytest.mark.parametrize("command", ["coverage", "gaps"])
def test_an_empty_database_does_not_look_like_an_absence_of_gaps(
    run: Run, ask: Ask, command: str
) -> None:
    assert ask(command) == []
    result = run(command)
    assert (result.exit_code, "No zone is recorded" in result.stdout) == (0, True)


def test_no_gap_is_said_in_words(take_in: TakeIn, run: Run, ask: Ask) -> None:
    found = Estate()
    found.building("B")
    found.zone("B", "Z")
    found.survey("B", "Z", "S", TESTED)
    found.test("T", TESTED)
    take_in(found)
    assert ask("gaps") == []
    result = run("gaps")
    assert "No gap: every zone of 1 is covered." in result.stdout
    assert _words(CAUTION) in _words(result.stdout)


@pytest.mark.usefixtures("filled")
@pytest.mark.parametrize(
    "words",
    [
        ("coverage", "--owner", "OWNN"),
        ("gaps", "--owner", "OWNN"),
        ("explain", "B-01/North", "--owner", "OWNN"),
        ("explain", "B-01/Nowhere"),
        ("explain", "B-99/North"),
        ("pack", "B-99"),
        ("pack", "B-01", "--owner", "OWNN"),
        ("coverage", "--as", "nobody@example.invalid"),
        ("gaps", "--as", "nobody@example.invalid"),
        ("explain", "B-01/North", "--as", "nobody@example.invalid"),
        ("demand", "--as", "nobody@example.invalid"),
        ("pack", "B-01", "--as", "nobody@example.invalid"),
    ],
    ids=" ".join,
)
@pytest.mark.parametrize("json", [(), ("--json",)], ids=["people", "script"])
def test_a_mistyped_name_is_an_error_and_never_an_empty_answer(
    run: Run, words: tuple[str, ...], json: tuple[str, ...]
) -> None:
    result = run(*words, *json)
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr.startswith("There is no ")


@pytest.mark.usefixtures("filled")
@pytest.mark.parametrize("command", ["coverage", "gaps"])
def test_an_owner_is_kept_to_its_own(take_in: TakeIn, ask: Ask, command: str) -> None:
    other = Estate("OTHER")
    other.building("B-01")
    other.zone("B-01", "North")
    take_in(other)
    assert {row["owner"] for row in ask(command, "--owner", "OTHER")} == {"OTHER"}
    # the test of the first owner was not shared
    assert ask("explain", "B-01/North", "--owner", "OTHER")["comparisons"] == []


@pytest.mark.usefixtures("filled")
def test_two_owners_with_the_same_names_must_be_told_apart(take_in: TakeIn, run: Run) -> None:
    other = Estate("OTHER")
    other.building("B-01")
    other.zone("B-01", "North")
    take_in(other)
    result = run("explain", "B-01/North")
    assert result.exit_code == 1
    assert "name the owner" in result.stderr


def test_a_name_that_splits_in_two_ways_is_not_guessed(take_in: TakeIn, run: Run) -> None:
    found = Estate()
    for building, zone in (("A", "B/C"), ("A/B", "C")):
        found.building(building)
        found.zone(building, zone)
    take_in(found)
    result = run("explain", "A/B/C")
    assert result.exit_code == 1
    assert "may mean more than one zone" in result.stderr


@pytest.mark.parametrize("zone", ["B-01", "B-01/", "/North", "/"])
def test_half_a_zone_is_usage(run: Run, zone: str) -> None:
    assert run("explain", zone).exit_code == 2


@pytest.mark.usefixtures("filled")
def test_what_is_withdrawn_stops_covering_at_once(take_in: TakeIn, ask: Ask, folder: Path) -> None:
    later = Estate()
    why = {"Standing": "withdrawn", "Standing note": "by its sponsor"}
    later.rows = {"Tests": [{"Held by": "OWN", "Test": "T-pass"} | why]}
    take_in(later)
    assert "covered" not in {row["coverage"] for row in ask("coverage")}


@pytest.mark.usefixtures("filled")
def test_a_failing_test_that_comes_later_contradicts_at_once(take_in: TakeIn, ask: Ask) -> None:
    later = Estate()
    later.rows = {}
    later.test("T-later", TESTED, **FAILED)
    take_in(later)
    by_zone = {row["zone"]: row for row in ask("coverage")}
    assert by_zone["North"]["coverage"] == "contradicted"
    assert by_zone["North"]["tests"] == ["T-later"]


def test_the_estate_tells_a_burnt_wall_from_a_tested_one() -> None:
    assert estate().rows["Tests"][1]["Test"] == "T-fail"
    assert BURNT != TESTED


@pytest.mark.usefixtures("filled")
def test_two_zones_are_compared_line_by_line(ask: Ask, run: Run) -> None:
    found = ask("compare", "B-01/North", "B-02/E")
    assert (found["left"], found["right"]) == ("B-01/North", "B-02/E")
    first = found["comparisons"][0]
    assert (first["parameter"], first["answer"]) == ("insulation.1.thickness", "differs")
    assert first["left_source"].startswith("opening-up, ")
    assert {row["answer"] for row in found["comparisons"][1:]} == {"same"}
    told = run("compare", "B-01/North", "B-02/E")
    assert _words(CAUTION) in _words(told.stdout)
    assert "differing in 1, of which none decisive" in told.stdout


@pytest.mark.usefixtures("filled")
def test_a_test_is_compared_with_a_zone_and_with_a_test(ask: Ask) -> None:
    there = ask("compare", "B-01/North", "test:T-pass")["comparisons"]
    back = ask("compare", "test:T-pass", "B-01/North")["comparisons"]
    assert [row["answer"] for row in there] == [row["answer"] for row in back]
    assert there[0]["right_source"] == back[0]["left_source"] == "the record of test T-pass"
    tests = ask("compare", "test:T-pass", "test:T-fail")["comparisons"]
    assert tests[0]["answer"] == "differs"
    assert tests[0]["decisive"] is True


@pytest.mark.usefixtures("filled")
@pytest.mark.parametrize("name", ["B-01/nowhere", "test:none", "B-01"])
def test_what_is_not_there_is_not_compared(run: Run, name: str) -> None:
    assert run("compare", "B-01/North", name).exit_code == 1


@pytest.mark.usefixtures("filled")
def test_a_zone_is_told_what_would_settle_it(ask: Ask, run: Run) -> None:
    found = ask("explain", "B-02/N")
    assert found["settling"] == [
        {
            "test": "T-pass",
            "outcome_if_as_tested": "covered",
            "facts": [
                {
                    "parameter": "barrier-horizontal.1.product",
                    "way": "papers",
                    "where": "in the records of the building",
                }
            ],
        }
    ]
    assert found["found_otherwise"] == []
    assert "Could be covered, if found as in test T-pass:" in run("explain", "B-02/N").stdout
    assert ask("explain", "B-01/North")["settling"] == []

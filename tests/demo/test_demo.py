"""The demo portfolio shows what it promises, and nothing in it looks like a real product."""

import csv
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from portfolio.domain.coverage import Coverage
from portfolio.domain.demand import WallGap, demand
from portfolio.domain.evidence import Answer3, Outcome, outcome_of, outcomes_disagree
from portfolio.domain.gates import together
from portfolio.domain.heights import Operator, Side, Threshold, estimate_from_storeys, side_of
from portfolio.domain.nearest import Verdict
from portfolio.domain.priorities import Gap
from portfolio.sheets.layout import SHEETS
from tests.demo.judged import ENGLAND, FOLDER, drafts, judged, library

# Invented identities say what a thing is, and a letter with a number.
IDENTITY = re.compile(
    r"(barrier|block|board|boards|brick|coating|finish|fixing|frame|laminate|membrane|mortar|pane"
    r"|panel|plaster|rail|render|sheet|slab|slip|stone|tie|tile) type [A-Z]-\d+"
)
ORGANISATIONS = {
    "Hathen Vale Homes",
    "Caddersley City Council Housing",
    "Tollenwick Student Residences",
    "Hathenshire Hospitals and Care Trust",
    "Marrowhithe Façade Consultants",
    "Ossenby Fire Laboratory",
}
ELEVEN = Threshold(11.0, Operator.AT_LEAST)
EIGHTEEN = Threshold(18.0, Operator.AT_LEAST)


def _rows(name: str) -> list[dict[str, str]]:
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _coverage(zone: str) -> Coverage:
    return judged()[zone].coverage.coverage


def _gates(owner: str, test: str) -> dict[str, Answer3]:
    return {gate.name: gate.answer for gate in library(owner).gates[ENGLAND][test]}


def test_make_writes_the_committed_files_again_byte_for_byte(tmp_path: Path) -> None:
    command = [sys.executable, "-B", str(FOLDER / "make.py"), str(tmp_path)]
    subprocess.run(command, check=True, timeout=60)
    written = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert written == {path.name: path.read_bytes() for path in FOLDER.glob("*.csv")}


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.key)
def test_each_file_has_the_columns_of_its_sheet(sheet) -> None:
    assert list(_rows(sheet.key)[0]) == [column.key for column in sheet.columns]


def test_the_files_are_read_without_a_problem() -> None:
    assert [problem.message for problem in drafts().problems] == []


def test_the_portfolio_is_as_large_as_promised() -> None:
    found = drafts()
    invented = [test for test in found.tests if not test.test.startswith("G-")]
    counts = len(found.organisations), len(found.buildings), len(invented), len(found.tests)
    assert counts == (6, 40, 30, 37)
    assert 240 <= len(found.zones) <= 260


def test_every_coverage_occurs_and_most_zones_are_too_little_known() -> None:
    zones = judged().values()
    counts = Counter((zone.coverage.coverage, zone.coverage.by_inference) for zone in zones)
    shares = {
        (Coverage.COVERED, False): (0.05, 0.12),
        (Coverage.CONTRADICTED, False): (0.08, 0.16),
        (Coverage.CONTRADICTED, True): (0.04, 0.09),
        (Coverage.TO_ASSESS, False): (0.05, 0.11),
        (Coverage.NO_MATCHING_EVIDENCE, False): (0.07, 0.13),
        (Coverage.TOO_LITTLE_KNOWN, False): (0.50, 0.65),
    }
    assert set(counts) == set(shares)
    share_of = {key: count / len(zones) for key, count in counts.items()}
    assert [key for key, (low, high) in shares.items() if not low <= share_of[key] <= high] == []


def test_some_zones_are_covered_within_measuring_tolerance() -> None:
    allowed = judged()["HV-01 S-main"].coverage.nearest[0].allowed
    assert _coverage("HV-01 S-main") is Coverage.COVERED
    assert "insulation.1.thickness" in [parameter for parameter, _ in allowed]


def test_one_zone_is_contradicted_and_covered_too() -> None:
    found = [key for key, zone in judged().items() if zone.coverage.covered_too]
    assert found == ["HV-11 N-main"]


def test_openings_that_disagree_are_conflicts_and_block_cover() -> None:
    in_conflict = {key for key, zone in judged().items() if zone.coverage.conflicts}
    assert in_conflict == {"HV-05 W-main", "TS-05 E-main"}
    assert {_coverage(key) for key in in_conflict} == {Coverage.TOO_LITTLE_KNOWN}


def test_barriers_drawn_but_not_found_do_not_acquit() -> None:
    assert judged()["HV-02 N-main"].coverage.against == ("T-208",)


def test_a_known_wall_without_a_recorded_jurisdiction_is_not_covered() -> None:
    nearest = judged()["TS-07 N-main"].coverage.nearest[0]
    assert (nearest.unknown, nearest.open_gates) == ((), ("this route is accepted here",))


def test_heights_lie_either_side_of_a_threshold() -> None:
    buildings = {zone.building.ref: zone.building for zone in judged().values()}
    assert side_of(buildings["HV-06"].height_claims, EIGHTEEN) is Side.EITHER_SIDE
    assert side_of(buildings["HV-02"].height_claims, ELEVEN) is Side.ABOVE
    assert estimate_from_storeys(4).metres < ELEVEN.metres
    assert side_of(buildings["HV-10"].height_claims, ELEVEN) is Side.UNKNOWN


def test_a_test_of_2020_cannot_be_classified_to_2013() -> None:
    shut = [name for name, answer in _gates("HVH", "T-108").items() if answer is Answer3.NOT_MET]
    assert shut == ["edition and classification pair up"]


def test_an_assessment_falls_with_the_test_it_leans_on() -> None:
    assert _gates("TSR", "A-305")["what it leans on stands"] is Answer3.NOT_MET
    assert _gates("TSR", "T-203")["the evidence stands"] is Answer3.NOT_MET
    assert together(library("TSR").gates[ENGLAND]["T-204"]) is Answer3.MET


def test_flames_above_the_rig_and_a_criterion_not_met_are_no_pass() -> None:
    tests = {test.ref: test for test in library("HVH").tests}
    assert tests["T-201"].printed_outcome is Outcome.NOT_TOLD
    assert outcome_of(tests["T-201"]) is Outcome.FAILED
    assert outcomes_disagree(tests["T-202"])


@pytest.mark.parametrize(
    ("owner", "test", "gate", "answer"),
    [
        ("HCT", "T-301", "the sponsor consents", Answer3.NOT_MET),
        ("HVH", "T-302", "the sponsor consents", Answer3.UNKNOWN),
        ("TSR", "T-303", "the report was seen", Answer3.UNKNOWN),
        ("CCH", "T-304", "the report was seen", Answer3.UNKNOWN),
        ("CCH", "G-4", "the report was seen", Answer3.UNKNOWN),
        ("CCH", "T-205", "the evidence stands", Answer3.NOT_MET),
        ("HVH", "T-206", "the evidence stands", Answer3.NOT_MET),
    ],
)
def test_evidence_out_of_reach_never_covers(
    owner: str, test: str, gate: str, answer: Answer3
) -> None:
    assert _gates(owner, test)[gate] is answer
    covering = {
        verdict.test
        for zone in judged().values()
        for verdict in zone.coverage.nearest
        if verdict.verdict is Verdict.COVERS
    }
    assert test not in covering


def test_gaps_recur_across_owners() -> None:
    gaps = [
        WallGap(Gap(zone.building, zone.zone, zone.coverage), zone.wall)
        for zone in judged().values()
        if zone.coverage.coverage.is_gap
    ]
    recurring = [
        group
        for group in demand(gaps)
        if len(group.owners) > 1 and len(group.unknown_of_signature) <= 3
    ]
    assert len(recurring) >= 5


def test_no_product_looks_like_one_on_the_market() -> None:
    rows = [*_rows("layers"), *_rows("tested_layers")]
    products = {row["product"] for row in rows} - {""}
    assert [product for product in sorted(products) if not IDENTITY.fullmatch(product)] == []


def test_no_organisation_but_the_invented_ones_is_named() -> None:
    assert {row["name"] for row in _rows("organisations")} == ORGANISATIONS
    laboratories = {row["laboratory"] for row in _rows("tests")}
    assert laboratories == {"Ossenby Fire Laboratory", ""}


def test_the_readme_says_that_everything_is_invented() -> None:
    assert "**invented**" in (FOLDER / "README.md").read_text("utf-8")

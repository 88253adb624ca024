"""Writes the demo portfolio: everything in it is invented, and the same each time.

Run as `python seed_demo/make.py`; the CSV files are written beside this file, or into the folder
that is given.
"""

from __future__ import annotations

import csv
import random
import sys
from datetime import date, timedelta
from pathlib import Path

from estate import BUILDINGS, FACES, HEIGHTS, JURISDICTION, ORGANISATIONS, PARTS, ZONES
from evidence import ANSWERS, BR_135, TESTS, Test
from knowledge import KNOWLEDGE, Look, measured
from walls import WALLS, Cells, Wall
from works import WORKS

HERE = Path(__file__).resolve().parent
SEED = "hathenshire"
OWNER_OF = {"HV": "HVH", "CC": "CCH", "TS": "TSR", "HC": "HCT"}
AREA_UNKNOWN = 0.15
"""How many zones have no recorded area, roughly."""
SET_BACK = {
    (plan["building"], face)
    for plan in ZONES
    if plan["part"] == "top"
    for face in plan["faces"].split()
}
"""Faces whose main wall ends below a set-back top storey."""

HEADERS = {
    "organisations": "organisation name kind",
    "buildings": "owner building name address jurisdiction use storeys top_floor_height_m "
    "height_tolerance_m height_method height_date height_source homes people evacuation "
    "sprinklers note",
    "heights": "owner building top_floor_height_m height_tolerance_m height_method height_date "
    "height_source",
    "zones": "owner building zone description face from_storey to_storey area_m2 attachment work "
    "work_counted_on",
    "layers": "owner building zone survey basis survey_date survey_source system_family substrate "
    "all_layers_listed layer_no role material class thickness_mm spacing_mm core_category "
    "calorific_value_mj_kg joint joint_width_mm product layer_note",
    "tests": "held_by test title kind author laboratory sponsor standard part edition tested_on "
    "run_seconds report_ref report_issue report_on "
    "external_spread internal_spread burn_through no_flames_above_rig no_early_end observations "
    "printed_outcome class_document class_edition class_annex class_report standing "
    "standing_note holding consent consent_given_to leans_on system_family substrate "
    "all_layers_listed source",
    "works": "owner building works works_title works_zones decided decided_reason works_status "
    "works_status_date built_on programme responsible funding_route currency funding "
    "cost_estimate cost_outturn due_on due_reason residents_told_on residents_next_on works_note",
    "tested_layers": "held_by test layer_no role material class thickness_mm spacing_mm "
    "core_category calorific_value_mj_kg joint joint_width_mm product layer_note",
}


def main(folder: Path = HERE) -> None:
    zones = zone_rows()
    write(folder, "organisations", ORGANISATIONS)
    write(folder, "buildings", [building_row(row) for row in BUILDINGS])
    write(folder, "heights", further_heights())
    write(folder, "zones", [cells for cells, _ in zones])
    write(folder, "layers", [row for cells, plan in zones for row in survey_rows(cells, plan)])
    write(folder, "tests", [test_row(test) for test in TESTS])
    write(folder, "works", [whose(row["building"]) | row for row in WORKS])
    write(folder, "tested_layers", [row for test in TESTS for row in tested_layer_rows(test)])


def write(folder: Path, name: str, rows: list[Cells]) -> None:
    path = folder / f"{name}.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, HEADERS[name].split(), restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def whose(building: str) -> Cells:
    return {"owner": OWNER_OF[building[:2]], "building": building}


# Buildings


def building_row(row: Cells) -> Cells:
    kept = ("name", "use", "storeys", "homes", "people", "evacuation", "sprinklers", "note")
    return {
        **whose(row["building"]),
        **{key: row[key] for key in kept},
        "address": ", ".join(dict.fromkeys((row["street"], row["place"]))),
        "jurisdiction": JURISDICTION[row["place"]],
        **next((height_cells(claim) for claim in claims_of(row["building"])), {}),
    }


def claims_of(building: str) -> list[Cells]:
    return [claim for claim in HEIGHTS if claim["building"] == building]


def height_cells(claim: Cells) -> Cells:
    return {
        "top_floor_height_m": claim["metres"],
        "height_tolerance_m": claim["tolerance"],
        "height_method": claim["method"],
        "height_date": claim["date"],
        "height_source": claim["source"],
    }


def further_heights() -> list[Cells]:
    return [
        whose(row["building"]) | height_cells(claim)
        for row in BUILDINGS
        for claim in claims_of(row["building"])[1:]
    ]


# Zones


def zone_rows() -> list[tuple[Cells, Cells]]:
    """Each zone's cells, with the line of the table that it comes from."""
    storeys = {row["building"]: row["storeys"] for row in BUILDINGS}
    return [
        (zone_row(plan, face, storeys[plan["building"]]), plan)
        for plan in ZONES
        for face in plan["faces"].split()
    ]


def zone_row(plan: Cells, face: str, storeys: str) -> Cells:
    words, _, _, _, attachment = PARTS[plan["part"]]
    zone = f"{face}-{plan['part']}".removeprefix("?-")
    set_back = (plan["building"], face) in SET_BACK
    lowest, highest = storeys_of(plan["part"], storeys, set_back=set_back)
    return {
        **whose(plan["building"]),
        "zone": zone,
        "description": f"{words}, {FACES[face]}".removesuffix(", "),
        "face": FACES[face],
        "from_storey": lowest,
        "to_storey": highest,
        "area_m2": area_of(plan, zone, lowest, highest),
        "attachment": attachment,
    }


def storeys_of(part: str, storeys: str, *, set_back: bool) -> tuple[str, str]:
    """The lowest and highest storey of a part; empty where nobody counted the storeys."""
    _, lowest, below_roof, _, _ = PARTS[part]
    if not storeys:
        return "", ""
    top = int(storeys) - 1
    if part == "top":
        return str(top), str(top)
    highest = top - below_roof + 1 if below_roof else 0
    if set_back:
        highest = min(highest, top - 1)
    return str(lowest), str(max(lowest, highest))


def area_of(plan: Cells, zone: str, lowest: str, highest: str) -> str:
    rng = random.Random(f"{SEED} area {plan['building']} {zone}")
    least, most = PARTS[plan["part"]][3]
    if not lowest or rng.random() < AREA_UNKNOWN:
        return ""
    return str(rng.randint(least, most) * (int(highest) - int(lowest) + 1))


# Surveys


def survey_rows(zone: Cells, plan: Cells) -> list[Cells]:
    looks = KNOWLEDGE[plan["knowledge"]]
    return [
        row
        for number, look in enumerate(looks, start=1)
        for row in look_rows(zone, plan, look, f"S{number}")
    ]


def look_rows(zone: Cells, plan: Cells, look: Look, ref: str) -> list[Cells]:
    rng = random.Random(f"{SEED} survey {zone['building']} {zone['zone']} {ref}")
    seen = look.view(WALLS[plan["other"] if look.of_other else plan["wall"]])
    if look.by_tape:
        seen = measured(seen, rng)
    survey = {
        **{key: zone[key] for key in ("owner", "building", "zone")},
        "survey": ref,
        "basis": look.basis,
        "survey_date": a_day(rng, look.years).isoformat(),
        "survey_source": look.source,
    }
    return [survey | cells for cells in wall_rows(seen, lists_all=look.lists_all)]


def a_day(rng: random.Random, years: tuple[int, int]) -> date:
    first, last = date(years[0], 1, 8), date(years[1], 12, 12)
    return first + timedelta(days=rng.randint(0, (last - first).days))


def wall_rows(wall: Wall, *, lists_all: bool) -> list[Cells]:
    about = wall_cells(wall, lists_all=lists_all)
    return [about | row for row in layer_rows(wall)]


def wall_cells(wall: Wall, *, lists_all: bool) -> Cells:
    return {
        "system_family": wall.family,
        "substrate": wall.substrate,
        "all_layers_listed": "yes" if lists_all else "no",
    }


def layer_rows(wall: Wall) -> list[Cells]:
    return [cells | {"layer_no": str(no)} for no, cells in enumerate(wall.layers, start=1)]


# Tests


def test_row(test: Test) -> Cells:
    criteria = [ANSWERS[letter] for letter in test.criteria]
    external, internal, burn_through, flames, early = criteria
    annex = {"1": "A", "2": "B"}.get(test.part, "")
    return {
        "held_by": test.held_by,
        "test": test.ref,
        "title": test.title,
        "laboratory": test.laboratory,
        "sponsor": test.sponsor,
        "standard": test.standard,
        "part": test.part,
        "edition": test.edition,
        "tested_on": test.tested_on,
        "external_spread": external,
        "internal_spread": internal,
        "burn_through": burn_through,
        "no_flames_above_rig": flames,
        "no_early_end": early,
        "observations": test.observations,
        "printed_outcome": test.printed,
        "class_document": "BR 135" if test.classified else "",
        "class_edition": BR_135 if test.classified else "",
        "class_annex": annex if test.classified else "",
        "class_report": test.class_report,
        "standing": test.standing,
        "standing_note": test.standing_note,
        "holding": test.holding,
        "consent": test.consent,
        "consent_given_to": test.given_to,
        "leans_on": test.leans_on,
        "source": test.source,
        **wall_cells(test.wall, lists_all=test.all_layers),
    }


def tested_layer_rows(test: Test) -> list[Cells]:
    key = {"held_by": test.held_by, "test": test.ref}
    return [key | row for row in layer_rows(test.wall)]


if __name__ == "__main__":
    main(*(Path(argument) for argument in sys.argv[1:2]))

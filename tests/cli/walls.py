"""A property manager's workbook: an estate whose zones have known answers, and ways to spoil it."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from tests.sheets.support import workbook

Layer = Mapping[str, Any]
Rows = dict[str, list[dict[str, Any]]]

WALL: tuple[Layer, ...] = (
    {"role": "lining", "material": "gypsum-plasterboard", "class": "A2-s1,d0", "thickness": 12.5},
    {"role": "frame", "material": "masonry-block", "thickness": 140},
    {"role": "sheathing", "material": "none"},
    {"role": "membrane", "material": "breather-polymer", "class": "E"},
    {"role": "insulation", "material": "stone-wool", "class": "A1", "thickness": 120},
    {"role": "cavity", "material": "ventilated", "thickness": 50},
    {"role": "barrier-horizontal", "material": "open-state-intumescent", "spacing": 3000},
    {"role": "barrier-vertical", "material": "full-fill-mineral", "spacing": 6000},
    {"role": "support", "material": "aluminium-rails"},
    {
        "role": "facing",
        "material": "metal-composite-panel",
        "class": "B-s1,d0",
        "thickness": 4,
        "core_category": "2",
        "calorific_value": 10,
        "joint": "open",
        "joint_width": 15,
    },
    {"role": "finish", "material": "pvdf-coating"},
)
_HEADERS = {
    "class": "Class",
    "thickness": "Thickness (mm)",
    "spacing": "Spacing (mm)",
    "core_category": "Core category",
    "calorific_value": "Calorific value (MJ/kg)",
    "joint": "Joints",
    "joint_width": "Joint width (mm)",
    "role": "Role",
    "material": "Material",
    "product": "Product",
}
_PASSED = {
    "External spread": "met",
    "Internal spread": "met",
    "Burn-through": "not-applicable",
    "No flames above rig": "met",
    "Not ended early": "met",
    "Printed outcome": "passed",
}
FAILED = {"External spread": "not-met", "Printed outcome": "failed"}


def named(wall: Sequence[Layer]) -> tuple[Layer, ...]:
    """The wall with every product known."""
    return tuple(
        layer if layer["role"] in ("sheathing", "cavity") else {"product": layer["role"]} | layer
        for layer in wall
    )


def changed(wall: Sequence[Layer], role: str, **more: Any) -> tuple[Layer, ...]:
    """The wall with one layer's properties changed; None makes one unknown."""
    return tuple({**layer, **more} if layer["role"] == role else layer for layer in wall)


TESTED = named(WALL)
BURNT = changed(
    changed(TESTED, "facing", core_category="3", calorific_value=40, **{"class": "D-s2,d0"}),
    "insulation",
    material="pir-foam",
    **{"class": "D-s2,d0"},
)


def _layer_rows(head: dict[str, Any], wall: Sequence[Layer]) -> list[dict[str, Any]]:
    return [
        head | {"Layer no.": number} | {_HEADERS[key]: value for key, value in layer.items()}
        for number, layer in enumerate(wall, 1)
    ]


class Estate:
    """The rows of a workbook, sheet by sheet."""

    def __init__(self, owner: str = "OWN") -> None:
        self.owner = owner
        self.rows: Rows = {
            "Organisations": [{"Organisation": owner, "Name": "Invented Homes", "Kind": "owner"}]
        }

    def _add(self, sheet: str, *rows: dict[str, Any]) -> None:
        self.rows.setdefault(sheet, []).extend(rows)

    def building(self, ref: str, **more: Any) -> None:
        row = {"Owner": self.owner, "Building": ref, "Jurisdiction": "England", "Use": "flats"}
        self._add(
            "Buildings", row | {"Top floor height (m)": 18.6, "Storeys": 7, "People": 80} | more
        )

    def zone(self, building: str, zone: str, **more: Any) -> None:
        self._add("Zones", {"Owner": self.owner, "Building": building, "Zone": zone} | more)

    def survey(
        self, building: str, zone: str, ref: str, wall: Sequence[Layer], **more: Any
    ) -> None:
        head = {
            "Owner": self.owner,
            "Building": building,
            "Zone": zone,
            "Survey": ref,
            "Basis": "opening-up",
            "Survey date": "2026-03-01",
            "System family": "ventilated-rainscreen",
            "Substrate": "masonry",
            "All layers listed": "yes",
        }
        self._add("Layers", *_layer_rows(head | more, wall))

    def test(self, ref: str, wall: Sequence[Layer], **more: Any) -> None:
        head = {"Held by": self.owner, "Test": ref}
        row = {
            "Standard": "BS 8414",
            "Part": "1",
            "Edition": "2015+A1:2017",
            "Classification document": "BR 135",
            "Classification edition": "third edition (2013)",
            "Classification annex": "A",
            "Classification report": "CR-1",
            "Tested on": "2019-05-07",
            "Standing": "live",
            "Holding": "in-full",
            "Consent": "own",
            "System family": "ventilated-rainscreen",
            "Substrate": "masonry",
            "All layers listed": "yes",
        }
        self._add("Tests", head | row | _PASSED | more)
        self._add("Tested layers", *_layer_rows(head, wall))

    def save(self, path: Path) -> Path:
        """The workbook, with every column that any row of its sheet has."""
        tabs = {}
        for sheet, rows in self.rows.items():
            headers = list(dict.fromkeys(header for row in rows for header in row))
            tabs[sheet] = [headers, *([row.get(header) for header in headers] for row in rows)]
        path.write_bytes(workbook(tabs).content)
        return path


ANSWERS = {
    ("B-01", "North"): "covered",
    ("B-01", "South"): "contradicted",
    ("B-01", "East"): "too-little-known",
    ("B-02", "N"): "too-little-known",
    ("B-02", "E"): "to-assess",
    ("B-02", "S"): "no-matching-evidence",
    ("B-03", "A"): "too-little-known",
}


def estate() -> Estate:
    """Three buildings; a zone of every coverage."""
    found = Estate()
    for building, zone in ANSWERS:
        if building not in {row["Building"] for row in found.rows.get("Buildings", ())}:
            found.building(building)
        found.zone(building, zone)
    found.survey("B-01", "North", "S-1", TESTED)
    found.survey("B-01", "South", "S-2", BURNT)
    found.survey("B-01", "East", "S-3", TESTED, Basis="drawing")
    found.survey("B-02", "N", "S-4", changed(TESTED, "barrier-horizontal", product=None))
    found.survey("B-02", "E", "S-5", changed(TESTED, "insulation", thickness=150))
    brick = changed(TESTED, "facing", material="clay-brick", core_category=None)
    found.survey("B-02", "S", "S-6", changed(brick, "facing", calorific_value=None))
    found.test("T-pass", TESTED)
    found.test("T-fail", BURNT, **FAILED)
    return found

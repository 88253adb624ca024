"""The tests of the demo: invented ones of an invented laboratory, and the seven of 2017.

The seven government tests are real and published; of them nothing is told here but what the
release prints: core category, insulation and result. Everything else is unknown.
"""

from __future__ import annotations

from dataclasses import dataclass

from walls import WALLS, Wall, layer

BR_135 = "third edition (2013)"
ALL_OWNERS = "HVH;CCH;TSR;HCT"
ANSWERS = {"m": "met", "x": "not-met", "?": "unknown", "-": "not-applicable"}


@dataclass(frozen=True)
class Test:
    """One test. `criteria` has a letter each for external and internal spread, burn-through,
    flames above the rig and early end: m met, x not met, ? unknown, - not applicable."""

    ref: str
    title: str
    wall: Wall
    part: str
    edition: str
    tested_on: str
    criteria: str
    held_by: str = "MFC"
    printed: str = ""
    classified: bool = True
    class_report: str = ""
    standing: str = "live"
    standing_note: str = ""
    holding: str = "in-full"
    consent: str = "given"
    given_to: str = ""
    leans_on: str = ""
    observations: str = ""
    sponsor: str = "sponsor of the demo"
    laboratory: str = "Ossenby Fire Laboratory"
    standard: str = "BS 8414"
    all_layers: bool = True
    source: str = "test report of the demo, invented"


PASSING = (
    Test(
        "T-101",
        "Metal composite panel, FR core, on stone wool and blockwork",
        WALLS["panel-fr-wool"],
        "1",
        "2015+A1:2017",
        "2018-03-14",
        "mm-mm",
        printed="passed",
        class_report="CR-101",
        given_to="HVH;CCH;TSR",
        observations="Panels distorted above the opening; molten droplets to 22 min.",
    ),
    Test(
        "T-102",
        "Metal composite panel, mineral core, on stone wool and light steel frame",
        WALLS["panel-mineral-wool"],
        "2",
        "2015+A1:2017",
        "2018-09-06",
        "mmmmm",
        printed="passed",
        class_report="CR-102",
        given_to=ALL_OWNERS,
        observations="No flaming on the inner face; two panels fell at 41 min.",
    ),
    Test(
        "T-103",
        "Terracotta tiles on stone wool and light steel frame",
        WALLS["terracotta-wool"],
        "2",
        "2015",
        "2016-05-19",
        "mmmmm",
        printed="passed",
        class_report="CR-103",
        given_to="TSR;HCT",
        observations="Tiles spalled from 9 min; debris over 3 m from the rig.",
    ),
    Test(
        "T-104",
        "Thin render on stone wool and blockwork",
        WALLS["render-wool"],
        "1",
        "2015+A1:2017",
        "2019-02-07",
        "mm-mm",
        printed="passed",
        class_report="CR-104",
        given_to="HVH;CCH;HCT",
    ),
    Test(
        "T-105",
        "Brick slips on stone wool and light steel frame",
        WALLS["slip-wool"],
        "2",
        "2015+A1:2017",
        "2019-06-27",
        "mmmmm",
        printed="passed",
        class_report="CR-105",
        given_to="HVH;CCH;TSR",
        observations="Slips fell from an area of about 2 m2.",
    ),
    Test(
        "T-106",
        "Solid aluminium sheet on stone wool and blockwork",
        WALLS["aluminium-wool"],
        "1",
        "2002",
        "2013-11-12",
        "mm-mm",
        printed="passed",
        class_report="CR-106",
        given_to="HVH;HCT",
        observations="Aluminium melted over an area 2 m wide and 3 m high.",
    ),
    Test(
        "T-107",
        "Fibre cement board on glass wool and light steel frame",
        WALLS["fibre-cement-glass-wool"],
        "2",
        "2005",
        "2014-07-03",
        "mmmmm",
        printed="passed",
        class_report="CR-107",
        given_to="HVH;TSR",
    ),
    Test(
        "T-108",
        "Metal composite panel, mineral core, on stone wool: 2020 edition, classified to 2013",
        WALLS["panel-mineral-wool-80"],
        "2",
        "2020",
        "2021-10-21",
        "mmmmm",
        printed="passed",
        class_report="CR-108",
        given_to=ALL_OWNERS,
        observations="The classification document was not reviewed for this edition of the test.",
    ),
    Test(
        "T-109",
        "Solid aluminium sheet on thicker stone wool: 2020 edition, not classified",
        WALLS["aluminium-wool-200"],
        "1",
        "2020",
        "2022-04-28",
        "mm-mm",
        classified=False,
        given_to="HVH;CCH;HCT",
    ),
    Test(
        "T-110",
        "High-pressure laminate, FR grade, on stone wool and light steel frame",
        WALLS["laminate-fr-wool"],
        "2",
        "2015+A1:2017",
        "2019-09-17",
        "mmmmm",
        printed="passed",
        class_report="CR-110",
        given_to="HVH;TSR;CCH",
    ),
    Test(
        "T-111",
        "Thin render on expanded polystyrene, with barriers at each storey",
        WALLS["render-eps-barriers"],
        "1",
        "2015",
        "2016-11-24",
        "mm-mm",
        printed="passed",
        class_report="CR-111",
        given_to="HVH;CCH",
        observations="Pool fire at the foot of the rig to 48 min.",
    ),
    Test(
        "T-112",
        "Glass spandrel on stone wool and light steel frame",
        WALLS["glass-spandrel"],
        "2",
        "2015+A1:2017",
        "2020-01-30",
        "mmmmm",
        printed="passed",
        class_report="CR-112",
        given_to="TSR;HCT;CCH",
    ),
    Test(
        "T-113",
        "Metal-faced sandwich panels, PIR foam core, on steel frame",
        WALLS["sandwich-pir"],
        "2",
        "2015",
        "2017-02-16",
        "mmmmm",
        printed="passed",
        class_report="CR-113",
        given_to="HCT;CCH",
    ),
)

FAILING = (
    Test(
        "T-201",
        "Fibre cement board on phenolic foam: flames above the rig at 43 min",
        WALLS["fibre-cement-phenolic"],
        "2",
        "2015",
        "2015-10-08",
        "m?mxm",
        classified=False,
        given_to=ALL_OWNERS,
        observations="Flames above the rig at 43 min; the test was not stopped. The report prints "
        "no outcome.",
    ),
    Test(
        "T-202",
        "High-pressure laminate, FR grade, on PIR foam: printed as passed, internal spread not met",
        WALLS["laminate-fr-pir"],
        "2",
        "2015+A1:2017",
        "2018-06-05",
        "mxmmm",
        printed="passed",
        class_report="CR-202",
        given_to=ALL_OWNERS,
        observations="An internal thermocouple at level 2 stood more than 600 K above the start "
        "for 55 s, from 12 min after the fire had reached level 1.",
    ),
    Test(
        "T-203",
        "Fibre cement board on PIR foam: withdrawn, a board of the rig is not in the report",
        WALLS["fibre-cement-pir"],
        "2",
        "2005",
        "2014-05-22",
        "mmmmm",
        printed="passed",
        class_report="CR-203",
        standing="withdrawn",
        standing_note="A 9 mm magnesium oxide board stood in the rig and is missing from the "
        "report. Withdrawn by the sponsor on 2018-10-15.",
        given_to="HVH;TSR",
    ),
    Test(
        "T-204",
        "Fibre cement board on magnesium oxide board and PIR foam: the re-test of T-203",
        WALLS["fibre-cement-pir-board"],
        "2",
        "2015+A1:2017",
        "2019-03-21",
        "mmmmm",
        printed="passed",
        class_report="CR-204",
        given_to="HVH;TSR",
        observations="New evidence of its own: every layer of the rig is in this report.",
    ),
    Test(
        "T-205",
        "Zinc composite panel, FR core, on PIR foam: disputed",
        WALLS["zinc-fr-pir"],
        "2",
        "2015",
        "2016-09-29",
        "mmmmm",
        printed="passed",
        class_report="CR-205",
        standing="disputed",
        standing_note="Photographs show intumescent sealant that the report does not list; the "
        "laboratory was asked on 2025-02-11 and has not answered.",
        given_to="CCH;TSR",
    ),
    Test(
        "T-206",
        "Thin render on stone wool and blockwork: superseded by T-104",
        WALLS["render-wool"].changed("insulation", mm=120, product="slab type M-1"),
        "1",
        "2002",
        "2012-08-30",
        "mm-mm",
        printed="passed",
        class_report="CR-206",
        standing="superseded",
        standing_note="The slab is no longer made; T-104 has its successor.",
        given_to="HVH;CCH;HCT",
    ),
    Test(
        "T-207",
        "Aluminium honeycomb panel on stone wool: parts of limited combustibility, not met",
        WALLS["honeycomb-wool"],
        "1",
        "2015+A1:2017",
        "2018-11-08",
        "mx-mm",
        printed="failed",
        class_report="CR-207",
        given_to=ALL_OWNERS,
        observations="Each part was A1 or A2; the internal temperature at level 2 went over the "
        "limit in the cavity. Classes of parts do not add up to a pass of the wall.",
    ),
    Test(
        "T-208",
        "Thin render on expanded polystyrene, no barriers: stopped at 12 min",
        WALLS["render-eps"],
        "1",
        "2015",
        "2017-05-11",
        "xx-xx",
        printed="failed",
        classified=False,
        given_to=ALL_OWNERS,
        observations="Flames above the rig; put out at 12 min.",
    ),
    Test(
        "T-209",
        "High-pressure laminate, standard grade, on phenolic foam: stopped at 465 s",
        WALLS["laminate-phenolic"],
        "2",
        "2015+A1:2017",
        "2020-02-20",
        "x??xx",
        printed="failed",
        classified=False,
        given_to=ALL_OWNERS,
    ),
    Test(
        "T-210",
        "Timber boards on stone wool and blockwork: flames above the rig",
        WALLS["timber-wool"],
        "1",
        "2015",
        "2018-01-25",
        "x?-xx",
        printed="failed",
        classified=False,
        given_to="HVH;CCH",
        observations="Boards fell burning from 7 min.",
    ),
    Test(
        "T-211",
        "Metal composite panel, FR core, on extruded polystyrene: flames above the rig",
        WALLS["panel-fr-xps"],
        "1",
        "2015+A1:2017",
        "2018-10-02",
        "x?-xx",
        printed="failed",
        classified=False,
        given_to="CCH",
    ),
    Test(
        "T-212",
        "High-pressure laminate, FR grade, on stone wool, deeper cavity: internal spread not met",
        WALLS["laminate-fr-wool-120"],
        "2",
        "2015+A1:2017",
        "2021-06-10",
        "mxmmm",
        printed="failed",
        class_report="CR-212",
        given_to="HVH",
        observations="The same materials as T-110, and the other result.",
    ),
)

OUT_OF_REACH = (
    Test(
        "T-301",
        "Terracotta tiles on phenolic foam: the sponsor refused",
        WALLS["terracotta-phenolic"],
        "2",
        "2015+A1:2017",
        "2018-12-13",
        "mmmmm",
        held_by="HCT",
        printed="passed",
        class_report="CR-301",
        holding="summary",
        consent="refused",
    ),
    Test(
        "T-302",
        "Brick slips on stone wool, another board behind: consent asked",
        WALLS["slip-wool-other-board"],
        "2",
        "2015",
        "2017-07-20",
        "mmmmm",
        held_by="HVH",
        printed="passed",
        class_report="CR-302",
        consent="asked",
        standing_note="The sponsor was asked on 2025-09-30.",
    ),
    Test(
        "T-303",
        "High-pressure laminate on glass wool: exists, nobody here has seen it",
        Wall(
            "ventilated-rainscreen",
            "",
            (layer("insulation", "glass-wool"), layer("facing", "high-pressure-laminate")),
        ),
        "2",
        "",
        "",
        "?????",
        held_by="TSR",
        classified=False,
        holding="not-seen",
        consent="not-asked",
        all_layers=False,
        source="mentioned in a letter of the sponsor, 2024-06-03",
    ),
    Test(
        "T-304",
        "Fibre cement board on stone wool and blockwork: summary only",
        Wall(
            "ventilated-rainscreen",
            "masonry",
            (
                layer("insulation", "stone-wool", mm=150),
                layer("cavity", "ventilated"),
                layer("facing", "fibre-cement", fire_class="A2-s1,d0", mm=8),
            ),
        ),
        "1",
        "2015",
        "2016-03-03",
        "mm-mm",
        held_by="CCH",
        printed="passed",
        class_report="CR-304",
        holding="summary",
        all_layers=False,
    ),
    Test(
        "A-305",
        "Assessment: fibre cement board on thicker PIR foam, leaning on T-203",
        WALLS["fibre-cement-pir"].changed("insulation", mm=140),
        "",
        "",
        "2016-02-18",
        "?????",
        printed="passed",
        classified=False,
        given_to="HVH;TSR",
        leans_on="T-203",
        observations="No wall was burnt. The test that it leans on is withdrawn, and it falls too.",
        laboratory="",
        standard="assessment",
        source="assessment of the demo, invented",
    ),
)

PUBLISHED_SOURCE = "MHCLG Building Safety Programme monthly data release"
# number, core category, insulation, passed, what is published beside the result
GOVERNMENT_2017 = (
    (1, "3", "pir-foam", False, "Flames above the rig."),
    (2, "3", "stone-wool", False, "Stopped at 429 s."),
    (3, "2", "pir-foam", False, "Flames above the rig."),
    (4, "2", "stone-wool", True, "Mean gross calorific value of the core 13.6 MJ/kg."),
    (5, "1", "pir-foam", True, "Said to depend on barriers being fitted."),
    (6, "1", "stone-wool", True, ""),
    (7, "2", "phenolic-foam", False, ""),
)


def government_test(
    number: int, core: str, insulation: str, passed: bool, observations: str
) -> Test:
    """One of the seven: the pair of materials and the result, nothing else."""
    flames = "x" if "Flames above" in observations else "?"
    early = "x" if "Stopped" in observations else "?"
    panel = layer("facing", "metal-composite-panel", core=core)
    return Test(
        f"G-{number}",
        f"Government large-scale test {number}, 2017",
        Wall("ventilated-rainscreen", "masonry", (layer("insulation", insulation), panel)),
        "1",
        "2015+A1:2017",
        "",
        f"??-{flames}{early}",
        held_by="MFC",
        printed="passed" if passed else "failed",
        classified=passed,
        holding="summary",
        consent="published",
        observations=observations,
        sponsor="the government",
        laboratory="",
        all_layers=False,
        source=PUBLISHED_SOURCE,
    )


TESTS: tuple[Test, ...] = (
    *PASSING,
    *FAILING,
    *OUT_OF_REACH,
    *(government_test(*row) for row in GOVERNMENT_2017),
)

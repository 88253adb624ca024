"""The estate of the demo: an invented county, its owners, buildings, heights and zones.

Tables are written with "|" between the columns, as one would on paper.
"""

from __future__ import annotations


def table(text: str) -> list[dict[str, str]]:
    """The rows of a table; the first line names the columns."""
    header, *lines = (
        [cell.strip() for cell in line.split("|")] for line in text.strip().splitlines()
    )
    if wrong := [line for line in lines if len(line) != len(header)]:
        raise ValueError(f"{len(header)} columns, but: {wrong[0]}")
    return [dict(zip(header, line, strict=True)) for line in lines]


ORGANISATIONS = table("""
organisation | name                                  | kind
HVH          | Hathen Vale Homes                     | owner
CCH          | Caddersley City Council Housing       | owner
TSR          | Tollenwick Student Residences         | owner
HCT          | Hathenshire Hospitals and Care Trust  | owner
MFC          | Marrowhithe Façade Consultants        | consultancy
OFL          | Ossenby Fire Laboratory               | laboratory
""")

JURISDICTION = {
    "Caddersley": "England",
    "Tollenwick": "England",
    "Ossenby": "England",
    "Marrowhithe": "England",
    "Strathullin": "Scotland",
    "Llanorwydd": "Wales",
    "Border Quay": "",
}
"""By place. On which side of the border the quay stands, nobody has looked up."""

BUILDINGS = table("""
building | name                    | street            | place       | use            | storeys | homes | people | evacuation   | sprinklers | note
HV-01    | Quernstone Court        | 4 Tanpit Row      | Caddersley  | flats          | 7       | 42    |        | stay-put     | none       |
HV-02    | Saltbarrow House        | 11 Tanpit Row     | Caddersley  | flats          | 4       | 16    |        | stay-put     | none       | Four storeys with a tall ground floor: a storey rule misses it.
HV-03    | Pellardine Point        | 2 Weirgate        | Ossenby     | flats          | 12      | 88    |        | simultaneous | none       | Waking watch since 2021.
HV-04    | Winnowing Court         | 7 Chaff Lane      | Ossenby     | sheltered      | 5       | 34    | 41     | stay-put     | parts      |
HV-05    | Thistlewane Court       | 9 Chaff Lane      | Ossenby     | flats          | 6       | 30    |        | stay-put     | none       |
HV-06    | Tannersreach            | 1 Bark Quay       | Caddersley  | flats          | 6       | 37    |        | stay-put     | none       | Two surveyors, two heights, both just below 18 m.
HV-07    | Loomweight House        | 15 Heddle Street  | Caddersley  | flats          | 9       | 54    |        | phased       | none       |
HV-08    | Ashlarside              | 3 Mason's Walk    | Marrowhithe | extra-care     | 4       | 45    | 52     | progressive  | throughout |
HV-09    | Ferrywarden House       | 20 Weirgate       | Ossenby     | flats          | 8       | 48    |        |              |            |
HV-10    | Gorsemantle Flats       | Gorsemantle Road  | Marrowhithe |                |         |       |        |              |            | Taken over in 2024; no file came with it.
HV-11    | Milldammer Court        | 6 Sluice Lane     | Marrowhithe | mixed-sleeping | 6       | 22    |        | stay-put     | none       |
HV-12    | Sedgemorrow Rows        | Sedge Lane        | Marrowhithe | houses         | 3       | 12    |        | simultaneous | none       |
HV-13    | Kilnwarden House        | 30 Heddle Street  | Caddersley  | flats          | 10      | 60    |        | stay-put     | parts      |
CC-01    | Bellfounder Tower       | Foundry Green     | Caddersley  | flats          | 17      | 96    |        | simultaneous | none       | One of three towers built to the same drawings.
CC-02    | Ropewalker Tower        | Foundry Green     | Caddersley  | flats          | 17      | 96    |        | stay-put     | none       | One of three towers built to the same drawings.
CC-03    | Lamplighter Tower       | Foundry Green     | Caddersley  | flats          | 17      | 95    |        | stay-put     | throughout | One of three towers built to the same drawings.
CC-04    | Droverstone House       | 8 Penfold Street  | Caddersley  | flats          | 11      | 66    |        | stay-put     | none       |
CC-05    | Hurdlemaker Court       | 2 Penfold Street  | Caddersley  | sheltered      | 4       | 28    | 33     | progressive  | none       |
CC-06    | Cordwainers' Rise       | 40 Last Lane      | Caddersley  | flats          | 8       | 44    |        | stay-put     | none       |
CC-07    | Weirbank Flats          | 1 Weir Bank       | Caddersley  | flats          | 6       | 24    |        | stay-put     | none       |
CC-08    | Sandglass House         | 5 Hourglass Yard  | Caddersley  |                | 5       |       |        |              | none       | Let to several charities; use not recorded.
CC-09    | Civic Annexe            | 1 Assize Square   | Caddersley  | office         | 6       |       | 310    | simultaneous | parts      |
CC-10    | Granary Lane School     | Granary Lane      | Caddersley  | school         | 3       |       | 420    | simultaneous | none       |
CC-11    | Osierbed Court          | 18 Withy Walk     | Ossenby     | flats          | 7       | 39    |        | stay-put     | none       |
CC-12    | Pinfolder House         | 3 Drift Lane      | Caddersley  | hotel          | 4       | 26    | 60     | simultaneous | none       | Rooms for people without a home.
TS-01    | Inkhorn Hall            | 1 Vellum Street   | Tollenwick  | students       | 9       | 210   | 210    | simultaneous | throughout |
TS-02    | Vellumer Hall           | 5 Vellum Street   | Tollenwick  | students       | 8       | 168   | 168    | simultaneous | none       |
TS-03    | Lecternside             | 12 Kirkbrae Wynd  | Strathullin | students       | 6       | 120   | 120    | simultaneous | throughout |
TS-04    | Marginal Hall           | Heol y Memrwn     | Llanorwydd  | students       | 7       | 140   |        | simultaneous | none       |
TS-05    | Foliowell Hall          | 9 Vellum Street   | Tollenwick  | students       | 11      | 305   | 305    | phased       | parts      |
TS-06    | Quirefold Court         | 2 Bindery Lane    | Tollenwick  | hotel          | 5       |       | 90     | simultaneous | none       | Student rooms in term, a hotel in summer.
TS-07    | Colophon Quay           | Border Quay       | Border Quay | students       | 13      | 340   |        | simultaneous | throughout | Jurisdiction not recorded.
HC-01    | County Hospital, Block A | Physic Garden Road | Caddersley | hospital      | 6       |       | 260    | progressive  | parts      |
HC-02    | County Hospital, Block B | Physic Garden Road | Caddersley | hospital      | 5       |       | 180    | progressive  | none       |
HC-03    | County Hospital, Outpatients | Physic Garden Road | Caddersley | hospital  | 3       |       |        | simultaneous | none       |
HC-04    | Tansyfield Care Home    | 4 Feverfew Lane   | Marrowhithe | care-home      | 3       |       | 48     | progressive  | none       |
HC-05    | Cricklewater Care Home  | 27 Osier Road     | Ossenby     | care-home      | 4       |       | 56     | progressive  | throughout |
HC-06    | Lanternyard Residences  | Physic Garden Road | Caddersley | flats          | 7       | 63    |        | stay-put     | none       | Staff homes.
HC-07    | Trust Offices           | 2 Assize Square   | Caddersley  | office         | 4       |       | 140    | simultaneous | none       |
HC-08    | Braeside of Ullin       | 6 Kirkbrae Wynd   | Strathullin | care-home      | 3       |       | 39     | progressive  | parts      |
""")  # noqa: E501

HEIGHTS = table("""
building | metres | tolerance | method                         | date       | source
HV-01    | 19.6   | 0.1       | measured with a laser          | 2023-03-08 | height survey HS-4
HV-02    | 12.2   | 0.1       | measured with a laser          | 2023-03-08 | height survey HS-5
HV-03    | 35.4   | 0.2       | measured with a laser          | 2021-10-19 | height survey HS-1
HV-04    | 12.9   | 0.3       | read from a section drawing    | 2022-05-11 | drawing A-301
HV-06    | 17.7   |           | measured with a laser          | 2022-02-14 | assessment of 2022
HV-06    | 17.77  |           | measured from the lower pavement | 2024-06-20 | height survey HS-9
HV-07    | 26.1   | 0.2       | measured with a laser          | 2023-09-26 | height survey HS-7
HV-08    | 10.9   | 0.2       | measured with a laser          | 2023-09-27 | height survey HS-8
HV-11    | 17.2   | 0.5       | read from a section drawing    | 2020-11-03 | drawing A-310
HV-11    | 18.3   | 0.3       | measured with a laser          | 2024-01-17 | height survey HS-10
HV-13    | 29.8   | 0.3       | measured with a laser          | 2024-04-09 | height survey HS-11
CC-01    | 49.2   | 0.3       | measured with a laser          | 2018-06-13 | tower survey of 2018
CC-01    | 50.1   | 0.5       | read from a section drawing    | 2017-07-05 | drawing T-100
CC-02    | 49.2   | 0.3       | measured with a laser          | 2018-06-14 | tower survey of 2018
CC-03    | 49.3   | 0.3       | measured with a laser          | 2018-06-15 | tower survey of 2018
CC-04    | 32.6   | 0.4       | read from a section drawing    | 2019-02-21 | drawing D-120
CC-05    | 10.6   | 0.1       | measured with a laser          | 2022-08-30 | sheltered survey
CC-06    | 23.0   |           | stated by the caretaker        | 2019-05-02 | telephone note
CC-09    | 20.4   | 0.2       | measured with a laser          | 2021-03-30 | office survey
CC-10    | 7.4    | 0.1       | measured with a laser          | 2021-04-01 | school survey
CC-11    | 18.0   | 0.1       | measured with a laser          | 2024-11-12 | height survey CH-2
TS-01    | 25.9   | 0.2       | measured with a laser          | 2023-07-03 | halls survey
TS-02    | 22.7   | 0.2       | measured with a laser          | 2023-07-03 | halls survey
TS-03    | 16.4   | 0.2       | measured with a laser          | 2023-07-10 | halls survey
TS-04    | 17.9   | 0.4       | read from a section drawing    | 2023-07-12 | halls survey
TS-05    | 31.5   | 0.2       | measured with a laser          | 2023-07-04 | halls survey
TS-07    | 38.6   | 1.0       | counted from photographs       | 2023-07-14 | halls survey
HC-01    | 24.3   | 0.2       | measured with a laser          | 2022-12-06 | trust survey
HC-02    | 18.4   | 0.2       | measured with a laser          | 2022-12-06 | trust survey
HC-04    | 6.9    | 0.1       | measured with a laser          | 2022-12-08 | trust survey
HC-05    | 10.8   | 0.3       | read from a section drawing    | 2022-12-09 | trust survey
HC-06    | 20.9   | 0.2       | measured with a laser          | 2022-12-07 | trust survey
HC-08    | 7.1    | 0.2       | measured with a laser          | 2023-01-18 | trust survey
""")
"""A building's first claim stands in its own row, the others in heights.csv."""

FACES = {
    "N": "north",
    "E": "east",
    "S": "south",
    "W": "west",
    "C": "courtyard",
    "T": "street side",
    "?": "",
}

# words, lowest storey, highest storey counted from the top, square metres a storey, attachment
PARTS: dict[str, tuple[str, int, int, tuple[int, int], str]] = {
    "main": ("Main wall", 1, 1, (40, 95), ""),
    "gable": ("Gable wall", 0, 1, (35, 70), ""),
    "podium": ("Podium wall", 0, 0, (60, 160), ""),
    "ground": ("Ground storey wall", 0, 0, (60, 160), ""),
    "top": ("Set-back top storey", -1, 1, (40, 120), ""),
    "spandrel": ("Spandrel panels below the windows", 1, 1, (8, 22), ""),
    "infill": ("Infill panels between the windows", 1, 1, (4, 12), ""),
    "stair": ("Stair core", 0, 1, (12, 25), ""),
    "link": ("Link to the next building", 0, 0, (20, 60), ""),
    "balcony": ("Balconies", 1, 1, (5, 14), "yes"),
    "canopy": ("Entrance canopy", 0, 0, (6, 18), "yes"),
}
"""The highest storey is 0 for the ground storey alone, else so many below the roof."""

ZONES = table("""
building | part     | faces   | wall                     | knowledge        | other
HV-01    | main     | N       | panel-fr-wool            | whole            |
HV-01    | main     | S       | panel-fr-wool            | measured         |
HV-01    | main     | E W     | panel-fr-wool            | drawn            |
HV-01    | infill   | N S     | infill-upvc              | outside          |
HV-01    | balcony  | S       | balcony-wpc              | hole             |
HV-02    | main     | N S     | render-eps               | no-barriers-seen |
HV-02    | main     | E       | render-eps-barriers      | whole            |
HV-02    | main     | W       | render-eps-barriers      | drawn            |
HV-02    | ground   | N S     | brick-glass-wool         | planned          |
HV-03    | main     | N S     | panel-pe-pir             | hole             |
HV-03    | main     | E W     | panel-pe-pir             | sample           |
HV-03    | spandrel | N S     | panel-pe-pir             | hole             |
HV-03    | balcony  | S       | balcony-panel-pe         | hole             |
HV-03    | canopy   | N       | balcony-aluminium        | never            |
HV-04    | main     | N S     | brick-pir                | drawn            |
HV-04    | main     | E       | brick-pir                | drawn-otherwise  | brick-glass-wool
HV-04    | top      | N S     | render-eps               | outside          |
HV-04    | balcony  | S       | balcony-timber           | hole             |
HV-05    | main     | N       | slip-wool                | whole            |
HV-05    | main     | S       | slip-wool                | drawn+whole      |
HV-05    | main     | E       | slip-wool-other-board    | whole            |
HV-05    | main     | W       | slip-wool                | conflict-whole   | brick-pir
HV-05    | top      | N S     | fibre-cement-phenolic    | planned          |
HV-05    | balcony  | S W     | balcony-timber           | never            |
HV-06    | main     | N E S W | fibre-cement-pir         | drawn            |
HV-06    | spandrel | N S     | fibre-cement-pir-board   | whole            |
HV-06    | infill   | N S     | infill-grp               | never            |
HV-06    | canopy   | T       | balcony-panel-fr         | outside          |
HV-07    | main     | N S     | laminate-phenolic        | specified        |
HV-07    | main     | E W     | laminate-phenolic        | hole             |
HV-07    | podium   | E W     | brick-eps                | planned          |
HV-07    | balcony  | S       | balcony-timber           | outside          |
HV-08    | main     | N S     | timber-wool              | specified        |
HV-08    | main     | E       | render-wool              | measured         |
HV-08    | main     | W       | render-wool-200          | whole            |
HV-08    | ground   | N E S W | brick-pir                | outside          |
HV-09    | main     | N E S W | panel-fr-pir             | never            |
HV-09    | spandrel | N S     | panel-fr-pir             | never            |
HV-09    | ground   | N S     | brick-pir                | never            |
HV-10    | main     | ?       | render-eps               | outside          |
HV-10    | infill   | ?       | infill-upvc              | never            |
HV-10    | balcony  | ?       | balcony-timber           | never            |
HV-11    | main     | T C     | laminate-fr-wool         | drawn            |
HV-11    | main     | N       | laminate-fr-wool         | whole            |
HV-11    | main     | S       | laminate-fr-pir          | drawn-otherwise  | laminate-fr-wool
HV-11    | ground   | T       | stone-phenolic           | planned          |
HV-11    | balcony  | C       | balcony-wpc              | outside          |
HV-12    | main     | N S     | timber-wool              | planned          |
HV-12    | gable    | E W     | brick-glass-wool         | hole             |
HV-13    | main     | N S     | aluminium-wool           | whole            |
HV-13    | main     | E       | aluminium-wool-200       | whole            |
HV-13    | main     | W       | aluminium-wool           | outside          |
HV-13    | infill   | N S     | infill-glass-pir         | planned          |
HV-13    | balcony  | S W     | balcony-aluminium        | outside          |
CC-01    | main     | N E S W | panel-fr-pir             | hole             |
CC-01    | podium   | N S     | concrete-eps             | drawn            |
CC-01    | infill   | N E S W | infill-upvc              | hole             |
CC-02    | main     | N E S W | panel-fr-pir             | foam-seen        |
CC-02    | podium   | N S     | concrete-eps             | planned          |
CC-02    | infill   | N S     | infill-upvc              | outside          |
CC-03    | main     | N S     | panel-mineral-wool       | whole            |
CC-03    | main     | E W     | panel-mineral-wool-80    | whole            |
CC-03    | podium   | N S     | concrete-eps             | never            |
CC-03    | infill   | N S     | infill-upvc              | hole             |
CC-04    | main     | N S     | render-wool              | drawn+whole      |
CC-04    | main     | E W     | render-wool              | outside          |
CC-04    | main     | C       | render-wool-200          | whole            |
CC-04    | stair    | T       | brick-pir                | outside          |
CC-04    | balcony  | S C     | balcony-timber           | hole             |
CC-05    | main     | N S     | render-eps               | assumed          |
CC-05    | main     | E W     | render-eps               | outside          |
CC-05    | canopy   | T       | balcony-aluminium        | never            |
CC-06    | main     | N S     | zinc-fr-pir              | drawn            |
CC-06    | main     | E W     | zinc-fr-pir              | outside          |
CC-06    | ground   | N S     | brick-pir                | hole             |
CC-06    | balcony  | S       | balcony-wpc              | never            |
CC-07    | main     | N S     | panel-fr-wool            | wool-seen        |
CC-07    | main     | E       | panel-fr-wool-75         | whole            |
CC-07    | main     | W       | panel-fr-xps             | hole             |
CC-07    | infill   | N S     | infill-upvc              | planned          |
CC-08    | main     | T       | brick-eps                | drawn+outside    |
CC-08    | main     | C       | render-eps               | never            |
CC-08    | spandrel | T       | infill-glass-pir         | never            |
CC-09    | main     | N S     | glass-spandrel           | whole            |
CC-09    | main     | E       | glass-spandrel-60        | whole            |
CC-09    | main     | W       | glass-spandrel           | drawn            |
CC-09    | stair    | C       | sandwich-pir             | whole            |
CC-09    | top      | N S     | panel-fr-phenolic        | core-open        |
CC-10    | main     | N E S W | sandwich-pir             | planned          |
CC-10    | link     | T       | timber-wool              | planned          |
CC-11    | main     | N E     | honeycomb-wool           | hole             |
CC-11    | main     | S W     | honeycomb-wool           | outside          |
CC-11    | balcony  | S       | balcony-panel-fr         | core-open        |
CC-12    | main     | N S     | brick-pir                | outside          |
CC-12    | infill   | N S     | infill-upvc              | hole             |
TS-01    | main     | N       | panel-fr-wool            | whole            |
TS-01    | main     | S       | panel-fr-wool-75         | whole            |
TS-01    | main     | E       | panel-fr-wool-75         | measured         |
TS-01    | main     | W       | panel-fr-wool            | drawn+hole       |
TS-01    | spandrel | N S     | glass-spandrel           | outside          |
TS-01    | ground   | N S     | brick-glass-wool         | drawn            |
TS-02    | main     | N S     | laminate-fr-pir          | hole             |
TS-02    | main     | E W     | laminate-fr-pir          | outside          |
TS-02    | infill   | N S     | infill-upvc              | hole             |
TS-02    | link     | C       | laminate-fr-wool-block   | whole            |
TS-02    | canopy   | T       | balcony-panel-pe         | sample+outside   |
TS-03    | main     | N S     | terracotta-wool          | whole            |
TS-03    | main     | E       | terracotta-wool-100      | whole            |
TS-03    | main     | W       | terracotta-wool          | drawn            |
TS-03    | top      | N S     | panel-pe-eps             | sample           |
TS-04    | main     | N S     | panel-fr-phenolic        | specified        |
TS-04    | main     | E W     | panel-mineral-wool-bare  | whole            |
TS-04    | spandrel | N S     | glass-spandrel           | drawn            |
TS-04    | balcony  | W       | balcony-wpc              | hole             |
TS-05    | main     | N S     | slip-wool                | drawn            |
TS-05    | main     | E       | slip-wool                | conflict         | brick-pir
TS-05    | main     | W       | slip-wool-other-board    | whole            |
TS-05    | gable    | C       | stone-phenolic           | hole             |
TS-05    | infill   | N S C   | infill-glass-pir         | hole             |
TS-06    | main     | T       | fibre-cement-glass-wool  | whole            |
TS-06    | main     | C       | fibre-cement-glass-wool  | certificate      |
TS-06    | top      | T C     | panel-pe-wool            | specified        |
TS-06    | canopy   | T       | balcony-aluminium        | never            |
TS-07    | main     | N S     | panel-mineral-wool       | whole            |
TS-07    | main     | E W     | panel-mineral-wool       | drawn+outside    |
TS-07    | balcony  | S       | balcony-wpc              | outside          |
TS-07    | podium   | N S     | brick-pir                | never            |
HC-01    | main     | N       | panel-mineral-wool-80    | measured         |
HC-01    | main     | E       | panel-mineral-wool       | drawn            |
HC-01    | main     | S       | panel-mineral-wool-80    | whole            |
HC-01    | main     | W       | panel-mineral-wool       | measured         |
HC-01    | spandrel | N S     | glass-spandrel           | outside          |
HC-01    | link     | C       | sandwich-pir             | drawn            |
HC-02    | main     | N S     | panel-mineral-pir        | no-barriers-seen |
HC-02    | main     | E W     | panel-mineral-pir        | drawn            |
HC-02    | stair    | C       | brick-pir                | hole             |
HC-02    | canopy   | T       | balcony-aluminium        | outside          |
HC-03    | main     | N E S W | sandwich-pir             | outside          |
HC-03    | link     | C       | glass-spandrel           | whole            |
HC-04    | main     | N S     | timber-wool              | outside          |
HC-04    | gable    | E W     | brick-pir                | planned          |
HC-05    | main     | N S     | render-eps               | outside          |
HC-05    | main     | E W     | render-eps               | no-barriers-seen |
HC-05    | balcony  | S       | balcony-timber           | outside          |
HC-06    | main     | N S     | panel-fr-pir             | specified        |
HC-06    | main     | E W     | panel-fr-pir             | foam-seen        |
HC-06    | infill   | N S     | infill-upvc              | hole             |
HC-06    | balcony  | S W     | balcony-wpc              | never            |
HC-07    | main     | T       | aluminium-wool-200       | whole            |
HC-07    | main     | C       | aluminium-wool           | outside          |
HC-07    | spandrel | T C     | infill-glass-pir         | planned          |
HC-08    | main     | N S     | terracotta-phenolic      | drawn            |
HC-08    | main     | E       | terracotta-wool-100      | whole            |
HC-08    | main     | W       | terracotta-phenolic      | hole             |
""")

"""Reading drawings back, and strategies for the records they are drawn from."""

from xml.etree import ElementTree

from hypothesis import strategies as st

from portfolio.drawings.bars import BarRow, BarSegment, PlainBar, PlainBars, StackedBars
from portfolio.drawings.elevation import DrawnFace, DrawnZone, ElevationDrawing
from portfolio.drawings.marks import ANSWERS, COVERAGES, KINDS
from portfolio.drawings.section import DrawnBarrier, DrawnLayer, SectionDrawing

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = '<script>alert("x")</script> & \x00\x1b ]]> " onload=\'y\' \ud800 ﷽'

words = st.one_of(st.text(max_size=60), st.just(HOSTILE), st.just("W" * 200))
answers = st.sampled_from([None, *ANSWERS])
coverages = st.sampled_from(list(COVERAGES))
amounts = st.one_of(st.just(0.0), st.floats(0, 1e9), st.integers(0, 500).map(float))
links = st.sampled_from([None, "/zones/7", "javascript:alert(1)", "//elsewhere.example", "#z"])

layers = st.builds(
    DrawnLayer,
    role=st.sampled_from(["lining", "cavity", "facing", "finish", ""]),
    label=words,
    thickness_mm=st.one_of(st.none(), st.floats(0, 2000)),
    kind=st.sampled_from(list(KINDS)),
    answer=answers,
    note=words,
    is_known=st.booleans(),
    present=st.booleans(),
    key=st.sampled_from(["", "a", "b"]),
)
barriers = st.builds(DrawnBarrier, label=words, answer=answers, known=st.booleans())
sections = st.builds(
    SectionDrawing,
    name=words,
    layers=st.lists(layers, max_size=30).map(tuple),
    barriers=st.lists(barriers, max_size=4).map(tuple),
)
storeys = st.one_of(st.none(), st.integers(-3, 40))
zones = st.builds(
    DrawnZone,
    ref=words,
    label=words,
    coverage=coverages,
    from_storey=storeys,
    to_storey=storeys,
    area_m2=st.one_of(st.none(), amounts),
    href=links,
)
faces = st.builds(DrawnFace, name=words, zones=st.lists(zones, max_size=8).map(tuple))
elevations = st.builds(
    ElevationDrawing,
    name=words,
    faces=st.lists(faces, max_size=5).map(tuple),
    storeys=st.one_of(st.none(), st.integers(1, 60)),
    top_floor_height_m=st.one_of(st.none(), st.floats(0, 200)),
    lines=st.lists(st.tuples(st.floats(0, 200), words), max_size=4).map(tuple),
)
segments = st.builds(BarSegment, coverage=coverages, amount=amounts, href=links)
stacked = st.builds(
    StackedBars,
    title=words,
    rows=st.lists(
        st.builds(
            BarRow, label=words, segments=st.lists(segments, max_size=8).map(tuple), href=links
        ),
        max_size=6,
    ).map(tuple),
    unit=st.sampled_from(["", "m²"]),
)
plain = st.builds(
    PlainBars,
    title=words,
    rows=st.lists(st.builds(PlainBar, label=words, amount=amounts, href=links), max_size=6).map(
        tuple
    ),
    unit=st.sampled_from(["", "zones"]),
)


def parsed(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)


def shapes(svg: str, class_: str, tag: str = "rect") -> list[ElementTree.Element]:
    """The shapes of a drawing that have the class."""
    return [
        shape
        for shape in parsed(svg).iter(f"{SVG}{tag}")
        if class_ in shape.get("class", "").split()
    ]


def widths(svg: str, class_: str) -> list[float]:
    return [float(shape.get("width", "nan")) for shape in shapes(svg, class_)]


def told(svg: str) -> str:
    """The description of a drawing."""
    return parsed(svg).findtext(f"{SVG}desc") or ""


def written(svg: str) -> str:
    """Every word that is drawn, joined by spaces; hovering texts are left out."""
    return " ".join(tspan.text or "" for tspan in parsed(svg).iter(f"{SVG}tspan"))

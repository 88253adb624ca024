"""Reading drawings back, and strategies for the records they are drawn from."""

from xml.etree import ElementTree

from hypothesis import strategies as st

from portfolio.drawings.bars import BarRow, BarSegment, PlainBar, PlainBars, StackedBars
from portfolio.drawings.elevation import DrawnFace, DrawnZone, ElevationDrawing
from portfolio.drawings.heights import DrawnClaim, HeightsDrawing
from portfolio.drawings.marks import ANSWERS, COVERAGES, KINDS
from portfolio.drawings.range_bar import RangeBar
from portfolio.drawings.rig import DrawnChannel, RigDrawing
from portfolio.drawings.section import DrawnBarrier, DrawnLayer, SectionDrawing
from portfolio.drawings.trace_chart import DrawnLimit, DrawnMoment, DrawnTrace, TraceChart

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
heights = st.builds(
    HeightsDrawing,
    title=words,
    claims=st.lists(
        st.builds(
            DrawnClaim,
            label=words,
            low_m=st.floats(-5, 300),
            high_m=st.floats(-5, 300),
            is_estimate=st.booleans(),
        ),
        max_size=6,
    ).map(tuple),
    thresholds_m=st.lists(st.floats(0.1, 100), max_size=4).map(tuple),
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


seconds = st.floats(-1000, 1e6)
degrees = st.floats(-60, 1400)


@st.composite
def drawn_traces(draw: st.DrawFn) -> DrawnTrace:
    """Any trace, its times in order or not, with readings missing here and there."""
    times = draw(st.lists(seconds, max_size=40))
    readings = [draw(st.one_of(st.none(), degrees)) for _ in times]
    return DrawnTrace(draw(words), tuple(times), tuple(readings))


trace_charts = st.builds(
    TraceChart,
    title=words,
    traces=st.lists(drawn_traces(), max_size=12).map(tuple),
    limits=st.lists(
        st.builds(DrawnLimit, words, degrees, seconds, st.one_of(st.none(), seconds)), max_size=2
    ).map(tuple),
    moments=st.lists(st.builds(DrawnMoment, words, seconds), max_size=6).map(tuple),
)
drawn_channels = st.builds(
    DrawnChannel,
    label=words,
    level=st.sampled_from([1, 2, 3]),
    row=st.sampled_from(["external", "internal, cavity", HOSTILE]),
    face=st.sampled_from(["main", "wing", ""]),
    position_mm=st.one_of(st.none(), st.floats(-1300, 1300)),
    rise_k=st.one_of(st.none(), st.floats(-100, 1400)),
    is_over=st.booleans(),
)
rigs = st.builds(
    RigDrawing,
    title=words,
    levels=st.lists(st.tuples(st.sampled_from([1, 2, 3]), words), max_size=3).map(tuple),
    channels=st.lists(drawn_channels, max_size=40).map(tuple),
)


@st.composite
def _range_bar(draw: st.DrawFn) -> RangeBar:
    gaps = draw(st.integers(min_value=1, max_value=1_000_000))
    first, place, last = sorted(draw(st.integers(1, gaps)) for _ in range(3))
    return RangeBar("Its place", place, first, last, gaps)


range_bars = _range_bar()

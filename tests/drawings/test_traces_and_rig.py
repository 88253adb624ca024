"""The temperature chart and the rig say what they were given, with and without colour."""

import re
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.drawings.rig import DrawnChannel, RigDrawing, rig
from portfolio.drawings.text import text_width
from portfolio.drawings.trace_chart import (
    DrawnLimit,
    DrawnMoment,
    DrawnTrace,
    TraceChart,
    trace_chart,
)
from portfolio.drawings.trace_lines import stretches, thinned, thinned_trace
from tests.drawings.support import SVG, drawn_traces, parsed


def texts(svg: str) -> list[str]:
    return [line.text or "" for line in parsed(svg).iter(f"{SVG}tspan")]


def paths(svg: str) -> list[str]:
    return [
        p.get("d", "") for p in parsed(svg).iter(f"{SVG}path") if p.get("class") == "trace-line"
    ]


def chart(*traces: DrawnTrace, limits: tuple[DrawnLimit, ...] = ()) -> str:
    moments = (DrawnMoment("ts 2:00", 120.0),)
    return trace_chart(TraceChart("Level 2", traces, limits, moments), id_prefix="c")


def test_a_gap_breaks_the_line() -> None:
    times = (0.0, 10.0, 20.0, 60.0, 70.0)  # 40 s apart is a gap, and so is a missing reading
    assert len(paths(chart(DrawnTrace("TC1", times, (20.0,) * 5)))) == 2
    assert len(paths(chart(DrawnTrace("TC1", times[:3], (20.0, None, 20.0))))) == 2


def test_a_single_reading_is_still_drawn() -> None:
    (path,) = paths(chart(DrawnTrace("TC1", (0.0,), (20.0,))))
    assert re.fullmatch(r"M([\d. ]+) L\1", path)


def test_limits_moments_and_channels_are_told_in_words() -> None:
    svg = chart(
        DrawnTrace("TC1, main face", (0.0, 60.0), (20.0, 700.0)),
        limits=(DrawnLimit("600 K over Ts = 618 °C", 618.0, 0.0, 900.0),),
    )
    shown = texts(svg)
    for words in ("limit: 600 K over Ts = 618 °C", "ts 2:00", "TC1, main face", "1"):
        assert words in shown
    assert "highest 700 °C at 1.0" in (parsed(svg).findtext(f"{SVG}desc") or "")


def test_traces_differ_in_dash_as_well_as_in_colour() -> None:
    svg = chart(*(DrawnTrace(f"TC{n}", (0.0, 60.0), (20.0, n * 10.0)) for n in range(40)))
    looks = [
        (p.get("stroke"), p.get("stroke-dasharray"))
        for p in parsed(svg).iter(f"{SVG}path")
        if p.get("class") == "trace-line"
    ]
    assert len(set(looks)) == 40  # 7 colours and 6 dashes have no common divisor: 42 looks


@given(drawn_traces(), st.floats(1, 1000))
def test_thinning_keeps_every_peak_and_trough(trace: DrawnTrace, step: float) -> None:
    for points in stretches(trace, 1e9):
        kept = [value for _, value in thinned(points, step)]
        assert (min(kept), max(kept)) == (
            min(value for _, value in points),
            max(value for _, value in points),
        )


@st.composite
def ordered_traces(draw: st.DrawFn) -> DrawnTrace:
    """A trace of a clock that goes forward, as a log's part that is used."""
    times = sorted(draw(st.sets(st.floats(-1e4, 1e4), max_size=60)))
    readings = [draw(st.none() | st.floats(-50, 1400)) for _ in times]
    return DrawnTrace("TC1", tuple(times), tuple(readings))


@given(ordered_traces(), st.floats(15, 1000), st.floats(1, 1000))
def test_a_thinned_trace_loses_no_peak_and_keeps_order_ends_and_gaps(
    trace: DrawnTrace, gap: float, step: float
) -> None:
    whole, found = stretches(trace, gap), thinned_trace(trace, gap, step)
    kept = [
        (time, reading)
        for time, reading in zip(found.times_s, found.readings_c, strict=True)
        if reading is not None
    ]
    points = [point for stretch in whole for point in stretch]
    # only what was read, in its order
    assert set(kept) <= set(points)
    assert [time for time, _ in kept] == sorted(time for time, _ in kept)
    for stretch in whole:
        within = [point for point in kept if stretch[0][0] <= point[0] <= stretch[-1][0]]
        assert (within[0], within[-1]) == (stretch[0], stretch[-1])
        readings = [reading for _, reading in within]
        assert max(readings) == max(reading for _, reading in stretch)
        assert min(readings) == min(reading for _, reading in stretch)
    # one break between two stretches, and no other
    assert found.readings_c.count(None) == max(len(whole) - 1, 0)


def test_of_each_step_the_first_lowest_highest_and_last_reading_are_kept() -> None:
    readings = (20.0, 25.0, 900.0, 30.0, 10.0, 35.0, 40.0)
    trace = DrawnTrace("TC1", tuple(float(at) for at in range(7)), readings)
    found = thinned_trace(trace, 15.0, 60.0)
    assert found.times_s == (0.0, 2.0, 4.0, 6.0)
    assert found.readings_c == (20.0, 900.0, 10.0, 40.0)


def test_a_gap_stays_a_gap_when_a_trace_is_thinned() -> None:
    trace = DrawnTrace("TC1", (0.0, 5.0, 10.0, 300.0), (20.0, None, 30.0, 40.0))
    found = thinned_trace(trace, 15.0, 60.0)
    assert found.times_s == (0.0, 5.0, 10.0, 155.0, 300.0)
    assert found.readings_c == (20.0, None, 30.0, None, 40.0)


@given(drawn_traces())
def test_no_stretch_bridges_a_gap(trace: DrawnTrace) -> None:
    for points in stretches(trace, 15.0):
        assert all(0 < later[0] - earlier[0] <= 15 for earlier, later in pairwise(points))


def test_a_trace_has_a_reading_a_time() -> None:
    with pytest.raises(ValueError, match="None for a gap"):
        DrawnTrace("TC1", (0.0, 1.0), (20.0,))


LEVELS = ((1, "level 1, 2.5 m above the opening"), (2, "level 2, 5 m above the opening"))


def drawn(*channels: DrawnChannel) -> str:
    return rig(RigDrawing("Rises 10:00 after ignition", LEVELS, channels), id_prefix="r")


def boxes(svg: str) -> list[dict[str, str]]:
    return [
        dict(box.attrib)
        for box in parsed(svg).iter(f"{SVG}rect")
        if box.get("class", "").startswith("channel-box")
    ]


def test_every_channel_says_its_rise_in_numbers() -> None:
    svg = drawn(
        DrawnChannel("TC1", 1, "external", "main", 0.0, 611.6, is_over=True),
        DrawnChannel("TC2", 2, "external", "wing", 150.0, None),
    )
    shown = texts(svg)
    assert {"TC1", "611", "0", "TC2", "–", "+150"} <= set(shown)
    over, other = sorted(boxes(svg), key=lambda box: -float(box["stroke-width"]))
    assert "over" in over["class"].split()
    assert "over" not in other["class"].split()
    told = parsed(svg).findtext(f"{SVG}desc") or ""
    assert "TC1, external, main face at 0 mm: a rise of 611 K, over the limit" in told
    assert "TC2, external, wing at 150 mm: no reading" in told


def test_channels_stand_in_order_of_position_and_never_on_each_other() -> None:
    places = (500.0, -1000.0, 0.0, 1000.0, -500.0)
    svg = drawn(*(DrawnChannel("TC", 1, "external", "main", at, 10.0) for at in places))
    found = sorted((float(b["y"]), float(b["x"])) for b in boxes(svg))
    assert len(set(found)) == 5
    in_text = [text for text in texts(svg) if text in {"0", *(f"{at:+g}" for at in places)}]
    assert in_text == ["-1000", "-500", "0", "+500", "+1000"]


@given(st.floats(-50, 1400))
def test_a_rise_is_written_as_a_number_of_the_band_that_its_ground_shows(rise: float) -> None:
    def ground(number: float) -> str:
        (box,) = boxes(drawn(DrawnChannel("TC", 1, "external", "main", None, number)))
        return box["fill"]

    svg = drawn(DrawnChannel("TC", 1, "external", "main", None, rise))
    number = texts(svg)[texts(svg).index("TC") + 1]
    assert number != "-0"
    assert ground(float(number)) == ground(rise)


@pytest.mark.parametrize("count", [2, 8, 30])
def test_names_that_begin_alike_are_told_apart(count: int) -> None:
    names = [f"Thermocouple number {at}" for at in range(count)]
    shown = texts(drawn(*(DrawnChannel(one, 1, "external", "main", 0.0, 1.0) for one in names)))
    assert len({text for text in shown if text.startswith("…")}) == count


@pytest.mark.parametrize("faces", [("main", "wing"), ("main", "wing", "")])
def test_no_caption_reaches_into_the_frame_of_another_face(faces: tuple[str, ...]) -> None:
    row = "internal, the cavity behind the outer insulation of the wall"
    svg = drawn(*(DrawnChannel(f"T{at}", 2, row, at, 0.0, 1.0) for at in faces))
    frames = [box for box in parsed(svg).iter(f"{SVG}rect") if box.get("class") == "face"]
    first = min(frames, key=lambda box: float(box.get("x", "0")))
    edge = float(first.get("x", "0")) + float(first.get("width", "0"))
    words = {*row.split(), *LEVELS[0][1].split(), *LEVELS[1][1].split()}
    captions = [
        line
        for line in parsed(svg).iter(f"{SVG}tspan")
        if line.text and set(line.text.split()) <= words
    ]
    assert len(captions) > 4
    for line in captions:
        assert float(line.get("x", "0")) + text_width(line.text or "", 11.0) <= edge


def test_the_key_of_a_chart_names_the_whole_place_of_a_channel() -> None:
    place = "TC17, level 2, internal, wing, -1500 mm, the cavity behind the outer insulation"
    shown = " ".join(texts(chart(DrawnTrace(place, (0.0, 60.0), (20.0, 30.0)))))
    assert place in shown


@pytest.mark.parametrize("count", [1, 7, 20])
def test_a_line_leads_from_the_end_of_each_trace_to_its_number(count: int) -> None:
    readings = [20.0 + at * 0.5 for at in range(count)]
    svg = chart(*(DrawnTrace(f"T{at}", (0.0, 10.0), (20.0, at)) for at in readings))
    leaders = [one for one in parsed(svg).iter(f"{SVG}line") if one.get("class") == "leader"]
    ends = sorted(float(path.rpartition(" ")[2]) for path in paths(svg))
    starts = sorted(float(one.get("y1", "0")) for one in leaders)
    assert starts == pytest.approx(ends, abs=0.1)
    places = sorted(float(one.get("y2", "0")) for one in leaders)
    assert all(later - earlier >= 11 for earlier, later in pairwise(places))


def test_a_channel_without_a_face_is_drawn_apart() -> None:
    assert "face not told" in texts(drawn(DrawnChannel("TC1", 1, "external", "", None, 5.0)))
    assert "face not told" not in texts(drawn())

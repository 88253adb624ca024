"""What holds for any log: nothing that takes knowledge away, or heats the wall, makes it better."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from portfolio.domain.classified import Classified
from portfolio.domain.evidence import Answer3
from portfolio.domain.traces import Channel, Face, Floats, Log, Side
from tests.domain.invented_log import annex, classified

BEST_FIRST = (Answer3.MET, Answer3.UNKNOWN, Answer3.NOT_MET)
SPREADS = ("external-spread", "internal-spread")
BASELINE = 31
"""Samples of 10 s from 5 min before ignition to ignition itself."""
SAMPLES = 105
"""Of 10 s after ignition: past the window and a hold, when ts is early."""
SLOW = settings(max_examples=100, deadline=None)

rises = st.one_of(
    st.integers(0, 60), st.integers(150, 250), st.integers(0, 250), st.integers(590, 640)
)


@st.composite
def courses(draw: st.DrawFn, *, hot: bool = False) -> Floats:
    """Levels held for some samples each, so that holds near 30 s are common; then a slow drift."""
    found: list[float] = []
    is_calm = draw(st.sampled_from([True, True, True, False]))
    while len(found) < SAMPLES:
        rise = draw(rises)
        # a calm course is over 600 K for 40 s at most between its neighbours, else answers of
        # "met" and "cannot be told" would be rare
        lengths = [1, 1, 1, 2, 3] if is_calm and rise > 600 else [1, 2, 3, 4, 5, 20, 60]
        found += [float(rise)] * draw(st.sampled_from(lengths))
    if hot:
        found[5:] = [max(rise, 210.0) for rise in found[5:]]
    # whole hundredths, so that every number below is exact to six decimals
    return np.round(np.array(found[:SAMPLES]) + np.arange(SAMPLES) / 100, 2)


def channel(
    name: str, place: tuple[int, Side, Face], course: Floats, *, ambient: float = 18.0
) -> Channel:
    level, side, face = place
    before = np.full(BASELINE, ambient)
    return Channel(name, level, side, face, np.round(np.append(before, ambient + course), 2))


PLACES = {
    "one": (1, Side.EXTERNAL, Face.MAIN),
    "one-wing": (1, Side.EXTERNAL, Face.WING),
    "two": (2, Side.EXTERNAL, Face.MAIN),
    "two-wing": (2, Side.EXTERNAL, Face.WING),
    "two-inside": (2, Side.INTERNAL, Face.MAIN),
}


@st.composite
def logs(draw: st.DrawFn) -> Log:
    """Any fire on five channels, with level 1 hot early most of the time."""
    times = np.arange(BASELINE + SAMPLES, dtype=float) * 10
    hot = draw(st.sampled_from([True, True, False]))
    channels = tuple(
        channel(name, place, draw(courses(hot=hot and name == "one")))
        for name, place in PLACES.items()
    )
    return Log(times, channels, 300.0)


def answers(found: Classified) -> tuple[Answer3, ...]:
    by_key = {one.key: one.answer for one in found.findings}
    return tuple(by_key[key] for key in SPREADS)


def no_better(after: Sequence[Answer3], before: Sequence[Answer3]) -> bool:
    """Whether no answer got better than it was."""
    pairs = zip(after, before, strict=True)
    return all(BEST_FIRST.index(a) >= BEST_FIRST.index(b) for a, b in pairs)


def changed(log: Log, name: str, readings: Floats) -> Log:
    return replace(
        log,
        channels=tuple(
            replace(c, readings_c=readings) if c.name == name else c for c in log.channels
        ),
    )


@SLOW
@given(logs())
def test_every_finding_gives_a_reason_and_a_source(log: Log) -> None:
    for one in classified(log).findings:
        assert one.reason
        assert one.basis.source


@SLOW
@given(logs(), st.integers(-100_000, 100_000))
def test_when_the_logger_was_switched_on_does_not_matter(log: Log, shift: int) -> None:
    moved = replace(log, times_s=log.times_s + shift, ignition_s=300.0 + shift)
    before, after = classified(log), classified(moved)
    assert answers(after) == answers(before)
    assert after.from_ignition(after.start_time.read_s) == before.from_ignition(
        before.start_time.read_s
    )


@SLOW
@given(logs(), st.integers(-30, 40))
def test_a_warmer_day_does_not_matter(log: Log, offset: int) -> None:
    warmer = tuple(replace(c, readings_c=np.round(c.readings_c + offset, 2)) for c in log.channels)
    assert answers(classified(replace(log, channels=warmer))) == answers(classified(log))


@SLOW
@given(logs(), st.permutations(range(len(PLACES))))
def test_the_order_of_the_channels_does_not_matter(log: Log, order: list[int]) -> None:
    turned = replace(log, channels=tuple(log.channels[at] for at in order))
    before, after = classified(log), classified(turned)
    assert after.findings == before.findings
    assert after.start_time == before.start_time


@SLOW
@given(logs(), st.sampled_from([2, 4, 5]))
def test_sampling_finer_along_the_same_lines_keeps_what_was_told(log: Log, times: int) -> None:
    finer = np.arange(log.times_s[0], log.times_s[-1] + 0.5, 10 / times)
    channels = tuple(
        replace(c, readings_c=np.interp(finer, log.times_s, c.readings_c)) for c in log.channels
    )
    after = answers(classified(replace(log, times_s=finer, channels=channels)))
    before = answers(classified(log))
    assert [b for a, b in zip(after, before, strict=True) if b is not Answer3.UNKNOWN] == [
        a for a, b in zip(after, before, strict=True) if b is not Answer3.UNKNOWN
    ]


@SLOW
@given(logs(), st.sampled_from([(2, Side.EXTERNAL), (2, Side.INTERNAL)]), courses())
def test_one_more_channel_at_level_2_makes_nothing_better(
    log: Log, place: tuple[int, Side], course: Floats
) -> None:
    """At level 1 it may: one that is hot earlier starts the clock earlier, and ends it earlier."""
    more = replace(log, channels=(*log.channels, channel("more", (*place, Face.MAIN), course)))
    assert no_better(answers(classified(more)), answers(classified(log)))


@SLOW
@given(
    logs(),
    st.sampled_from(sorted(PLACES)),
    st.integers(BASELINE, BASELINE + SAMPLES - 1),
    st.integers(1, 40),
)
def test_readings_that_are_lost_after_ignition_never_make_it_met(
    log: Log, name: str, first: int, count: int
) -> None:
    (lossy,) = [c.readings_c.copy() for c in log.channels if c.name == name]
    lossy[first : first + count] = np.nan
    after = answers(classified(changed(log, name, lossy)))
    before = answers(classified(log))
    assert all(a is not Answer3.MET or b is Answer3.MET for a, b in zip(after, before, strict=True))


@SLOW
@given(logs(), st.sets(st.integers(BASELINE, BASELINE + SAMPLES - 1), min_size=1, max_size=60))
def test_samples_that_are_lost_after_ignition_never_make_it_met(log: Log, lost: set[int]) -> None:
    kept = np.array([at not in lost for at in range(len(log.times_s))])
    fewer = replace(
        log,
        times_s=log.times_s[kept],
        channels=tuple(replace(c, readings_c=c.readings_c[kept]) for c in log.channels),
    )
    before = answers(classified(log))
    after = answers(classified(fewer))
    assert all(a is not Answer3.MET or b is Answer3.MET for a, b in zip(after, before, strict=True))


@SLOW
@given(logs(), st.sampled_from(["two", "two-wing", "two-inside"]), st.data())
def test_a_hotter_level_2_makes_nothing_better(log: Log, name: str, data: st.DataObject) -> None:
    (readings,) = [c.readings_c for c in log.channels if c.name == name]
    first = data.draw(st.integers(BASELINE, BASELINE + SAMPLES - 1))
    last = data.draw(st.integers(first, BASELINE + SAMPLES - 1))
    hotter = readings.copy()
    hotter[first : last + 1] += data.draw(st.integers(1, 600))
    assert no_better(answers(classified(changed(log, name, hotter))), answers(classified(log)))


# Brute force: whatever could have happened between the samples, tried one by one.

FINE = 1.0


def _could_be(readings: Floats, *, worst: bool) -> Floats:
    """On a grid of 1 s, the hottest or coldest that the samples every 10 s let the wall have been.

    Between two samples it may have been as hot as the hotter one and as cold as the colder, up to
    the sample beside; what was not looked at is not invented hotter than that.
    """
    left, right = readings[:-1], readings[1:]
    between = np.maximum(left, right) if worst else np.minimum(left, right)
    grid = np.repeat(between, 10)
    grid[::10] = left
    return np.append(grid, readings[-1])


def _failing_starts(rises: Floats, *, over: float, hold: int) -> list[int]:
    """Seconds at which a run over the limit begins that holds long enough, read one by one."""
    found, run = [], 0
    for second, rise in enumerate(rises):
        run = run + 1 if rise > over else 0
        if run == hold + 1:
            found.append(second - hold)
    return found


@SLOW
@given(logs())
def test_no_reading_of_what_happened_between_the_samples_contradicts_the_answer(log: Log) -> None:
    """A naive judge second by second, on the hottest and on the coldest course there can be."""
    rule = annex("B").spreads[0]
    (one,) = [c.readings_c[BASELINE - 1 :] - 18.0 for c in log.channels if c.name == "one"]
    (wing,) = [c.readings_c[BASELINE - 1 :] - 18.0 for c in log.channels if c.name == "one-wing"]
    told = answers(classified(log))[0]
    for worst in (True, False):
        starts = [
            start
            for level in (one, wing)
            for start in _failing_starts(_could_be(level, worst=worst), over=199.999, hold=30)
        ]
        failing = [
            start
            for c in log.channels
            if (c.level, c.side) == (2, Side.EXTERNAL)
            for start in _failing_starts(
                _could_be(c.readings_c[BASELINE - 1 :] - 18.0, worst=worst), over=600.0, hold=30
            )
        ]
        if not starts:
            continue
        fails = any(start <= min(starts) + rule.window_s for start in failing)
        assert told is not (Answer3.MET if fails else Answer3.NOT_MET)

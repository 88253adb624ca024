"""Clocks that jump, channels that stop, times that cannot be: none of it acquits."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from portfolio.domain.evidence import LONGEST_RUN_S, Answer3
from portfolio.domain.log_answers import answers_of
from portfolio.domain.observations import Observation, Sight, joined
from portfolio.domain.traces import INTERRUPTED_S, Floats, Log
from tests.domain.invented_log import (
    NOTHING_SEEN,
    annex,
    classified,
    finding,
    make_log,
    stretch,
    with_readings,
)
from tests.domain.test_classifying_properties import SLOW, answers, changed, logs

MET, NOT_MET, UNKNOWN = Answer3.MET, Answer3.NOT_MET, Answer3.UNKNOWN
CRIB_S = annex("B").crib_s


def watched(*seen: Observation) -> tuple[Observation, ...]:
    """Nothing seen but this."""
    kinds = {one.sight for one in seen}
    return (*(one for one in NOTHING_SEEN if one.sight not in kinds), *seen)


def run_time(log: Log, seen: Sequence[Observation] = NOTHING_SEEN) -> object:
    (found,) = [
        one.value for one in answers_of(classified(log, seen), log) if one.field == "run_seconds"
    ]
    return found


# What was seen at a time that the record does not hold.


@given(
    st.floats(-7200, 90_000),
    st.one_of(st.none(), st.floats(0, 7200)),
    st.one_of(st.none(), st.floats(0.1, 3)),
)
def test_a_burn_through_at_a_time_outside_the_record_acquits_nobody(
    since: float, lasted: float | None, height: float | None
) -> None:
    log = make_log(until=2100.0, step=10.0)
    until = None if lasted is None else since + lasted
    assume(since < 0 or max(since, until or since) > 2100 + INTERRUPTED_S)
    seen = Observation(Sight.BURN_THROUGH, True, since, until, height)
    found = classified(log, watched(seen))
    assert finding(found, "burn-through").answer is not MET
    assert any(remark.startswith("Burn through is told") for remark in found.remarks)


@pytest.mark.parametrize("sight", [Sight.FLAMES_ABOVE_RIG, Sight.EARLY_END])
@pytest.mark.parametrize("at", [-60.0, 2161.0, 30_000.0])
def test_a_failure_told_for_a_time_outside_the_record_stays_one(sight: Sight, at: float) -> None:
    found = classified(make_log(until=2100.0), watched(Observation(sight, True, at)))
    assert finding(found, sight.value).answer is NOT_MET


@given(
    st.sampled_from(sorted(Sight)), st.floats(0, 90_000), st.one_of(st.none(), st.floats(0, 7200))
)
def test_no_run_is_shorter_than_the_last_thing_seen(
    sight: Sight, since: float, lasted: float | None
) -> None:
    log = make_log(until=2100.0, step=10.0)
    until = None if lasted is None or sight is Sight.EARLY_END else since + lasted
    ran = run_time(log, watched(Observation(sight, True, since, until)))
    last = since if until is None else until
    assert ran is None or (isinstance(ran, int) and ran >= int(last))


@pytest.mark.parametrize(("at", "ran"), [(465.0, 465), (520.0, 520), (27_900.0, None), (-1, None)])
def test_an_early_end_far_from_the_record_tells_no_run_time(at: float, ran: int | None) -> None:
    assert run_time(make_log(until=465.0), watched(Observation(Sight.EARLY_END, True, at))) == ran


# Lines that follow each other.


@given(
    st.integers(0, 1100),
    st.lists(st.integers(0, 70), min_size=1, max_size=5),
    st.permutations(range(5)),
)
def test_how_often_a_flaming_is_written_down_changes_nothing(
    first: int, lengths: list[int], order: list[int]
) -> None:
    log = make_log(step=10.0)
    ends = np.cumsum([first, *lengths]).tolist()
    lines = [
        Observation(Sight.BURN_THROUGH, True, float(a), float(b))
        for a, b in zip(ends[:-1], ends[1:], strict=True)
    ]
    shuffled = [lines[at] for at in order if at < len(lines)]
    whole = Observation(Sight.BURN_THROUGH, True, float(ends[0]), float(ends[-1]))
    (apart, together) = (
        finding(classified(log, watched(*seen)), "burn-through") for seen in (shuffled, [whole])
    )
    assert (apart.answer, apart.measured) == (together.answer, together.measured)


@pytest.mark.parametrize(
    ("second", "expected"),
    [
        ((230.0, 280.0, 1.0), NOT_MET),  # 180 to 280 s
        ((231.0, 281.0, 1.0), NOT_MET),  # written to the second
        ((220.0, None, 1.0), UNKNOWN),  # it goes on, nobody wrote how long
        ((232.0, 280.0, 1.0), MET),  # a pause
        ((230.0, 280.0, 0.2), MET),  # high enough for 50 s only
        ((230.0, 280.0, None), NOT_MET),
    ],
)
def test_two_lines_are_one_flaming_where_nothing_parts_them(
    second: tuple[float, float | None, float | None], expected: Answer3
) -> None:
    lines = (
        Observation(Sight.BURN_THROUGH, True, 180.0, 230.0, 1.0),
        Observation(Sight.BURN_THROUGH, True, *second),
    )
    found = classified(make_log(), watched(*lines))
    assert finding(found, "burn-through").answer is expected


def test_joined_lines_keep_their_notes_and_one_without_a_beginning_stays() -> None:
    lines = (
        Observation(Sight.BURN_THROUGH, True, 10.0, 20.0, note="left"),
        Observation(Sight.BURN_THROUGH, True, 20.0, 30.0, note="right"),
        Observation(Sight.BURN_THROUGH, True, None, 25.0),
    )
    (one, apart) = joined(lines)
    assert (one.from_s, one.until_s, one.note) == (10.0, 30.0, "left; right")
    assert apart is lines[2]


# Clocks.


def odd_at(log: Log, at: int, time: float) -> Log:
    times = log.times_s.copy()
    times[at] = time
    return replace(log, times_s=times)


@SLOW
@given(logs(), st.data())
def test_one_odd_time_never_makes_it_met(log: Log, data: st.DataObject) -> None:
    at = data.draw(st.integers(31, len(log.times_s) - 2))
    beside = (float(log.times_s[at - 1]), float(log.times_s[at + 1]))
    time = data.draw(st.floats(-100_000, 200_000).map(round))
    assume(not beside[0] < time < beside[1])
    before, after = answers(classified(log)), answers(classified(odd_at(log, at, time)))
    assert all(a is not MET or b is MET for a, b in zip(after, before, strict=True))


@given(st.integers(0, 1), st.floats(-100_000, 200_000))
def test_one_odd_time_makes_no_record_longer(place: int, time: float) -> None:
    log = make_log(until=CRIB_S - 100, step=10.0)
    at = len(log.times_s) - 1 - place
    assume(time > log.times_s[-1] + INTERRUPTED_S or time < log.times_s[at - 1])
    odd = odd_at(log, at, time)
    assert finding(classified(odd), "early-end").answer is UNKNOWN
    assert run_time(odd) is None


@pytest.mark.parametrize("count", [1, 2, 3, 30])
def test_a_clock_that_leaps_ahead_for_a_while_ends_where_it_leapt(count: int) -> None:
    log = make_log(step=10.0)
    times = log.times_s.copy()
    times[160 : 160 + count] += 80_000  # 1300 s after ignition
    broken = replace(log, times_s=times)
    assert broken.samples_in_order == 160
    assert finding(classified(broken), "early-end").answer is UNKNOWN
    assert run_time(broken) is None


def test_a_log_that_breaks_off_and_goes_on_tells_no_run_time() -> None:
    log = make_log(step=10.0)
    is_kept = (log.times_s <= 2400) | (log.times_s >= 2500)
    cut = Log(
        log.times_s[is_kept],
        tuple(replace(c, readings_c=c.readings_c[is_kept]) for c in log.channels),
        log.ignition_s,
    )
    assert cut.recorded_until_s == 2400
    # 35 min after ignition, longer than the fire of 30 min
    assert finding(classified(cut), "early-end").answer is MET
    assert run_time(cut) is None


def test_rows_without_a_reading_make_no_record_longer() -> None:
    log = make_log(step=10.0)
    for name in [channel.name for channel in log.channels]:
        log = with_readings(log, name, lambda t, c: np.where(t > 1500, np.nan, c))
    assert log.recorded_until_s == 1500
    assert finding(classified(log), "early-end").answer is UNKNOWN


def test_no_run_is_longer_than_a_record_takes() -> None:
    log = make_log(until=LONGEST_RUN_S + 60.0, step=60.0)
    assert run_time(log) is None


# Channels.


@SLOW
@given(logs(), st.sampled_from(["two", "two-wing", "two-inside"]), st.data())
def test_a_channel_that_stops_working_never_makes_it_met(
    log: Log, name: str, data: st.DataObject
) -> None:
    """Frozen at any reading for five minutes or longer, to the end or where the wall is warm."""
    (readings,) = [c.readings_c.copy() for c in log.channels if c.name == name]
    first = data.draw(st.integers(31, len(readings) - 31))
    last = data.draw(st.one_of(st.just(len(readings)), st.integers(first + 31, len(readings))))
    lowest = 18.0 if last == len(readings) else 39.0
    readings[first:last] = data.draw(st.floats(lowest, 1400).map(lambda one: round(one, 1)))
    before, after = answers(classified(log)), answers(classified(changed(log, name, readings)))
    assert all(a is not MET or b is MET for a, b in zip(after, before, strict=True))


Change = Callable[[Floats, Floats], Floats]
NONSENSE: dict[str, Change] = {
    "stopped after 5 min": lambda t, c: np.where(t >= 600, 412.3, c),
    "stopped after 5 min, cold": lambda t, c: np.where(t >= 600, 18.4, c),
    "stopped for 6 min, warm": lambda t, c: np.where((t >= 600) & (t <= 960), 412.3, c),
    "-55 throughout": lambda t, c: -55.0 + t / 10_000,
    "30 K under": lambda t, c: c - 30.0,
    "300 K over": lambda t, c: c + 300.0,
    "falls": lambda t, c: 18.0 - np.maximum(t - 300, 0) * 0.1,
    "falls by 45 K": lambda t, c: 18.0 - np.clip((t - 300) * 0.1, 0, 45) + t / 100_000,
    "polarity": lambda t, c: 36.0 - (c + np.maximum(t - 300, 0) * 0.3),
}


@pytest.mark.parametrize("name", ["L2 main", "L2 wing", "L2 cavity"])
@pytest.mark.parametrize("what", sorted(NONSENSE))
def test_a_channel_that_reads_nonsense_leaves_the_answer_open(what: str, name: str) -> None:
    found = classified(with_readings(make_log(), name, NONSENSE[what]))
    key = "internal-spread" if name == "L2 cavity" else "external-spread"
    assert finding(found, key).answer is UNKNOWN
    assert name in finding(found, key).reason
    (faults,) = [one.faults for one in found.channels if one.channel.name == name]
    assert faults


@pytest.mark.parametrize("name", ["L1 main", "L1 wing"])
@pytest.mark.parametrize("what", sorted(NONSENSE))
def test_a_channel_of_level_1_that_reads_nonsense_hides_no_failure(what: str, name: str) -> None:
    log = make_log({"L1 main": lambda t: np.minimum(np.maximum(t, 0.0) * 2.0, 300.0 + t / 1000)})
    failing = make_log({"L2 main": stretch(700.0, 500, 600), "L1 main": lambda t: t * 2.0 / 10})
    for quiet in (log, failing):
        answer = finding(classified(with_readings(quiet, name, NONSENSE[what]))).answer
        was = finding(classified(quiet)).answer
        assert (answer is MET) <= (was is MET)


@pytest.mark.parametrize("resolution", [0.1, 1.0])
def test_a_channel_that_works_is_not_taken_for_stopped(resolution: float) -> None:
    """However coarse the logger: what stays cool for a while and warms later has not stopped."""
    log = make_log({"L2 main": lambda t: np.maximum(t - 900, 0) * 0.02})
    coarse = with_readings(log, "L2 main", lambda _, c: np.round(c / resolution) * resolution)
    assert finding(classified(coarse)).answer is MET


# The reason that is given.


def test_an_exceedance_that_surely_began_after_the_window_is_no_reason() -> None:
    log = make_log({"L2 main": stretch(700.0, 1500, 2000)}, step=10.0)
    lossy = with_readings(log, "L2 main", lambda t, c: np.where((t > 600) & (t < 700), np.nan, c))
    reason = finding(classified(lossy)).reason
    assert "a gap from 5:00 to 6:40 after ignition" in reason
    assert "within the window" not in reason


def test_a_gap_and_an_exceedance_at_the_edge_are_both_reasons() -> None:
    log = make_log({"L2 main": stretch(700.0, 1000, 2000)})
    lossy = with_readings(log, "L2 main", lambda t, c: np.where((t > 600) & (t < 700), np.nan, c))
    reason = finding(classified(lossy)).reason
    assert "a gap from 5:00 to 6:40 after ignition" in reason
    assert "whether it started within the window cannot be told" in reason


@pytest.mark.parametrize(
    ("levels", "expected"),
    [((3,), "Level 3 is recorded and shown"), ((3, 9), "Levels 3 and 9 are recorded and shown")],
)
def test_levels_without_a_criterion_are_named(levels: tuple[int, ...], expected: str) -> None:
    log = make_log()
    (top,) = [c for c in log.channels if c.level == 3]
    more = [replace(top, name=f"top {level}", level=level) for level in levels]
    rest = [c for c in log.channels if c.level < 3]
    found = classified(replace(log, channels=(*rest, *more)))
    assert any(remark.startswith(expected) for remark in found.remarks)

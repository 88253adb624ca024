"""How long readings prove that a limit was exceeded, and how long they leave open."""

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from portfolio.domain.exceeding import Limit, exceedances, longest, possible_from, proven

LIMIT = Limit(600.0, 30.0)
GAP = 15.0


def arrays(pairs: list[tuple[float, float]]) -> tuple[np.ndarray, np.ndarray]:
    times, rises = zip(*pairs, strict=True)
    return np.array(times, dtype=float), np.array(rises, dtype=float)


def test_crossings_are_interpolated() -> None:
    # from 500 K at 10 s to 700 K at 20 s: through 600 K in the middle, at 15 s; down at 35 s
    (one,) = exceedances(*arrays([(10, 500), (20, 700), (30, 700), (40, 500)]), LIMIT, since_s=0.0)
    assert (one.starts_s, one.ends_s, one.duration_s) == (15.0, 35.0, 20.0)
    assert (one.least_s, one.most_s) == (10.0, 30.0)


def test_a_limit_to_be_exceeded_is_not_exceeded_by_being_reached() -> None:
    times, rises = arrays([(0, 600), (40, 600)])
    assert exceedances(times, rises, LIMIT, since_s=0.0) == ()
    assert exceedances(times, rises, Limit(600.0, 30.0, inclusive=True), since_s=0.0) != ()


def test_an_exceedance_at_the_end_of_the_record_may_go_on_for_ever() -> None:
    (one,) = exceedances(*arrays([(0, 0), (1, 700), (2, 700)]), LIMIT, since_s=0.0)
    assert one.most_s == math.inf


def test_readings_beyond_a_gap_are_another_exceedance() -> None:
    # 16 s apart is more than half the hold: what lies between was not seen
    found = exceedances(*arrays([(0, 700), (10, 700), (26, 700), (56, 700)]), LIMIT, since_s=0.0)
    assert [(one.first_s, one.last_s) for one in found] == [(0, 10), (26, 26), (56, 56)]


def test_nothing_is_interpolated_across_a_gap() -> None:
    (one,) = exceedances(*arrays([(0, 500), (100, 700), (110, 700)]), LIMIT, since_s=0.0)
    assert one.starts_s == 100.0


def test_a_gap_with_nothing_over_the_limit_could_hide_a_hold() -> None:
    times, rises = arrays([(0, 5), (10, 5), (40, 5), (50, 5)])
    assert possible_from(times, rises, LIMIT, since_s=0.0) == (10.0, 40.0)


def test_a_gap_shorter_than_the_hold_hides_none() -> None:
    times, rises = arrays([(0, 5), (29, 5), (58, 5)])
    assert possible_from(times, rises, LIMIT, since_s=0.0) == (58.0, math.inf)


# An independent way to the same numbers: the run lengths of pandas.

readings = st.lists(st.sampled_from([100.0, 599.9, 600.0, 600.1, 650.0]), min_size=1, max_size=80)
LOGS, SAMPLES = 100, 80


@settings(max_examples=100, deadline=None)
@given(st.integers(0, 2**32 - 1), st.sampled_from([1, 5, 10]), st.floats(0.05, 0.95))
def test_the_longest_exceedance_of_10_000_random_logs_agrees_with_run_lengths_of_pandas(
    seed: int, step: int, share: float
) -> None:
    table = np.random.default_rng(seed).random((SAMPLES, LOGS)) < share
    over = pd.DataFrame(table)
    total = over.cumsum()
    runs = (total - total.where(~over).ffill().fillna(0)).max()
    times = np.arange(SAMPLES, dtype=float) * step
    for log, expected in enumerate(runs):
        rises = np.where(table[:, log], 600.1, 600.0)
        found = exceedances(times, rises, LIMIT, since_s=0.0)
        assert max((round(one.least_s / step) + 1 for one in found), default=0) == expected


# Brute force: draw the line between readings on a fine grid and count.

FINE = 0.05


@settings(max_examples=300, deadline=None)
@given(st.lists(st.integers(0, 1200).filter(lambda r: r != 600), min_size=2, max_size=40))
def test_interpolated_durations_agree_with_counting_on_a_fine_grid(rises: list[int]) -> None:
    times = np.arange(len(rises), dtype=float) * 5
    # the middle of each grid step, so that no step is counted twice
    grid = np.arange(FINE / 2, times[-1], FINE)
    over = np.interp(grid, times, np.array(rises, dtype=float)) > 600.0
    edges = np.flatnonzero(np.diff(np.concatenate(([0], over.astype(int), [0]))))
    counted = max((edges[1::2] - edges[::2]).tolist(), default=0) * FINE
    one = longest(exceedances(times, np.array(rises, dtype=float), LIMIT, since_s=0.0))
    # a peak between two readings is no reading over the limit, so there is none on the grid either
    assert (0.0 if one is None else one.duration_s) == pytest.approx(counted, abs=2 * FINE)


@settings(max_examples=500, deadline=None)
@given(readings)
def test_what_is_proven_was_possible_before(rises: list[float]) -> None:
    times = np.arange(len(rises), dtype=float) * 5
    found = exceedances(times, np.array(rises), LIMIT, since_s=0.0)
    since, _ = possible_from(times, np.array(rises), LIMIT, since_s=0.0)
    sure = proven(found, LIMIT)
    assert sure is None or since <= sure.first_s

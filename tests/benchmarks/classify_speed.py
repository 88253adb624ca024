"""How long an hour of 60 channels takes to read, judge, draw and write.

Run by hand: `python -m tests.benchmarks.classify_speed`. The log is invented, and its noise makes
it cross the limits often.
"""

import time
from collections.abc import Callable

import numpy as np

from portfolio.domain.traces import Channel, Face, Log, Side
from portfolio.services.classified_page import page_of
from portfolio.services.classified_workbook import classified_workbook
from portfolio.services.classifying import Asked, LoggerFiles, classify_files
from portfolio.sheets.raw import GivenFile
from tests.domain.invented_log import classified

CHANNELS = 60
PLACES = ((1, Side.EXTERNAL), (2, Side.EXTERNAL), (2, Side.INTERNAL), (3, Side.EXTERNAL))


def noisy_log() -> Log:
    """5 min before ignition and an hour after it, every second."""
    noise = np.random.default_rng(8414)
    times = np.arange(3901, dtype=float)
    channels = []
    for number in range(CHANNELS):
        level, side = PLACES[number % len(PLACES)]
        face = Face.MAIN if number % 2 else Face.WING
        rise = np.maximum(times - 300, 0) * 0.3
        readings = np.round(18 + rise + noise.normal(0, 30, len(times)) * (times > 300), 1)
        channels.append(Channel(f"TC{number}", level, side, face, readings))
    return Log(times, tuple(channels), 300.0)


def as_csv(log: Log) -> bytes:
    """The log as a logger would write it."""
    heads = [f"{c.name}: L{c.level} {c.side.value} {c.face} {c.name[2:]}" for c in log.channels]
    rows = np.column_stack([log.times_s, *(c.readings_c for c in log.channels)]).tolist()
    lines = [",".join(["Time s", *heads]), *(",".join(map(str, row)) for row in rows)]
    return "\n".join(lines).encode()


def timed(what: str, job: Callable[[], object]) -> None:
    """Print how long a job takes."""
    started = time.perf_counter()
    job()
    print(f"{what:<28}{time.perf_counter() - started:6.2f} s")  # noqa: T201


def main() -> None:
    """Time each step."""
    log = noisy_log()
    files = LoggerFiles(GivenFile("log.csv", as_csv(log)), ignition="300")
    done = classify_files(files, Asked(annex="B"))
    timed("judge", lambda: classified(log))
    timed("read and judge", lambda: classify_files(files, Asked(annex="B")))
    timed("page with charts and rig", lambda: page_of(done, None))
    timed("workbook with charts", lambda: classified_workbook(done))


if __name__ == "__main__":
    main()

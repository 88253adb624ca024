"""Measures matching alone, many walls against many tests, beside other ways to the same answers.

By hand only, never a test:
    python -m tests.benchmarks.matching

Zones are given as they were resolved from their surveys, as columns; what comes out is the coverage
and the nearest tests of every zone. Each size runs in a process of its own, whose peak memory is
told with its input. The other ways answer the larger part, which tests are nearest, from the same
compiled tables, and their answers are checked: a loop over pairs for a few walls, merges of pandas,
and SQL in DuckDB (pip install duckdb), as one would write it and once more by the engine's plan:
walls alike compared once, and what is near sought once for all that are alike in what decides.
Loading the tables into DuckDB, and what no test differs in, is left out of its time. pandas follows
the plan too.
Reading means merely fetching the zones' surveys from a SQLite file.
"""

from __future__ import annotations

import json
import pickle
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from portfolio.domain.coverage import Library
from portfolio.domain.evidence import Answer3, Outcome
from portfolio.domain.judging import (
    COVERAGES,
    Judged,
    Walls,
    compile_kinds,
    judge_all,
    judge_kinds,
)
from portfolio.domain.nearest import Keys, Ranked, rank, usable
from portfolio.domain.touching import borne_on
from portfolio.services.coverage import library_of
from tests.benchmarks import nation, other_ways

SIZES = tuple((zones, tests) for zones in (10**4, 10**5, 10**6) for tests in (10**3, 10**4))
COMPARED = (10**4, 10**3), (10**5, 10**3), (10**5, 10**4), (10**6, 10**4)
SAMPLE = 20
"""Walls that the plain loop is asked about."""
STRAIGHT_UP_TO = 10**9
"""Pairs; beyond that SQL that knows nothing of walls alike takes many minutes."""
PANDAS_UP_TO = 10**5
"""Zones; beyond that its merges do not fit in memory."""


def say(*words: str) -> None:
    print(*words, flush=True)  # noqa: T201


def timed(start: float) -> str:
    return f"{time.perf_counter() - start:.2f} s"


def peak() -> str:
    """The most memory that this program has held. What `resource` tells counts in what the process
    held that started this one."""
    status = Path("/proc/self/status")
    if not status.exists():
        return "not told by this system"
    told = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM"))
    return f"{int(told.split()[1]) / 1024:.0f} MiB"


def measure(walls: Walls, tests: int) -> None:
    """Everything once, then one changed test and one changed zone."""
    records = nation.records(tests)
    start = time.perf_counter()
    books = library_of(records, nation.SETTINGS, nation.rules())
    compiled = time.perf_counter()
    kinds, _, kind = walls.kinds()
    judged = judge_kinds(kinds, books)
    found = judged.of(kind)
    took = time.perf_counter() - start
    told = Counter(str(COVERAGES[code]) for code in found.coverage.tolist())
    say(
        f"{len(walls.setting):>9,} zones × {tests:>6,} tests: {took:6.2f} s, of which the tests and"
        f" their gates {compiled - start:.2f} s; {len(kinds.setting):,} walls that differ; peak"
        f" {peak()}"
    )
    say("         ", ", ".join(f"{name} {count:,}" for name, count in sorted(told.items())))
    _change_a_test(kinds, judged, books)
    start = time.perf_counter()
    judge_all(walls.of(np.array([0], dtype=np.int32)), books)
    say(f"          one changed zone: {timed(start)}")


def _change_a_test(kinds: Walls, judged: Judged, books: Library) -> None:
    """A test that passed has failed: only what it bears on is judged again, and it is checked that
    nothing else had to be."""
    old = next(test for test in books.tests if test.printed_outcome is Outcome.PASSED)
    criteria = replace(old.criteria, external_spread=Answer3.NOT_MET)
    new = replace(old, criteria=criteria, printed_outcome=Outcome.FAILED)
    records = [new if test is old else test for test in books.tests]
    start = time.perf_counter()
    after = library_of(records, nation.SETTINGS, nation.rules())
    gates = time.perf_counter() - start
    touched = borne_on(kinds, [old, new], after.rules, after.judge)
    again = np.flatnonzero(touched).astype(np.int32)
    part = judge_kinds(kinds.of(again), after)
    # a wall that is told a far test may be told another one, and comes out as before
    far = np.flatnonzero(judged.ranked.is_apart & ~touched).astype(np.int32)
    compiled = compile_kinds(kinds.of(far), after)
    farthest = rank(compiled, kinds.setting[far], usable(compiled, kinds.settings, after.gates))
    took = time.perf_counter() - start
    coverage, named = judged.coverage.copy(), _named(judged.ranked, books)
    coverage[again], named[again] = part.coverage, _named(part.ranked, after)
    named[far] = _named(farthest, after)
    right = judge_kinds(kinds, after)
    if (right.coverage != coverage).any() or (_named(right.ranked, after) != named).any():
        raise AssertionError("a wall that had to be judged again was left out")
    changed = int((coverage != judged.coverage).sum())
    say(
        f"          one changed test: {took:.2f} s, of which all tests' gates anew {gates:.2f} s;"
        f" {len(again):,} walls judged again, {len(far):,} ranked, {changed:,} come out otherwise"
    )


def _named(ranked: Ranked, books: Library) -> npt.NDArray[np.object_]:
    """The nearest tests by reference, empty where there are fewer [walls, NEAREST]."""
    refs = np.array([*(test.ref for test in books.passing.records), ""], dtype=object)
    return refs[ranked.tests]


def compare(walls: Walls, tests: int) -> None:
    """The nearest tests by each way; all but the loop answer for every zone."""
    books = library_of(nation.records(tests), nation.SETTINGS, nation.rules())
    say(f"{len(walls.setting):,} zones × {tests:,} tests, the nearest tests of each zone:")
    start = time.perf_counter()
    kinds, _, kind = walls.kinds()
    compiled = compile_kinds(kinds, books)
    use = usable(compiled, kinds.settings, books.gates)
    ours = rank(compiled, kinds.setting, use).keys[kind]
    engine = time.perf_counter() - start
    say(f"          engine {engine:.2f} s, with compiling and finding walls alike")
    right = other_ways.without_apart(ours)
    every = compile_kinds(walls, books)
    sample = np.random.default_rng(1).integers(0, len(walls.setting), SAMPLE)
    start = time.perf_counter()
    looped = other_ways.by_loop(every, walls.setting, use, sample.tolist())
    took = time.perf_counter() - start
    _told("loop over pairs", took * len(walls.setting) / SAMPLE, engine, looped, right[sample])
    say(f"            (reckoned from {SAMPLE} zones in {took:.2f} s)")
    tables = other_ways.Tables(every, walls.setting, use)
    if len(walls.setting) <= PANDAS_UP_TO:
        start = time.perf_counter()
        merged = other_ways.by_pandas(tables)
        _told("pandas merge", time.perf_counter() - start, engine, merged, right)
    ways = [("DuckDB, by the engine's plan", other_ways.by_duckdb_as_planned)]
    if len(walls.setting) * tests <= STRAIGHT_UP_TO:
        ways.append(("DuckDB", other_ways.by_duckdb))
    for name, way in ways:
        connection = other_ways.loaded(tables)
        start = time.perf_counter()
        joined = way(connection, tables)
        _told(name, time.perf_counter() - start, engine, joined, right)
        connection.close()


def _told(name: str, took: float, engine: float, found: Keys, right: Keys) -> None:
    if not np.array_equal(found, right):
        raise AssertionError(f"{name} comes to other tests")
    say(f"          {name} {took:.2f} s: {took / engine:.1f} times the engine")


def read(zones: int) -> None:
    """The time merely to fetch the zones and their surveys out of a SQLite file."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "nation.sqlite3"
        connection = sqlite3.connect(file)
        connection.execute("create table survey (zone_id integer, basis text, build_up text)")
        texts = [json.dumps(wall) for wall in nation.recurring()]
        rows = ((zone, "opening-up", texts[zone % len(texts)]) for zone in range(zones))
        connection.executemany("insert into survey values (?, ?, ?)", rows)
        connection.commit()
        start = time.perf_counter()
        fetched = sum(1 for _ in connection.execute("select zone_id, basis, build_up from survey"))
        say(f"{fetched:>9,} zones merely read from SQLite: {time.perf_counter() - start:.2f} s")
        connection.close()


def in_a_process(*words: object) -> None:
    command = [sys.executable, "-m", "tests.benchmarks.matching", *map(str, words)]
    subprocess.run(command, check=True)  # noqa: S603


def main(words: list[str]) -> None:
    if len(words) == 3:
        # what a process of its own does with zones that were made before
        action, tests, file = words
        with Path(file).open("rb") as kept:
            walls = pickle.load(kept)  # noqa: S301
        (measure if action == "measure" else compare)(walls, int(tests))
        return
    with tempfile.TemporaryDirectory() as folder:
        for zones in sorted({zones for zones, _ in SIZES}):
            file = Path(folder) / f"{zones}.pickle"
            file.write_bytes(pickle.dumps(nation.zones(zones)))
            for action, sizes in (("measure", SIZES), ("compare", COMPARED)):
                for _, tests in (size for size in sizes if size[0] == zones):
                    in_a_process(action, tests, file)
            read(zones)


if __name__ == "__main__":
    main(sys.argv[1:])

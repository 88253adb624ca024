"""Measures computing everything: python -m tests.benchmarks.coverage_speed [zones] [tests] [worst].

By hand only, never a test: it prints what one run on this machine took, part by part. With
"worst" every zone has a wall of its own.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from portfolio.db.session import engine_for, upgrade, writing
from portfolio.domain.rules import rules_in_force
from portfolio.reference.loader import load_reference
from portfolio.services.coverage import refresh
from portfolio.services.gathering import gather_zones
from tests.benchmarks.invented import KINDS, ON, portfolio


def main(zones: int, tests: int, kinds: int | None) -> None:
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'bench.sqlite3'}"
        upgrade(url)
        engine = engine_for(url)
        with writing(engine) as session:
            session.add_all(portfolio(zones // 8, zones, tests, kinds=kinds))
        with writing(engine) as session:
            start = time.perf_counter()
            rules = rules_in_force(load_reference().rules, ON)
            gather_zones(session, rules)
            gathered = time.perf_counter() - start
        with writing(engine) as session:
            start = time.perf_counter()
            refresh(session, ON)
        whole = time.perf_counter() - start
        print(f"{zones} zones, {tests} tests: all {whole:.2f} s, of which gather {gathered:.2f} s")  # noqa: T201


if __name__ == "__main__":
    numbers = [int(given) for given in sys.argv[1:3] if given != "worst"]
    main(*(numbers or (25000, 1000)), None if "worst" in sys.argv else KINDS)

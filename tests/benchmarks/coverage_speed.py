"""Measures computing everything: python -m tests.benchmarks.coverage_speed [zones] [tests].

By hand only, never a test: it prints what one run on this machine took, part by part.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from portfolio.db.session import engine_for, upgrade, writing
from portfolio.domain.rules import rules_in_force
from portfolio.reference.loader import load_reference
from portfolio.services.coverage import gather_zones, refresh
from tests.benchmarks.invented import ON, portfolio


def main(zones: int, tests: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'bench.sqlite3'}"
        upgrade(url)
        engine = engine_for(url)
        with writing(engine) as session:
            session.add_all(portfolio(zones // 8, zones, tests))
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
    main(*(int(given) for given in (sys.argv[1:] or ("25000", "1000"))))

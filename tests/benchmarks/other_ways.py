"""The nearest tests of walls by other means than the engine's, from the same compiled tables.

Each returns the keys of `Ranked`, or tells of walls that have no near test by _LAST throughout.
"""

from __future__ import annotations

import importlib
from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from portfolio.domain.arrays import Codes
from portfolio.domain.columns import Answer
from portfolio.domain.matching import DECISIVE, Compiled
from portfolio.domain.nearest import NEAREST, Counting, Keys, Usable, Verdict
from portfolio.domain.readings import ALL

LAST = np.int64(np.iinfo(np.int64).max)


def by_loop(compiled: Compiled, setting: Codes, use: Usable, walls: Sequence[int]) -> Keys:
    """Every test beside each of the walls, one parameter after the other, in plain Python."""
    tables = [table.answers.tolist() for table in compiled.tables]
    tested = [column.codes.tolist() for column in compiled.tests.columns]
    records = range(len(compiled.tests.records))
    found = []
    for wall in walls:
        codes = [int(column.codes[wall]) for column in compiled.walls]
        weak = compiled.weak[wall].tolist()
        keys = []
        for test in records:
            differs = unknown = decisive = 0
            for place in range(len(ALL)):
                answer = tables[place][codes[place]][tested[place][test]]
                if answer == Answer.DIFFERS:
                    differs += 1
                    decisive += place in DECISIVE
                elif answer == Answer.UNKNOWN or weak[place]:
                    unknown += 1
            if not decisive and not use.shut[setting[wall], test]:
                is_open = unknown > 0 or use.ajar[setting[wall], test]
                judged = differs > 0 or use.assessments[test]
                verdict = 2 if is_open else 1 if judged else 0
                keys.append(verdict << 48 | differs << 40 | unknown << 32 | test)
        best = sorted(keys)[:NEAREST]
        found.append(best + [LAST] * (NEAREST - len(best)))
    return np.array(found, dtype=np.int64)


class Tables:
    """The compiled tables as data frames, for whoever joins them.

    `zones` has a row for each zone: its setting, what is the same whichever test stands beside it,
    and the row of each parameter's table; `tests` the columns; `decisive` and `asked` the tables.
    """

    def __init__(self, compiled: Compiled, setting: Codes, use: Usable) -> None:
        counting = Counting(compiled)
        self.decisive = [f"d{place}" for place in DECISIVE]
        self.asked = [f"a{i}" for i in range(len(counting.asked))]
        zones: dict[str, Any] = {"setting": setting, "alike": counting.alike}
        tests: dict[str, Any] = {"test": np.arange(len(use.assessments), dtype=np.int32)}
        self.tables: dict[str, pd.DataFrame] = {}
        for place, name in zip(DECISIVE, self.decisive, strict=True):
            zones[name] = compiled.walls[place].codes
            tests[name] = compiled.tests.columns[place].codes
            # only what does not set a test apart
            row, column = np.nonzero(compiled.tables[place].answers != Answer.DIFFERS)
            told = {f"{name}_row": row.astype(np.int32), f"{name}_col": column.astype(np.int32)}
            self.tables[name] = pd.DataFrame(told)
        for asked, name in zip(counting.asked, self.asked, strict=True):
            zones[name], tests[name] = asked.rows, asked.columns
            row, column = np.indices(asked.table.shape, dtype=np.int32)
            told = {f"{name}_row": row.ravel(), f"{name}_col": column.ravel()}
            told[f"{name}_n"] = asked.table.ravel()
            self.tables[name] = pd.DataFrame(told)
        self.zones, self.tests = pd.DataFrame(zones), pd.DataFrame(tests)
        open_to, test = np.nonzero(~use.shut)
        self.gates = pd.DataFrame(
            {
                "setting": open_to.astype(np.int32),
                "test": test.astype(np.int32),
                "ajar": use.ajar[open_to, test],
                "assessment": use.assessments[test],
            }
        )


def by_pandas(tables: Tables) -> Keys:
    """Merges of data frames."""
    names = list(tables.zones.columns)
    kinds = tables.zones.drop_duplicates().reset_index(drop=True)
    kinds["kind"] = kinds.index.astype(np.int32)
    combos = kinds[["setting", *tables.decisive]].drop_duplicates()
    near = combos.merge(tables.gates, on="setting")
    near = near.merge(tables.tests, on="test", suffixes=("", "_t"))
    for name in tables.decisive:
        on = [name, f"{name}_t"]
        near = near.merge(
            tables.tables[name], left_on=on, right_on=[f"{name}_row", f"{name}_col"]
        ).drop(columns=[f"{name}_row", f"{name}_col"])
    columns = ["setting", *tables.decisive]
    near = near.drop(columns=tables.asked)[[*columns, "test", "ajar", "assessment"]]
    pairs = kinds.merge(near, on=columns).merge(
        tables.tests[["test", *tables.asked]], on="test", suffixes=("", "_t")
    )
    total = pairs["alike"].to_numpy().astype(np.int64)
    for name in tables.asked:
        told = pairs[[name, f"{name}_t"]].merge(
            tables.tables[name],
            left_on=[name, f"{name}_t"],
            right_on=[f"{name}_row", f"{name}_col"],
            how="left",
        )
        total += told[f"{name}_n"].to_numpy()
    unknown, differs = total >> 8, total & 255
    judged = (differs > 0) | pairs["assessment"]
    verdict = np.where((unknown > 0) | pairs["ajar"], 2, np.where(judged, 1, 0))
    pairs["key"] = verdict << 48 | differs << 40 | unknown << 32 | pairs["test"]
    best = pairs[["kind", "key"]].sort_values(["kind", "key"])
    best["place"] = best.groupby("kind").cumcount()
    best = best[best["place"] < NEAREST]
    found = np.full((len(kinds), NEAREST), LAST)
    found[best["kind"], best["place"]] = best["key"]
    zones = tables.zones.merge(kinds, on=names, how="left")
    return found[zones["kind"].to_numpy()]


def loaded(tables: Tables) -> Any:
    """A DuckDB in memory, on two threads, that has the tables.

    Left to choose the order of some thirty joins it multiplies pairs first and fills the disk, so
    they are kept in the order in which they are written, as good a one as is known.
    """
    duckdb = importlib.import_module("duckdb")
    connection = duckdb.connect(config={"threads": 2, "max_temp_directory_size": "4GB"})
    connection.execute("set disabled_optimizers = 'join_order,build_side_probe_side'")
    frames = {"zones": tables.zones.reset_index(names="zone"), "tests": tables.tests}
    frames |= {"gates": tables.gates, **{f"t_{name}": t for name, t in tables.tables.items()}}
    for name, frame in frames.items():
        connection.register(f"given_{name}", frame)
        connection.execute(f"create table {name} as select * from given_{name}")
    return connection


def by_duckdb(connection: Any, tables: Tables) -> Keys:
    """SQL as one would write it: every zone beside every test, first by what decides."""
    connection.execute("create temp table kind as select zone as kind, * from zones")
    near = f"""
        kind k
        join gates n on n.setting = k.setting
        join tests t on t.test = n.test
        {_joins(tables.decisive, "k")}
    """
    return _best(connection, tables, near, "kind")


def by_duckdb_as_planned(connection: Any, tables: Tables) -> Keys:
    """SQL that does as the engine does: walls alike once, and what is near once for all walls that
    are alike in what decides."""
    combo = ", ".join(["setting", *tables.decisive])
    every = ", ".join(["setting", "alike", *tables.decisive, *tables.asked])
    connection.execute(
        f"""
        create temp table kind as
        select row_number() over () as kind, * from (select distinct {every} from zones)
        """
    )
    connection.execute(
        f"""
        create temp table near as
        select {", ".join(f"c.{name}" for name in ["setting", *tables.decisive])},
               t.test, g.ajar, g.assessment
        from (select distinct {combo} from kind) c
        join gates g on g.setting = c.setting
        join tests t on t.test = g.test
        {_joins(tables.decisive, "c")}
        """
    )
    near = f"near n join kind k using ({combo}) join tests t on t.test = n.test"
    return _best(connection, tables, near, every)


def _best(connection: Any, tables: Tables, near: str, by: str) -> Keys:
    total = " + ".join(["k.alike::bigint", *(f"t_{name}.{name}_n" for name in tables.asked)])
    zones = "zones" if by != "kind" else "(select zone as kind, zone from zones)"
    rows = connection.execute(
        f"""
        with counted as (
            select k.kind, n.test, n.ajar, n.assessment, {total} as total
            from {near}
            {_joins(tables.asked, "k")}
        ), best as (
            select kind, min(
                ((case when total >> 8 > 0 or ajar then 2
                       when total & 255 > 0 or assessment then 1 else 0 end)::bigint << 48)
                | ((total & 255) << 40) | ((total >> 8) << 32) | test, {NEAREST}
            ) as keys
            from counted group by kind
        )
        select z.zone, b.keys[1] as k1, b.keys[2] as k2, b.keys[3] as k3
        from {zones} z join kind k using ({by}) left join best b on b.kind = k.kind
        order by z.zone
        """
    ).fetchnumpy()
    columns = [np.ma.filled(np.ma.asarray(rows[f"k{i}"]), LAST) for i in (1, 2, 3)]
    return np.stack(columns, axis=1).astype(np.int64)


def _joins(names: Sequence[str], walls: str) -> str:
    return "\n".join(
        f"join t_{name} on t_{name}.{name}_row = {walls}.{name} and t_{name}.{name}_col = t.{name}"
        for name in names
    )


def without_apart(keys: Keys) -> Keys:
    """The keys without tests that stand apart, which only the engine tells."""
    return np.where(keys >> 48 >= Verdict.APART, LAST, keys)

"""The log of a test as it stands in a pack: its criteria, and its temperatures as charts."""

from __future__ import annotations

from dataclasses import dataclass

from portfolio.drawings.traces import TraceChart


@dataclass(frozen=True, slots=True)
class PackLog:
    """A kept log behind a test. `facts` are what and its value, the caution among them.

    `criteria` are rows under `headers`, the second column holding the reasons; without a log that
    can be read there are none, and no charts. `thinned` says what was left out of the charts.
    """

    test: str
    facts: tuple[tuple[str, str], ...]
    headers: tuple[str, ...] = ()
    criteria: tuple[tuple[str, ...], ...] = ()
    charts: tuple[TraceChart, ...] = ()
    thinned: str = ""

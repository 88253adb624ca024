"""What a sheet of an evidence pack is."""

from __future__ import annotations

from dataclasses import dataclass

Cell = str | int | float | None


@dataclass(frozen=True, slots=True)
class Section:
    """One sheet of the pack."""

    title: str
    headers: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]

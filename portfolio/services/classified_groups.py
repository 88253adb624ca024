"""Which channels belong in one chart, and which limits are drawn through it."""

from __future__ import annotations

from dataclasses import dataclass

from portfolio.domain.classified import ChannelFinding, Classified
from portfolio.domain.traces import Side


@dataclass(frozen=True, slots=True)
class Group:
    """The channels of one level and side, by their place in the log, and the limit in K."""

    level: int
    side: Side
    places: tuple[int, ...]
    limit_k: float | None

    @property
    def title(self) -> str:
        """How the group is called."""
        return f"Level {self.level}, {self.side.value}"


def groups_of(found: Classified) -> tuple[Group, ...]:
    """Every level and side that has channels, from below."""
    by_place: dict[tuple[int, Side], list[tuple[int, ChannelFinding]]] = {}
    for at, one in enumerate(found.channels):
        by_place.setdefault((one.channel.level, one.channel.side), []).append((at, one))
    return tuple(
        Group(level, side, tuple(at for at, _ in members), members[0][1].limit_k)
        for (level, side), members in sorted(by_place.items())
    )


def limit_words(limit_k: float, mean_c: float) -> str:
    """What a limit line says: a rise, and what it is in °C for this log."""
    return f"{limit_k:g} K over Ts = {limit_k + mean_c:.1f} °C"

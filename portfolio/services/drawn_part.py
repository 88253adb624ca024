"""Which part of a log is drawn: a stretch of time, and some channels."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class DrawnPart:
    """From one minute to another, by the chart's own clock; no `channels` means all of them.

    It changes what is drawn, never what is judged.
    """

    from_minute: float = -math.inf
    until_minute: float = math.inf
    channels: frozenset[str] = frozenset()

    def holds(self, seconds: float) -> bool:
        """Whether a time in s is in the stretch."""
        return self.from_minute * 60 <= seconds <= self.until_minute * 60

    def shows(self, channel: str) -> bool:
        """Whether a channel is drawn."""
        return not self.channels or channel in self.channels


WHOLE = DrawnPart()

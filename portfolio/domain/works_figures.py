"""Buildings counted by their status of works, in the form of the English government's release.

Completed includes what is complete and awaits sign-off; completed, started, and in programme but
not started add up to the total; a building in several programmes counts once.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass

from portfolio.domain.works import Decided, WorksStatus

FORM_SOURCE = (
    "form: Building Safety Remediation, monthly data release, England: completed includes "
    "complete awaiting building-control sign-off; buildings counted once"
)


@dataclass(frozen=True, slots=True)
class CountedWorks:
    """Works as the count sees them. No `programme`: none was named."""

    building: Hashable
    programme: str
    decided: Decided
    status: WorksStatus


@dataclass(frozen=True, slots=True)
class Figures:
    """One row of the release. `awaiting` is the part of `completed` that awaits sign-off;
    `none_needed` buildings are in no programme, and not in the total."""

    title: str
    completed: int
    awaiting: int
    started: int
    not_started: int
    none_needed: int = 0

    @property
    def total(self) -> int:
        """All buildings in programme."""
        return self.completed + self.started + self.not_started


@dataclass(frozen=True, slots=True)
class Release:
    """All buildings once, and each programme by itself.

    `counted_twice` is by how much the programmes add up to more than there are buildings.
    """

    all: Figures
    programmes: tuple[Figures, ...]

    @property
    def counted_twice(self) -> int:
        return sum(row.total for row in self.programmes) - self.all.total


def release(works: Iterable[CountedWorks]) -> Release:
    """The figures of all works.

    A building with several works stands where the one stands that is furthest behind (ours: the
    release counts a building once and does not say which status is taken). Works of which none is
    needed hold a building back no more.
    """
    told = list(works)
    programmes = sorted({one.programme for one in told if one.programme})
    rows = [_figures(name, [w for w in told if w.programme == name]) for name in programmes]
    if unnamed := [one for one in told if not one.programme]:
        rows.append(_figures("no programme named", unnamed))
    return Release(_figures("all buildings, each once", told), tuple(rows))


def _figures(title: str, works: Sequence[CountedWorks]) -> Figures:
    furthest_behind: dict[Hashable, WorksStatus] = {}
    for one in works:
        if one.decided is not Decided.NONE_NEEDED:
            known = furthest_behind.get(one.building, one.status)
            furthest_behind[one.building] = min(known, one.status, key=lambda status: status.place)
    found = list(furthest_behind.values())
    return Figures(
        title,
        completed=sum(status.is_built for status in found),
        awaiting=found.count(WorksStatus.AWAITING_SIGN_OFF),
        started=found.count(WorksStatus.STARTED),
        not_started=sum(status.place < WorksStatus.STARTED.place for status in found),
        none_needed=len({one.building for one in works} - furthest_behind.keys()),
    )

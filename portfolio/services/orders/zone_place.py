"""Where one zone stands in an order: the steps that placed it, and what would tell more."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy.orm import Session

from portfolio.db.models import Zone
from portfolio.domain.placing import Telling
from portfolio.domain.priorities import Reason, Step
from portfolio.services.orders.known import KnownOrder, order_named
from portfolio.services.orders.placed import Place, placed_gaps
from portfolio.services.orders.words import place_in_words
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class ZonePlace:
    """A gap in an order. `steps` has each step with how it placed the gap; `tellings` the unknown
    facts of its building, the one that would tell most of its place first."""

    known: KnownOrder
    place: Place
    steps: tuple[tuple[Step, Reason], ...]
    tellings: tuple[Telling, ...]

    @property
    def sentence(self) -> str:
        return place_in_words(self.place)


def zone_place(session: Session, viewer: Viewer, row: Zone, name: str) -> ZonePlace | None:
    """The place of a zone that the viewer sees, in the order of that name; None where it is no
    gap. Raises InputError for an order that there is not."""
    known = order_named(session, viewer, name)
    gaps = placed_gaps(session, viewer, known)
    place = gaps.place_of(row.id)
    if place is None or row.result is None:
        return None
    result = row.result
    reasons = gaps.reasons_of(row.id, result.coverage, by_inference=result.by_inference)
    steps = tuple(zip(known.order.steps, reasons, strict=True))
    return ZonePlace(known, place, steps, tuple(gaps.tellings_of(row.id)))

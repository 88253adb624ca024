"""From which day on a zone can be ruled on, and whether the same was said already."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Decision, Survey
from portfolio.db.rulings import DecisionConfirmation, DecisionMark
from portfolio.domain.errors import Problem
from portfolio.services.marking import last_confirmations, open_marks


@dataclass(frozen=True, slots=True)
class StandingRuling:
    """The decision that stands on a zone as recorded, what was last said of it, what changed."""

    row: Decision
    last: DecisionConfirmation | None
    marks: tuple[DecisionMark, ...]

    @property
    def valid_until(self) -> date | None:
        """Its last day, as last confirmed; None where no end is set."""
        return self.row.valid_until if self.last is None else self.last.valid_until


def standing_ruling(session: Session, zone_id: int) -> StandingRuling | None:
    """The latest decision on the zone; None where there is none."""
    query = sa.select(Decision).where(Decision.zone_id == zone_id).order_by(Decision.id.desc())
    row = session.scalars(query.limit(1)).first()
    if row is None:
        return None
    last = last_confirmations(session, [row.id]).get(row.id)
    marks = open_marks(session, [row.id], {} if last is None else {row.id: last.id})
    return StandingRuling(row, last, tuple(marks.get(row.id, ())))


def older_than_standing(standing: StandingRuling | None, said: date) -> Iterator[Problem]:
    """A decision must not take the place of one that was made, or looked at again, after it."""
    if standing is None:
        return
    day, told = standing.row.on, f"A decision of {standing.row.on} stands"
    if standing.last is not None and standing.last.on > day:
        day, told = standing.last.on, f"{told}, confirmed on {standing.last.on}"
    if said < day:
        message = (
            f"{told}: an older one is kept as a document of the zone, or recorded with the day on "
            "which it was looked at again."
        )
        yield Problem(message, column="on")


def too_early(
    session: Session, zone_id: int, standing: StandingRuling | None, said: date, on: date
) -> Iterator[Problem]:
    """Nobody rules on what was found, or has changed, only after they ruled.

    A day after `on`, which is today, asks for nothing: nobody could say a later one.
    """
    query = sa.select(sa.func.max(Survey.on)).where(Survey.zone_id == zone_id, Survey.on <= on)
    newest = session.scalar(query)
    if newest is not None and said < newest:
        message = f"The newest of the surveys is of {newest}: nobody can rule on it earlier."
        yield Problem(message, column="on")
    changed = [mark.on for mark in standing.marks if mark.on <= on] if standing else []
    if changed and said < max(changed):
        message = f"What it rests on changed on {max(changed)}: nobody can rule on that earlier."
        yield Problem(message, column="on")


def confirmed_too_early(standing: StandingRuling, said: date) -> Iterator[Problem]:
    """A confirmation follows the decision, and the last confirmation."""
    if said < standing.row.on:
        yield Problem(f"The decision is of {standing.row.on}.", column="on")
    elif standing.last is not None and said < standing.last.on:
        yield Problem(f"It was last confirmed on {standing.last.on}.", column="on")


def said_already(
    standing: StandingRuling | None, told: Mapping[str, Any], *, confirms: bool
) -> Iterator[Problem]:
    """A form that is sent twice is kept once.

    `told` are the columns of the decision or the confirmation, with what it rests on. Where
    something has changed since, even if it changed back, the same may be said again.
    """
    if standing is None or standing.marks:
        return
    last = standing.last if confirms else standing.row
    if last is not None and all(getattr(last, key) == value for key, value in told.items()):
        what = "confirmation" if confirms else "decision"
        yield Problem(f"This {what} is kept already, word for word.")

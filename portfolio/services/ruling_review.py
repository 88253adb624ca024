"""Decisions as they stand: what each ruled on, whether it is to be looked at again, and why."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.models import Building, Decision, Organisation, Zone
from portfolio.db.rulings import DecisionConfirmation, DecisionMark
from portfolio.domain.errors import NotFoundError
from portfolio.domain.rested_on import TEST, in_order, named
from portfolio.domain.rights import Right
from portfolio.services.marking import confirmations, open_marks
from portfolio.services.stored import batches
from portfolio.services.viewer import Viewer

NOT_KEPT = "What it rested on was not kept: nobody can tell whether that has changed."
"""Of a decision that was recorded before this was kept."""


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a decision is to be looked at again: what changed, from what to what, since when."""

    what: str
    before: str
    after: str
    on: date
    is_last_day: bool = False

    @property
    def words(self) -> str:
        """The change in a line."""
        if self.is_last_day:
            return f"{self.what}, {self.before}, {self.after}"
        if self.before == self.after:
            again = f"is “{self.before}” again" if self.before else "is not there again"
            return f"{self.what}: changed, and {again}"
        was = f"was “{self.before}”" if self.before else "was not there"
        now = f"is “{self.after}”" if self.after else "is no longer there"
        return f"{self.what}: {was}, {now}"


@dataclass(frozen=True, slots=True)
class Ruling:
    """One decision: `row` as recorded, what was said of it since, and why to look at it again.

    `is_replaced`: a later decision on the zone stands in its place.
    """

    row: Decision
    zone_ref: str
    building_id: int
    building_ref: str
    owner_id: int
    owner_ref: str
    confirmed: tuple[DecisionConfirmation, ...]
    reasons: tuple[Reason, ...]
    is_replaced: bool

    @property
    def is_kept(self) -> bool:
        """Whether it is known what it rests on."""
        return bool(self.confirmed) or self.row.rested_on is not None

    @property
    def is_to_review(self) -> bool:
        """Whether an engineer must look at it again."""
        return not self.is_replaced and (bool(self.reasons) or not self.is_kept)

    @property
    def valid_until(self) -> date | None:
        """Its last day, as last confirmed; None where no end is set."""
        return self.confirmed[-1].valid_until if self.confirmed else self.row.valid_until

    @property
    def state(self) -> str:
        """How it stands, in words."""
        if self.is_replaced:
            return "a later decision stands in its place"
        if self.reasons:
            return "to be looked at again"
        return "stands" if self.is_kept else "cannot be told: what it rested on was not kept"

    @property
    def because(self) -> tuple[str, ...]:
        """Why to look at it again, a line each."""
        if not self.is_to_review:
            return ()
        told = tuple(reason.words for reason in self.reasons)
        return told if self.is_kept else (*told, NOT_KEPT)

    @property
    def tests_then(self) -> tuple[tuple[str, str], ...]:
        """The tests that the engineer had before them, and what each said of the wall."""
        told = self.row.rested_on or {}
        return tuple(
            (key.removeprefix(TEST), text) for key, text in told.items() if key.startswith(TEST)
        )

    @property
    def ruled_on(self) -> str:
        """What it rules on, in a line: the coverage then and the tests."""
        coverage = self.row.coverage_then.replace("-", " ") or "a coverage that was not recorded"
        tests = "; ".join(f"test {ref}: {text}" for ref, text in self.tests_then)
        return f"{coverage}; {tests}" if tests else coverage


@dataclass(frozen=True, slots=True)
class RulingList:
    """Some of the rulings, and how many there are in all."""

    rows: tuple[Ruling, ...]
    total: int


def rulings_of_zones(
    session: Session,
    zone_ids: Collection[int],
    on: date,
    *,
    only: Collection[int] | None = None,
    by: date | None = None,
) -> dict[int, list[Ruling]]:
    """By zone: its decisions, first to last; of them `only` some, as they stood `by` a day."""
    rows: list[Any] = []
    for batch in batches(set(zone_ids)):
        rows += session.execute(_told().where(Decision.zone_id.in_(batch)).order_by(Decision.id))
    kept = [row for row in rows if only is None or row[0].id in only]
    found: dict[int, list[Ruling]] = {}
    for ruling in _rulings(session, kept, on, by):
        found.setdefault(ruling.row.zone_id, []).append(ruling)
    return found


def list_rulings(
    session: Session,
    viewer: Viewer,
    on: date,
    *,
    to_review: bool = True,
    owner: str = "",
    limit: int | None = None,
    offset: int = 0,
) -> RulingList:
    """The decisions that a viewer reads, newest first: those to look at again, or all."""
    mine = [viewer.reads(Building.organisation_id, Building.id)]
    if owner:
        mine.append(Organisation.ref == owner)
    if to_review:
        mine.append(Decision.id.in_(_due(on)))
    query = _told().where(*mine)
    total = session.scalar(sa.select(sa.func.count()).select_from(query.subquery())) or 0
    rows = session.execute(query.order_by(Decision.id.desc()).limit(limit).offset(offset)).all()
    return RulingList(tuple(_rulings(session, rows, on, None)), total)


def one_ruling(session: Session, viewer: Viewer, decision_id: int, on: date) -> Ruling:
    """A decision that the viewer may confirm. Raises NotFoundError or ForbiddenError."""
    rows = session.execute(_told().where(Decision.id == decision_id)).all()
    for found in _rulings(session, rows, on, None):
        viewer.require(Right.DECIDE, found.owner_id, found.building_id, what="decision")
        return found
    raise NotFoundError("There is no such decision.")


def _told() -> sa.Select[Any]:
    told: list[Any] = [
        Decision,
        Zone.ref.label("zone_ref"),
        Building.id.label("building_id"),
        Building.ref.label("building_ref"),
        Building.organisation_id.label("owner_id"),
        Organisation.ref.label("owner_ref"),
    ]
    return (
        sa.select(*told)
        .join(Zone, Zone.id == Decision.zone_id)
        .join(Building, Building.id == Zone.building_id)
        .join(Organisation, Organisation.id == Building.organisation_id)
    )


def _due(on: date) -> sa.Select[Any]:
    """The decisions that stand and are to be looked at again, asked without reading any."""
    latest = sa.select(sa.func.max(Decision.id)).group_by(Decision.zone_id)
    said = (
        sa.select(
            DecisionConfirmation.decision_id, sa.func.max(DecisionConfirmation.id).label("last")
        )
        .group_by(DecisionConfirmation.decision_id)
        .subquery()
    )
    confirmed = sa.orm.aliased(DecisionConfirmation)
    is_marked = (
        sa.select(DecisionMark.id)
        .where(
            DecisionMark.decision_id == Decision.id,
            sa.func.coalesce(DecisionMark.confirmation_id, 0) == sa.func.coalesce(said.c.last, 0),
        )
        .correlate(Decision, said)
        .exists()
    )
    last_day = sa.case((said.c.last.is_(None), Decision.valid_until), else_=confirmed.valid_until)
    is_unkept = said.c.last.is_(None) & Decision.rested_on.is_(None)
    return (
        sa.select(Decision.id)
        .outerjoin(said, said.c.decision_id == Decision.id)
        .outerjoin(confirmed, confirmed.id == said.c.last)
        .where(Decision.id.in_(latest), sa.or_(is_marked, last_day <= on, is_unkept))
    )


def _rulings(session: Session, rows: Sequence[Any], on: date, by: date | None) -> Iterable[Ruling]:
    ids = [row[0].id for row in rows]
    said = confirmations(session, ids, by)
    marked = open_marks(session, ids, {key: told[-1].id for key, told in said.items()}, by)
    last = _last_of_zones(session, {row[0].zone_id for row in rows}) if by is None else {}
    if by is not None:
        for row in rows:
            last[row[0].zone_id] = max(row[0].id, last.get(row[0].zone_id, 0))
    for row in rows:
        decision = row[0]
        confirmed = tuple(said.get(decision.id, ()))
        until = confirmed[-1].valid_until if confirmed else decision.valid_until
        yield Ruling(
            decision,
            row.zone_ref,
            row.building_id,
            row.building_ref,
            row.owner_id,
            row.owner_ref,
            confirmed,
            (*_changed(marked.get(decision.id, ())), *_ended(until, on)),
            decision.id != last[decision.zone_id],
        )


def _changed(marks: Sequence[DecisionMark]) -> Iterable[Reason]:
    """Each thing once: what it was when the engineer looked, what it is, since it first changed."""
    by_thing: dict[str, list[DecisionMark]] = {}
    for mark in marks:
        by_thing.setdefault(mark.what, []).append(mark)
    for what in in_order(by_thing):
        first, last = by_thing[what][0], by_thing[what][-1]
        yield Reason(named(what), first.before, last.after, first.on)


def _ended(until: date | None, on: date) -> Iterable[Reason]:
    if until is not None and until <= on:
        state = "has come" if until == on else "is past"
        yield Reason("its last day", until.isoformat(), state, until, is_last_day=True)


def _last_of_zones(session: Session, zone_ids: Collection[int]) -> dict[int, int]:
    found: dict[int, int] = {}
    for batch in batches(zone_ids):
        query = sa.select(Decision.zone_id, sa.func.max(Decision.id))
        rows = session.execute(query.where(Decision.zone_id.in_(batch)).group_by(Decision.zone_id))
        found.update((row[0], row[1]) for row in rows)
    return found


def ruling_fields(found: Ruling) -> Mapping[str, Any]:
    """The decision as plain data, for scripts."""
    row = found.row
    return {
        "owner": found.owner_ref,
        "building": found.building_ref,
        "zone": found.zone_ref,
        "decision": row.id,
        "ruling": row.ruling,
        "by": row.by,
        "qualification": row.qualification,
        "on": row.on.isoformat(),
        "valid_from": row.valid_from.isoformat() if row.valid_from else None,
        "valid_until": found.valid_until.isoformat() if found.valid_until else None,
        "reasons": row.reasons,
        "documents": row.documents,
        "coverage_then": row.coverage_then,
        "tests_then": [{"test": ref, "said": text} for ref, text in found.tests_then],
        "rested_on": None if row.rested_on is None else dict(row.rested_on),
        "state": found.state,
        "to_review": found.is_to_review,
        "changed": [
            {"what": r.what, "from": r.before, "to": r.after, "on": r.on.isoformat()}
            for r in found.reasons
        ],
        "confirmed": [
            {
                "by": one.by,
                "qualification": one.qualification,
                "on": one.on.isoformat(),
                "reason": one.reason,
                "valid_until": one.valid_until.isoformat() if one.valid_until else None,
            }
            for one in found.confirmed
        ],
    }

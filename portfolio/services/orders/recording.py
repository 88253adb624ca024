"""Keeps the orders that organisations write: shown before they are saved, added, never changed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import changelog
from portfolio.db.models import Building, Organisation, Zone
from portfolio.db.orders import OrderVersion
from portfolio.domain.errors import InputError, NotFoundError, Problem
from portfolio.domain.own_orders import OwnOrder, as_order
from portfolio.domain.rights import Right
from portfolio.reference.loader import HOUSE, load_reference
from portfolio.services.editing import Saved, StaleError
from portfolio.services.orders.known import KnownOrder, order_of, order_rows, own_order_of
from portfolio.services.orders.placed import place_gaps, placed_gaps
from portfolio.services.orders.texts import OrderTexts, read_order, write_order
from portfolio.services.stored import batches
from portfolio.services.viewer import Viewer

MOST_MOVES = 20
"""How many of the gaps that move furthest are named, each way."""


@dataclass(frozen=True, slots=True)
class EditableOrder:
    """An order to write a further version of. `version` is the latest there is."""

    order_id: int
    organisation_id: int
    texts: OrderTexts
    version: int


@dataclass(frozen=True, slots=True)
class Move:
    """A gap that would stand elsewhere. Places count from 1 among all the gaps of the viewer."""

    zone_id: int
    building_ref: str
    zone_ref: str
    before: int
    after: int


@dataclass(frozen=True, slots=True)
class Moves:
    """What an order would do, against another: `against` names it; the furthest moves are listed,
    furthest first."""

    against: str
    up: int
    down: int
    stay: int
    furthest_up: tuple[Move, ...]
    furthest_down: tuple[Move, ...]


def editable_order(session: Session, viewer: Viewer, order_id: int) -> EditableOrder:
    """The latest version of the order. Raises NotFoundError, ForbiddenError."""
    row = session.get(OrderVersion, order_id)
    if row is None:
        raise NotFoundError("There is no such order.")
    viewer.require(Right.DECIDE, row.organisation_id, what="order")
    latest = _latest(session, row.organisation_id, row.key) or row
    texts = write_order(own_order_of(latest))
    return EditableOrder(latest.id, latest.organisation_id, texts, latest.version)


def moves_of_order(
    session: Session, viewer: Viewer, organisation_id: int, texts: OrderTexts, *, version: int
) -> Moves:
    """Which gaps would stand elsewhere than by the latest version, or than by the house order
    where it is a new one; nothing is written.

    Raises InputError, NotFoundError, ForbiddenError, StaleError.
    """
    order, latest = _checked(session, viewer, organisation_id, texts, version)
    house = load_reference().order
    known = KnownOrder(HOUSE, house)
    if latest is None:
        before, against = placed_gaps(session, viewer, known), f"the order “{house.title}”"
    else:
        before = place_gaps(session, viewer, order_of(latest))
        against = f"version {latest.version}"
    after = place_gaps(session, viewer, as_order(order, str(version + 1), house))
    return _moves(session, before.places(), after.places(), against)


def record_order(
    session: Session,
    viewer: Viewer,
    organisation_id: int,
    texts: OrderTexts,
    *,
    version: int,
    on: date,
) -> Saved:
    """Keep an order, or a further version of it over the latest that the author saw.

    Raises InputError, NotFoundError, ForbiddenError, StaleError.
    """
    session.get(Organisation, organisation_id, with_for_update={"key_share": True})
    order, latest = _checked(session, viewer, organisation_id, texts, version)
    row = OrderVersion(
        organisation_id=organisation_id,
        key=order.key,
        version=version + 1,
        title=order.title,
        steps=_stored(order),
        author=order.author,
        reason=order.reason,
        recorded_on=on,
    )
    session.add(row)
    session.flush()
    old = _logged(own_order_of(latest)) if latest else {}
    told: dict[str, tuple[Any, Any]] = {
        name: (old.get(name), text)
        for name, text in _logged(order).items()
        if text != old.get(name)
    }
    told["version"] = (latest.version if latest else None, row.version)
    action = "replaced" if latest else "created"
    entry = changelog.Entry(action, "order", row.id, row.key, organisation_id, told, order.reason)
    changelog.record(session, viewer.actor, [entry])
    return Saved(row.id, f"{row.key}, version {row.version}")


def _stored(order: OwnOrder) -> list[dict[str, Any]]:
    return [
        {
            "criterion": step.criterion,
            "groups": [list(group) for group in step.groups],
            "limits": list(step.limits),
        }
        for step in order.steps
    ]


def _logged(order: OwnOrder) -> dict[str, str]:
    """What the change log keeps of an order: each field as it is written."""
    placed = [step for step in write_order(order).steps if step.place]
    steps = (
        f"{step.place}. {step.criterion}{f' ({step.bands})' if step.bands else ''}"
        for step in sorted(placed, key=lambda step: int(step.place))
    )
    return {"title": order.title, "steps": "; ".join(steps), "author": order.author}


def _latest(session: Session, organisation_id: int, key: str) -> OrderVersion | None:
    which = OrderVersion.organisation_id == organisation_id, OrderVersion.key == key
    return max(order_rows(session, *which), key=lambda row: row.version, default=None)


def _checked(
    session: Session, viewer: Viewer, organisation_id: int, texts: OrderTexts, version: int
) -> tuple[OwnOrder, OrderVersion | None]:
    """The order as read, and the version whose place it takes."""
    if session.get(Organisation, organisation_id) is None:
        raise NotFoundError("There is no such organisation.")
    viewer.require(Right.DECIDE, organisation_id, what="organisation")
    order = read_order(texts, viewer.name)
    latest = _latest(session, organisation_id, order.key)
    if latest is None and version == 0:
        return order, None
    if version == 0 or latest is None:
        message = "There is an order of this key already: write a further version of it."
        if latest is None:
            message = "An order keeps its key in all its versions."
        raise InputError([Problem(message, column="key", value=order.key)])
    stored = own_order_of(latest)
    if latest.version != version:
        raise StaleError(write_order(stored), latest.version)
    if (stored.title, stored.steps) == (order.title, order.steps):
        raise InputError("This is what the latest version says already.")
    return order, latest


def _moves(session: Session, before: dict[int, int], after: dict[int, int], against: str) -> Moves:
    by = {zone_id: after[zone_id] - place for zone_id, place in before.items()}
    moved = sorted((zone_id for zone_id, far in by.items() if far), key=lambda key: by[key])
    up = [zone_id for zone_id in moved if by[zone_id] < 0]
    down = [zone_id for zone_id in reversed(moved) if by[zone_id] > 0]
    named = _named(session, [*up[:MOST_MOVES], *down[:MOST_MOVES]])

    def moves(ids: list[int]) -> tuple[Move, ...]:
        return tuple(Move(key, *named[key], before[key], after[key]) for key in ids[:MOST_MOVES])

    return Moves(against, len(up), len(down), len(by) - len(moved), moves(up), moves(down))


def _named(session: Session, zone_ids: list[int]) -> dict[int, tuple[str, str]]:
    found: dict[int, tuple[str, str]] = {}
    for batch in batches(zone_ids):
        query = sa.select(Zone.id, Building.ref, Zone.ref).join(Building).where(Zone.id.in_(batch))
        found |= {key: (building, zone) for key, building, zone in session.execute(query)}
    return found

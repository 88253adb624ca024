"""What the pages of orders show: the list, and one order with its steps and its versions."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy.orm import Session

from portfolio.db.orders import OrderVersion
from portfolio.domain.errors import NotFoundError
from portfolio.domain.priorities import GapOrder
from portfolio.domain.rights import Right
from portfolio.reference.loader import load_reference
from portfolio.services.orders.known import KnownOrder, known_orders, order_of, order_rows
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class VersionLine:
    """One version of an order: who wrote it, when and why, and its steps."""

    row: OrderVersion
    order: GapOrder


@dataclass(frozen=True, slots=True)
class OrderPage:
    """One order. `name` is what lists are asked for by it; a shipped order has no versions.
    `shown` is the version asked for, which may be an earlier one."""

    name: str
    order: GapOrder
    shown: VersionLine | None
    versions: tuple[VersionLine, ...]

    @property
    def is_latest(self) -> bool:
        return self.shown is None or self.shown.row.id == self.versions[0].row.id


def list_orders(session: Session, viewer: Viewer) -> tuple[KnownOrder, ...]:
    """Every order that the viewer may list gaps by."""
    return tuple(known_orders(session, viewer).values())


def shipped_page(key: str) -> OrderPage:
    """An order that the program ships. Raises NotFoundError."""
    order = load_reference().orders.get(key)
    if order is None:
        raise NotFoundError("There is no such order.")
    return OrderPage(key, order, None, ())


def order_page(session: Session, viewer: Viewer, order_id: int) -> OrderPage:
    """An organisation's order in one of its versions. Raises NotFoundError."""
    found = session.get(OrderVersion, order_id)
    if found is None:
        raise NotFoundError("There is no such order.")
    viewer.require(Right.READ, found.organisation_id, what="order")
    which = OrderVersion.organisation_id == found.organisation_id, OrderVersion.key == found.key
    rows = order_rows(session, *which)
    versions = tuple(VersionLine(row, order_of(row)) for row in reversed(list(rows)))
    shown = next(line for line in versions if line.row.id == order_id)
    name = next(
        known.name
        for known in known_orders(session, viewer).values()
        if known.row is not None and known.row.id == versions[0].row.id
    )
    return OrderPage(name, shown.order, shown, versions)


def orders_on(session: Session, viewer: Viewer, day: date) -> tuple[VersionLine, ...]:
    """The versions of the viewer's own orders that were the latest at the end of a day."""
    latest: dict[tuple[int, str], OrderVersion] = {}
    which = viewer.only(OrderVersion.organisation_id), OrderVersion.recorded_on <= day
    for row in order_rows(session, *which):
        latest[row.organisation_id, row.key] = row
    return tuple(VersionLine(row, order_of(row)) for row in latest.values())

"""The orders that a viewer may list gaps by: the shipped ones and those of the organisation."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import sqlalchemy as sa
from sqlalchemy.orm import Session, joinedload

from portfolio.db.orders import OrderVersion
from portfolio.domain.errors import InputError, Problem
from portfolio.domain.own_orders import OwnOrder, OwnStep, as_order
from portfolio.domain.priorities import GapOrder
from portfolio.reference.loader import HOUSE, load_reference
from portfolio.services.viewer import Viewer


@dataclass(frozen=True, slots=True)
class KnownOrder:
    """An order under the name that addresses and commands use. `row` is its latest version where
    an organisation wrote it; a shipped order has none."""

    name: str
    order: GapOrder
    row: OrderVersion | None = None

    @property
    def is_house(self) -> bool:
        return self.name == HOUSE


def known_orders(session: Session, viewer: Viewer) -> dict[str, KnownOrder]:
    """By name, the house order first, then the published ones, then the organisation's own."""
    shipped = {key: KnownOrder(key, order) for key, order in load_reference().orders.items()}
    latest: dict[str, KnownOrder] = {}
    for row in order_rows(session, viewer.only(OrderVersion.organisation_id)):
        # whoever sees all organisations' orders has to tell them apart
        name = row.key if viewer.organisation_id else f"{row.organisation.ref}/{row.key}"
        latest[name] = KnownOrder(name, order_of(row), row)
    return shipped | latest


def order_named(session: Session, viewer: Viewer, name: str) -> KnownOrder:
    """The order of that name; the house order for no name. Raises InputError."""
    if name in ("", HOUSE):
        return KnownOrder(HOUSE, load_reference().order)
    known = known_orders(session, viewer)
    if name not in known:
        problem = Problem("There is no such order.", f"one of {', '.join(known)}", value=name[:60])
        raise InputError([problem])
    return known[name]


def order_rows(session: Session, *which: sa.ColumnElement[bool]) -> Iterable[OrderVersion]:
    """Versions by organisation, key and number."""
    order = OrderVersion.organisation_id, OrderVersion.key, OrderVersion.version
    query = sa.select(OrderVersion).options(joinedload(OrderVersion.organisation)).where(*which)
    return session.scalars(query.order_by(*order))


def order_of(row: OrderVersion) -> GapOrder:
    """A stored version as gaps are placed by it."""
    return as_order(own_order_of(row), str(row.version), load_reference().order)


def own_order_of(row: OrderVersion) -> OwnOrder:
    """A stored version as it was written."""
    steps = (
        OwnStep(
            said["criterion"],
            tuple(tuple(group) for group in said["groups"]),
            tuple(said["limits"]),
        )
        for said in row.steps
    )
    return OwnOrder(row.key, row.title, tuple(steps), row.author, row.reason)

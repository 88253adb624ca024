"""Addresses at which a calendar program subscribes to the days of works.

An address is a random token, shown once and kept as its hash. It opens no more than its person, or
its organisation, may read on the day when it is asked for, and nothing once it is withdrawn.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.changelog import Entry, record
from portfolio.db.models import Organisation
from portfolio.db.people import Person
from portfolio.db.works import CalendarLink
from portfolio.domain.calendars import CalendarEvent, calendar_text
from portfolio.domain.errors import ForbiddenError, InputError, NotFoundError
from portfolio.domain.rights import Right
from portfolio.services.accounts import passwords
from portfolio.services.accounts.access import viewer_for, viewer_of_organisation
from portfolio.services.viewer import Viewer
from portfolio.services.works.due import Due, due

NO_CALENDAR = "There is no such calendar."
_SUBJECT = "calendar link"
_NOTE = (
    "A date of works. It says nothing of coverage or safety; interim measures and the fire service "
    "come first where people may be at risk."
)


@dataclass(frozen=True, slots=True)
class LinkLine:
    """An address as it is listed; never the token. `may_withdraw`: by whoever looks."""

    id: int
    is_of_organisation: bool
    made_by: str
    made_on: date


def links(session: Session, viewer: Viewer) -> Sequence[LinkLine]:
    """One's own addresses; to administrators also the organisation's, and those of its people."""
    kept = CalendarLink
    query = sa.select(kept).where(
        kept.organisation_id == viewer.organisation_id, kept.revoked_on.is_(None)
    )
    if Right.ADMINISTER not in viewer.rights:
        query = query.where(kept.person_id == viewer.person_id)
    return [
        LinkLine(row.id, row.person_id is None, row.made_by, row.made_on)
        for row in session.scalars(query.order_by(kept.id))
    ]


def make_link(session: Session, viewer: Viewer, today: date, *, for_organisation: bool) -> str:
    """The token of a new address. Raises ForbiddenError, and InputError where nobody signed in."""
    if viewer.organisation_id is None or viewer.person_id is None:
        raise InputError("Sign in to subscribe: an address belongs to somebody.")
    if for_organisation and Right.ADMINISTER not in viewer.rights:
        raise ForbiddenError("Your role does not let you make an address for the organisation.")
    token = passwords.new_token()
    row = CalendarLink(
        organisation_id=viewer.organisation_id,
        person_id=None if for_organisation else viewer.person_id,
        token_hash=passwords.token_hash(token),
        made_by=viewer.name,
        made_on=today,
    )
    session.add(row)
    session.flush()
    _log(session, viewer, row, "created")
    return token


def withdraw_link(session: Session, viewer: Viewer, link_id: int, today: date) -> None:
    """Let an address open nothing any more. Raises NotFoundError, ForbiddenError."""
    row = session.get(CalendarLink, link_id)
    if row is None or row.organisation_id != viewer.organisation_id or row.revoked_on is not None:
        raise NotFoundError(NO_CALENDAR)
    if Right.ADMINISTER not in viewer.rights and row.person_id != viewer.person_id:
        raise ForbiddenError("Your role does not let you withdraw this address.")
    row.revoked_on = today
    _log(session, viewer, row, "withdrawn")


def calendar_of(session: Session, token: str, today: date, now: datetime) -> str:
    """The calendar of an address. Raises NotFoundError for any that is not good, all alike."""
    query = sa.select(CalendarLink).where(
        CalendarLink.token_hash == passwords.token_hash(token), CalendarLink.revoked_on.is_(None)
    )
    row = session.scalar(query)
    if row is None:
        raise NotFoundError(NO_CALENDAR)
    viewer = _viewer(session, row, today)
    return calendar_text("Works on façades", [_event(one) for one in due(session, viewer)], now)


def _viewer(session: Session, row: CalendarLink, today: date) -> Viewer:
    if row.person_id is None:
        organisation = session.get_one(Organisation, row.organisation_id)
        return viewer_of_organisation(session, organisation, today)
    person = session.get(Person, row.person_id)
    if person is None or not person.is_active:
        raise NotFoundError(NO_CALENDAR)
    return viewer_for(session, person, today)


def _event(one: Due) -> CalendarEvent:
    could = "" if one.is_sure else " (could apply)"
    place = " ".join(filter(None, (one.building_ref, one.building_name)))
    told = f"{one.what}\n{_NOTE}" if one.what else _NOTE
    summary = f"{one.kind.label}{could}: {place}, works {one.works_ref}"
    return CalendarEvent(f"{one.uid}-{one.kind.value}", one.on, summary, told)


def _log(session: Session, viewer: Viewer, row: CalendarLink, action: str) -> None:
    of = "the organisation" if row.person_id is None else "one person"
    entry = Entry(action, _SUBJECT, row.id, f"calendar of {of}", row.organisation_id)
    record(session, viewer.actor, [entry])

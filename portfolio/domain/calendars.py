"""A calendar as text in the form of RFC 5545 (iCalendar): all-day events, escaped and folded."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

_LONGEST_LINE = 75
"""Octets of a line without its break (RFC 5545, 3.1)."""
_PRODUCT = "-//Portfolio tracker//Works//EN"


@dataclass(frozen=True, slots=True)
class CalendarEvent:
    """One all-day event. `uid` stays the same for as long as it is the same thing that is due."""

    uid: str
    on: date
    summary: str
    description: str = ""


def calendar_text(title: str, events: Iterable[CalendarEvent], now: datetime) -> str:
    """The whole calendar; `now` is stamped on every event, as the moment it was told."""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        f"PRODID:{_PRODUCT}",
        "CALSCALE:GREGORIAN",
        f"X-WR-CALNAME:{escaped(title)}",
    ]
    for event in events:
        lines += _event(event, now)
    lines.append("END:VCALENDAR")
    return "".join(part + "\r\n" for line in lines for part in folded(line))


def _event(event: CalendarEvent, now: datetime) -> list[str]:
    stamp = now.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    told = [
        "BEGIN:VEVENT",
        f"UID:{escaped(event.uid)}",
        f"DTSTAMP:{stamp}",
        f"DTSTART;VALUE=DATE:{event.on:%Y%m%d}",
        # the end of an all-day event is the day after (3.6.1)
        f"DTEND;VALUE=DATE:{event.on + timedelta(days=1):%Y%m%d}",
        f"SUMMARY:{escaped(event.summary)}",
    ]
    if event.description:
        told.append(f"DESCRIPTION:{escaped(event.description)}")
    # a day to remember takes up nobody's time
    return [*told, "TRANSP:TRANSPARENT", "END:VEVENT"]


def escaped(text: str) -> str:
    r"""A TEXT value (RFC 5545, 3.3.11): no control but a line break, which is written as "\n".

    >>> escaped("a;b, c\\d\ne")
    'a\\;b\\, c\\\\d\\ne'
    """
    plain = text.replace("\r\n", "\n").replace("\r", "\n")
    plain = "".join(c for c in plain if c == "\n" or (c >= " " and c != "\x7f"))
    for letter in ("\\", ";", ","):
        plain = plain.replace(letter, "\\" + letter)
    return plain.replace("\n", "\\n")


def folded(line: str) -> Iterator[str]:
    """A content line in parts of at most 75 octets, never within a character (3.1)."""
    part, size = "", 0
    for letter in line:
        octets = len(letter.encode())
        if size + octets > _LONGEST_LINE:
            yield part
            # the space that begins a further part is one of its octets
            part, size = " ", 1
        part += letter
        size += octets
    yield part

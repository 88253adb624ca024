"""What the address of a kept log asks for: another reading than the kept one, a part to draw."""

from __future__ import annotations

import math
from dataclasses import replace

from flask import request

from portfolio.domain.errors import InputError, Problem
from portfolio.services.classified_page import choices
from portfolio.services.drawn_part import DrawnPart
from portfolio.services.kept_logs import LogView
from portfolio.services.log_readings import ReadingFacts
from portfolio.web.filters import Query
from portfolio.web.form_fields import WHOLE, offered_texts
from portfolio.web.minutes import LATEST_MINUTE, minute_in

_MOST_CHANNELS = 200


def asked_view(opened: ReadingFacts) -> LogView:
    """The log as its address asks for it, over how it opens. Raises InputError."""
    query = Query()
    reading = _reading(query, opened)
    minute = _minute(query, "minute", earliest=0.0)
    first, last = _minute(query, "from"), _minute(query, "until")
    if first is not None and last is not None and last < first:
        message = "What is to be drawn ends before it begins."
        query.problems.append(Problem(message, f"a minute from {first:g} on", value=f"{last:g}"))
    query.read.add("channel")
    query.check()
    shown = frozenset(request.args.getlist("channel")[:_MOST_CHANNELS])
    part = DrawnPart(
        -math.inf if first is None else first, math.inf if last is None else last, shown
    )
    return LogView(reading, minute, part)


def address_of_reading(reading: ReadingFacts) -> dict[str, str | int]:
    """The query by which an address asks for this reading."""
    return {
        "ignition": reading.ignition,
        "annex": reading.class_annex,
        "edition": reading.test_edition,
        "channels": reading.channels or "",
        "observations": reading.observations or "",
    }


def _reading(query: Query, opened: ReadingFacts) -> ReadingFacts:
    """What is in the address counts, also where it is left empty; what is not stays as it was."""
    offer, given = choices(), request.args
    ignition, annex = query.text("ignition"), query.choice("annex", offer.annexes)
    edition = query.choice("edition", offered_texts(offer.test_editions))
    channels, observations = _number(query, "channels"), _number(query, "observations")
    found = opened
    if "annex" in given and annex != opened.class_annex:
        found = replace(found, class_document="", class_edition="", class_annex=annex)
    return replace(
        found,
        ignition=ignition if "ignition" in given else found.ignition,
        test_edition=edition if "edition" in given else found.test_edition,
        channels=channels if "channels" in given else found.channels,
        observations=observations if "observations" in given else found.observations,
    )


def _number(query: Query, name: str) -> int | None:
    text = query.text(name)
    if text and not WHOLE.fullmatch(text):
        query.problems.append(
            Problem("This is no document's number.", "as in the list of documents", value=text)
        )
        return None
    return int(text) if text else None


def _minute(query: Query, name: str, *, earliest: float = -LATEST_MINUTE) -> float | None:
    try:
        return minute_in(query.text(name), earliest=earliest)
    except InputError as error:
        query.problems += error.problems
        return None
